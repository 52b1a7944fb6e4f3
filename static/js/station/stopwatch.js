// One button as a stopwatch: the first touch starts it, the second stops it, a bounce of the thumb is neither.

export const DEAD_TIME_MS = 300;
// A press that a screen reader makes comes as a click alone, without a touch or a key before it.
const CLICK_FOLLOWS_MS = 700;

// The moment of a touch by the page's own steady clock, never by the wall clock; that of a slow page's click, too.
export function momentOf(event) {
  const now = performance.now();
  const stamp = event.timeStamp;
  return stamp > 0 && stamp <= now + 1 && now - stamp < 5000 ? stamp : now;
}

export class Stopwatch {
  #started = null;
  #lastTouch = -Infinity;

  // `onStart(moment)` and `onStop({hundredths, moment})` are called as the thumb comes down.
  constructor(button, { onStart, onStop }) {
    Object.assign(this, { onStart, onStop });
    button.addEventListener("pointerdown", (event) => {
      if (event.isPrimary && event.button === 0) this.#touch(momentOf(event));
    });
    button.addEventListener("keydown", (event) => {
      if (event.repeat || (event.key !== "Enter" && event.key !== " ")) return;
      event.preventDefault();
      this.#touch(momentOf(event));
    });
    button.addEventListener("click", (event) => {
      const moment = momentOf(event);
      if (moment - this.#lastTouch > CLICK_FOLLOWS_MS) this.#touch(moment);
    });
    // A thumb that lingers makes its click only as it lifts, on whatever stands there by then: a touch makes none.
    button.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
    // A long press must not open a menu over the button.
    button.addEventListener("contextmenu", (event) => event.preventDefault());
  }

  get running() {
    return this.#started !== null;
  }

  cancel() {
    this.#started = null;
  }

  #touch(moment) {
    this.#lastTouch = moment;
    if (this.#started === null) {
      this.#started = moment;
      this.onStart(moment);
      return;
    }
    const passed = moment - this.#started;
    if (passed < DEAD_TIME_MS) return;
    this.#started = null;
    this.onStop({ hundredths: Math.round(passed / 10), moment });
  }
}
