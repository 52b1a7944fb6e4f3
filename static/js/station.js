// The timing station: a queue of teams, one large button, and every time on this phone before anything else happens.

import { openOutbox } from "./outbox.js";
import { openWithoutNetwork } from "./outbox/offline.js";
import { stayAwake } from "./station/awake.js";
import { countDown } from "./station/countdown.js";
import { hundredthsOf, queueOf, secondsOf, timeThatCounts } from "./station/queue.js";
import { listReadings } from "./station/readings.js";
import { Screens } from "./station/screens.js";
import { Stopwatch, momentOf } from "./station/stopwatch.js";

const POLL_MS = 1000;
const ASK_WITHIN_MS = 6000;
// A thumb that bounces on Stop answers nothing: the question stands where the button stood.
const DEAF_MS = 350;
const LOOK_AGAIN_MS = 60;
// Longer than any fall: a watch that somebody forgot holds up nothing for ever.
const REST_MS = 30_000;
const KEPT = "station-state";

const root = document.getElementById("station");
const at = (id) => document.getElementById(id);
const say = at("says").dataset;
const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_all, name) => values[name] ?? "");

class Station {
  constructor(outbox) {
    this.outbox = outbox;
    this.items = [];
    this.state = newer(JSON.parse(root.dataset.state), keptState());
    this.live = root.dataset.live === "yes";
    this.screens = new Screens(document, (name) => this.#opened(name));
    this.watch = new Stopwatch(at("watch"), {
      onStart: () => this.#started(),
      onStop: (stop) => this.#stopped(stop),
    });
    this.deafUntil = 0;
    this.#listen();
  }

  async begin() {
    await this.#readItems();
    this.reading = this.#uncalled();
    this.#draw();
    if (this.reading) this.screens.show("call");
    setInterval(() => this.#poll(), POLL_MS);
    this.outbox.addEventListener("change", () => this.#changed());
    this.outbox.addEventListener("saved", () => this.#poll());
    addEventListener("online", () => this.#poll());
  }

  // ---- what is on this phone, and what is saved ----

  async #readItems() {
    this.asked = (this.asked ?? 0) + 1;
    const mine = this.asked;
    const all = await this.outbox.items();
    // An answer that was overtaken by a newer one says nothing any more.
    if (mine !== this.asked) return;
    this.items = all.filter((item) => item.url === root.dataset.entry);
  }

  // Many changes at once are looked at once, and none while a thumb is on its way: the next touch goes first.
  #changed() {
    this.soon ??= setTimeout(() => {
      this.soon = undefined;
      if (this.watch.running || this.keeping) return this.#changed();
      this.#lookAgain();
    }, LOOK_AGAIN_MS);
  }

  async #lookAgain() {
    await this.#readItems();
    this.#showSafe();
    if (!this.watch.running && this.screens.name === "readings") listReadings(at("readings"), this.items);
    if (!this.watch.running && ["turn", "nobody", "queue", "stopped"].includes(this.screens.name)) this.#draw();
  }

  #showSafe(justKept = 0) {
    const place = at("safe");
    const waiting = Math.max(justKept, this.items.filter((item) => item.state === "waiting").length);
    const refused = this.items.filter((item) => item.state === "refused").length;
    place.hidden = false;
    place.classList.toggle("st-waiting", waiting > 0);
    const words = waiting ? place.dataset.sayWaiting : place.dataset.saySaved;
    const more = [];
    if (waiting) more.push(fill(place.dataset.sayCount, { n: waiting }));
    if (refused) more.push(fill(place.dataset.sayRefused, { n: refused }));
    const text = `${words}${more.length ? ` (${more.join("; ")})` : ""}`;
    if (place.textContent !== text) place.textContent = text;
  }

  // Write an entry on this phone; only then does anything else happen.
  async #keep(fields, label) {
    const common = { challenge: String(this.state.challenge), station: root.dataset.ticket };
    const kept = await this.outbox.put({
      lane: "entry", url: root.dataset.entry, together: root.dataset.entries, after: fields.of, fields: { ...common, ...fields }, label,
    });
    // Known at once, so that the queue goes on before the outbox is read again.
    if (!this.items.some((item) => item.id === kept.id)) {
      this.items.push({
        id: kept.id, counter: kept.counter, url: root.dataset.entry, label, state: "waiting",
        fields: { ...common, ...fields },
      });
    }
    return kept;
  }

  // ---- the queue ----

  #draw() {
    this.queue = queueOf(this.state, this.items);
    const turn = this.#turn();
    this.turn = turn;
    at("team").textContent = turn ? turn.name : say.sayNobody;
    at("drop").textContent = turn ? this.#dropWords(turn) : "";
    const following = this.queue.turns.slice(turn?.reference ? 0 : 1, turn?.reference ? 2 : 3);
    at("then").textContent = following.length
      ? fill(say.sayThen, { teams: following.map((team) => team.name).join(", ") }) : "";
    at("no-reference").hidden = !turn?.reference;
    at("skip").hidden = Boolean(turn?.reference);
    at("broke").hidden = Boolean(turn?.reference);
    if (["turn", "nobody", "stopped"].includes(this.screens.name)) this.screens.show(this.#home(), { quiet: true });
    if (this.screens.name === "queue") this.#drawQueue();
    if (!this.live) at("watch").disabled = true;
    this.#showSafe();
  }

  #turn() {
    const { queue } = this;
    if (queue.referenceDue) {
      return { reference: true, name: say.sayReference, trial: queue.reference + 1, attempt: 1, wanted: 3, round: 0 };
    }
    return queue.turns[0];
  }

  #home() {
    if (!this.queue.open) return "stopped";
    return this.turn ? "turn" : "nobody";
  }

  #dropWords(turn) {
    const drop = fill(say.sayDrop, turn);
    const again = turn.attempt > 1 ? ` · ${say.sayAgain}` : "";
    return turn.round > 1 ? `${fill(say.sayRound, turn)} · ${drop}${again}` : `${drop}${again}`;
  }

  #drawQueue() {
    const list = at("queue");
    const words = list.dataset;
    const line = (team, tail) => {
      const item = document.createElement("li");
      const name = document.createElement("strong");
      name.textContent = team.name;
      item.append(name, ` ${tail}`);
      return item;
    };
    const callable = (team) => {
      const skipped = this.queue.skipped.has(team.id) ? ` · ${words.saySkipped}` : "";
      const item = line(team, `${fill(words.sayDrop, team)}${skipped}`);
      const button = document.createElement("button");
      Object.assign(button, { type: "button", className: "button button-small", textContent: words.sayCall });
      button.addEventListener("click", () => this.#move("call", team));
      item.append(button);
      return item;
    };
    list.replaceChildren(...this.queue.turns.map(callable));
    at("building").replaceChildren(...this.queue.building.map((team) => line(team, "")));
    at("done").replaceChildren(...this.queue.done.map((team) => line(team, "")));
    at("building-title").hidden = !this.queue.building.length;
    at("done-title").hidden = !this.queue.done.length;
  }

  async #move(move, team) {
    const about = team ? { team: String(team.id), round: String(team.round), trial: String(team.trial) } : {};
    await this.#keep({ do: "move", move, ...about }, move);
    this.screens.name = "turn";
    this.#draw();
  }

  // ---- one drop ----

  #started() {
    this.outbox.rest(REST_MS);
    this.stopCounting?.();
    stayAwake();
    this.#watchWords(true);
  }

  #watchWords(running) {
    const button = at("watch");
    const words = button.dataset;
    button.classList.toggle("st-falling", running);
    button.querySelector("strong").textContent = running ? words.sayStop : words.sayStart;
    button.querySelector("small").textContent = running ? words.sayStopHint : words.sayStartHint;
    for (const row of root.querySelectorAll("[data-when]")) row.hidden = (row.dataset.when === "falling") !== running;
  }

  async #stopped({ hundredths, moment }) {
    const { turn } = this;
    const place = turn.reference
      ? { team: "reference", team_name: turn.name, trial: String(turn.trial), attempt: "1" }
      : { team: String(turn.id), team_name: turn.name, round: String(turn.round), trial: String(turn.trial),
          attempt: String(turn.attempt) };
    performance.mark("second-touch", { startTime: moment });
    this.keeping = true;
    let kept;
    try {
      kept = await this.#keep(
        { do: "reading", ...place, hundredths: String(hundredths), how: "thumb" }, `${turn.name} ${turn.trial}`);
    } catch {
      // The phone keeps nothing any more: the time must not be lost, so it is shown to be written down.
      this.reading = { place, turn, hundredths, times: [hundredths] };
      this.#showTime(say.sayKeptNot);
      return;
    } finally {
      this.keeping = false;
      this.outbox.rest(0);
    }
    this.#showSafe(1);
    performance.mark("on-this-tablet");
    this.deafUntil = performance.now() + DEAF_MS;
    this.reading = { id: kept.id, place, turn, hundredths, times: [hundredths] };
    this.#watchWords(false);
    this.screens.show("call");
    at("call-title").focus();
  }

  async #call(call, moment) {
    const { reading } = this;
    if (!reading || moment < this.deafUntil) return;
    await this.#keep({ do: "call", of: reading.id, call, ...reading.place }, call);
    this.#showTime(say[`say${call[0].toUpperCase()}${call.slice(1)}`]);
  }

  #showTime(words) {
    this.reading.shown = true;
    this.#watchWords(false);
    at("time").textContent = secondsOf(this.reading.hundredths);
    at("called").textContent = words;
    at("others").hidden = this.reading.place.team === "reference" || !this.reading.id;
    at("others").reset();
    at("others").querySelector("details").open = false;
    at("others-error").textContent = "";
    this.screens.show("shown");
    at("next").focus();
  }

  async #others(event) {
    event.preventDefault();
    event.stopPropagation();
    const { reading } = this;
    const typed = ["other-1", "other-2"].map((id) => at(id).value.trim()).filter(Boolean);
    const times = typed.map(hundredthsOf);
    at("others-error").textContent = times.includes(null) || !times.length ? at("others-error").dataset.say : "";
    if (times.includes(null) || !times.length) return at("other-1").focus();
    for (const hundredths of times) {
      await this.#keep({ do: "watch", of: reading.id, hundredths: String(hundredths), ...reading.place }, "watch");
      reading.times.push(hundredths);
    }
    const together = { n: reading.times.length, times: reading.times.map(secondsOf).join(", ") };
    at("time").textContent = secondsOf(timeThatCounts(reading.times));
    at("called").textContent = fill(say.sayTogether, together);
    at("others").hidden = true;
    this.#showSafe();
    at("next").focus();
  }

  // A time whose call was cut off, by a reload or a flat battery: it is asked for again, the time unseen.
  #uncalled() {
    const called = new Set(this.items.filter((item) => item.fields.do === "call").map((item) => item.fields.of));
    const last = this.items.filter((item) => item.fields.do === "reading" && item.fields.how === "thumb").at(-1);
    if (!last || called.has(last.id) || last.state === "refused") return null;
    const { team, team_name, round, trial, attempt, hundredths } = last.fields;
    const place = { team, team_name, trial, attempt, ...(round ? { round } : {}) };
    return { id: last.id, place, hundredths: Number(hundredths), times: [Number(hundredths)] };
  }

  async #broke(outcome) {
    const team = this.turn;
    await this.#keep({ do: "broke", team: String(team.id), round: String(team.round), outcome }, "broke");
    this.screens.name = "turn";
    this.#draw();
  }

  // ---- typed times ----

  async #typed(event) {
    event.preventDefault();
    event.stopPropagation();
    const form = event.target;
    const fields = Object.fromEntries(new FormData(form));
    delete fields.csrfmiddlewaretoken;
    delete fields.entry_id;
    const unread = ["time", "second", "third"].find((name) => (fields[name] || name === "time") && hundredthsOf(fields[name]) === null);
    at("typed-error").textContent = unread ? at("typed-error").dataset.say : "";
    if (unread) return form.elements[unread].focus();
    const place = form.elements.place;
    const team_name = place.selectedOptions[0]?.textContent ?? "";
    await this.#keep({ ...fields, team_name }, team_name);
    form.reset();
    this.screens.name = "turn";
    this.#draw();
  }

  // The drops that may be chosen are those of the queue as it is now on this phone.
  #offerPlaces() {
    const select = document.querySelector("#typed-form [name=place]");
    const option = (value, text) => Object.assign(document.createElement("option"), { value, textContent: text });
    const options = [...this.queue.turns, ...this.queue.building].map((team) =>
      option(`${team.id}-${team.round}-${team.trial}-${team.attempt}`,
        `${team.name}, ${fill(say.sayRound, team)}, ${fill(say.sayDrop, team)}`));
    if (this.queue.referenceDue) options.unshift(option("reference", say.sayReference));
    select.replaceChildren(...options);
  }

  // ---- the page ----

  #opened(name) {
    if (name === "readings") listReadings(at("readings"), this.items, this.outbox);
    if (name === "queue") this.#drawQueue();
    if (name === "typed") this.#offerPlaces();
  }

  #listen() {
    const click = (id, act) => at(id).addEventListener("click", act);
    this.#watchWords(false);
    click("skip", () => this.#move("skip", this.turn));
    for (const button of root.querySelectorAll("[data-stop]")) {
      button.addEventListener("click", () => {
        if (this.reading?.shown) this.reading = null;
        this.#move("stop");
      });
    }
    click("go-on", () => this.#move("start"));
    click("no-reference", () => this.#move("noref"));
    click("false-start", () => {
      this.watch.cancel();
      this.outbox.rest(0);
      this.#watchWords(false);
    });
    click("next", () => {
      this.reading = null;
      this.screens.name = "turn";
      this.#draw();
      at("watch").focus({ preventScroll: true });
    });
    click("count-down", () => {
      stayAwake();
      this.stopCounting?.();
      const words = at("count-down").dataset.say.split("|");
      this.stopCounting = countDown(words, (word) => {
        at("count").textContent = word;
        at("count").hidden = !word;
      });
    });
    at("others").addEventListener("submit", (event) => this.#others(event));
    at("typed-form").addEventListener("submit", (event) => this.#typed(event));
    document.addEventListener("click", (event) => {
      const button = event.target.closest?.("[data-go], [data-call], [data-broke]");
      if (!button || this.watch.running) return;
      if (button.dataset.call) return this.#call(button.dataset.call, momentOf(event));
      if (button.dataset.broke) return this.#broke(button.dataset.broke);
      const wanted = button.dataset.go;
      // A time whose call is missing comes first, wherever somebody went meanwhile.
      if (wanted === "turn" && this.reading) return this.screens.show(this.reading.shown ? "shown" : "call");
      this.screens.show(wanted === "turn" ? this.#home() : wanted);
    });
  }

  async #poll() {
    if (document.hidden || this.watch.running || this.asking) return;
    this.asking = true;
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), ASK_WITHIN_MS);
    try {
      const known = `${this.state.revision}-${Number(this.live)}`;
      const answer = await fetch(`${root.dataset.queue}?revision=${known}`, {
        cache: "no-store", credentials: "same-origin", signal: stop.signal,
      });
      if (answer.status === 200) this.#takeState(await answer.json());
      this.#reached(true);
    } catch {
      this.#reached(false);
    } finally {
      clearTimeout(timer);
      this.asking = false;
    }
  }

  // No network is no reason to stop: the page says so and goes on with what it has.
  #reached(answered) {
    // The outbox waits longer and longer between its tries; this page has just seen that it need not.
    if (answered && this.lost) this.outbox.sendNow();
    this.lost = !answered;
    const place = at("network");
    const words = answered ? (this.live ? "" : say.sayOver) : say.sayLost;
    if (place.textContent !== words) place.textContent = words;
  }

  #takeState(state) {
    this.state = state;
    this.live = state.live;
    try {
      localStorage.setItem(KEPT, JSON.stringify({ installation: installation(), state }));
    } catch {
      // Full or switched off: the page's own state does until it is closed.
    }
    if (this.watch.running) return;
    if (["turn", "nobody", "queue", "stopped"].includes(this.screens.name)) this.#draw();
  }
}

const installation = () => document.querySelector('meta[name="installation"]')?.content ?? "";

// The state that this phone heard last: newer than the page where the page comes from the phone's own store.
function keptState() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEPT));
    return kept?.installation === installation() ? kept.state : null;
  } catch {
    return null;
  }
}

function newer(page, kept) {
  return kept && kept.challenge === page.challenge && kept.revision > page.revision ? kept : page;
}

try {
  const outbox = await openOutbox();
  new Station(outbox).begin();
  openWithoutNetwork(root.dataset.worker, root.dataset.page).then((kept) => {
    root.dataset.opensOffline = kept ? "yes" : "no";
  });
} catch {
  // A browser that keeps nothing: the plain form stays, and says so.
  at("typed-error").textContent = say.sayKeptNot;
}
