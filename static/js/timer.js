// Counts a discussion down by the server's clock, whatever this machine's own clock says.

import { announce } from "./page.js";

const MINUTE_MS = 60_000;
const clocks = new WeakMap();

function clockOf(element) {
  if (!clocks.has(element)) {
    clocks.set(element, { ahead: Number(element.dataset.now) - Date.now(), before: Infinity });
  }
  return clocks.get(element);
}

function show(element) {
  const clock = clockOf(element);
  const left = Math.max(0, Number(element.dataset.endsAt) - (Date.now() + clock.ahead));
  const seconds = Math.ceil(left / 1000);
  const text = seconds ? `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}` : element.dataset.sayOver;
  if (element.textContent !== text) element.textContent = text;
  element.classList.toggle("timer-over", seconds === 0);
  // Only a passing of the mark is told, not a page that opens behind it.
  if (clock.before !== Infinity) {
    if (left <= MINUTE_MS && clock.before > MINUTE_MS) announce(element.dataset.sayMinute);
    if (left === 0 && clock.before > 0) announce(element.dataset.sayOver);
  }
  clock.before = left;
}

function showAll() {
  for (const element of document.querySelectorAll(".timer[data-ends-at]")) show(element);
}

setInterval(showAll, 250);
document.addEventListener("htmx:afterSwap", showAll);
showAll();
