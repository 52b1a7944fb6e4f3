// Sends what waits, oldest first, one lane beside the other, again and again until the server has said what became of it.

import { inTurn } from "./turns.js";

const LANES = ["entry", "photo"];
const ANSWER_WITHIN_MS = { entry: 10_000, photo: 90_000 };
const EACH_MORE_MS = 500;
const FIRST_WAIT_MS = 150;
// Nobody asks while nothing waits, so this may be short: what waits is there soon after the network is.
const LONGEST_WAIT_MS = 1000;
const PATIENT_WAIT_MS = 15_000;
// An entry that the server stumbles over so often lets those behind it go first.
const STUMBLES = 4;
const NO_ANSWER = [400, 403, 404, 405, 410, 413];
// So many go together to an address that takes a list.
const TOGETHER = 20;
const OUTCOMES = { saved: "saved", conflict: "refused", refused: "refused" };

async function within(ms, ask) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ms);
  try {
    return await ask(stop.signal);
  } finally {
    clearTimeout(timer);
  }
}

// Whom the server takes this device for, and a token that is good now; undefined when it cannot be asked.
async function whoAmI(url) {
  const answer = await within(ANSWER_WITHIN_MS.entry, async (signal) => {
    const response = await fetch(url, { cache: "no-store", credentials: "same-origin", redirect: "manual", signal });
    return response.ok ? response.json() : undefined;
  });
  return answer?.token ? answer : undefined;
}

const fieldsOf = (item) => ({ counter: `${item.counter}`, ...item.fields });

function bodyOf(items) {
  const [item] = items;
  if (items.length > 1) return new URLSearchParams({ entries: JSON.stringify(items.map(fieldsOf)) });
  const hasFile = Object.values(item.fields).flat().some((value) => value instanceof Blob);
  const body = hasFile ? new FormData() : new URLSearchParams();
  for (const [name, value] of Object.entries(fieldsOf(item))) {
    for (const one of Array.isArray(value) ? value : [value]) {
      if (one instanceof Blob) body.append(name, one, one.name ?? name);
      else body.append(name, one);
    }
  }
  return body;
}

// Send one entry, or several that go together, and return what the server said of each, in their order: fewer than
// were sent where it broke off.
async function post(items, token) {
  const [{ url, together, lane, headers }] = items;
  return within(ANSWER_WITHIN_MS[lane] + EACH_MORE_MS * (items.length - 1), async (signal) => {
    const response = await fetch(items.length > 1 ? together : url, {
      method: "POST",
      body: bodyOf(items),
      headers: { "X-Entry": "1", "X-Sent": `${Date.now()}`, "X-CSRFToken": token, Accept: "application/json", ...headers },
      cache: "no-store",
      credentials: "same-origin",
      redirect: "manual",
      signal,
    });
    const isJson = response.headers.get("Content-Type")?.startsWith("application/json");
    const told = isJson ? await response.json() : {};
    return told.told ?? [{ ...told, status: response.status }];
  });
}

export class Sender {
  // `box` is told what becomes of the entries: settled([[item, state, told], …]), held(item, told).
  constructor(store, box, askAt) {
    Object.assign(this, { store, box, askAt, wait: {}, timer: {}, running: {}, again: {}, rested: Promise.resolve() });
    for (const lane of LANES) this.wait[lane] = FIRST_WAIT_MS;
    const now = () => this.hurry();
    addEventListener("online", now);
    addEventListener("focus", now);
    addEventListener("pageshow", now);
    document.addEventListener("visibilitychange", () => document.hidden || now());
  }

  hurry(lanes = LANES) {
    for (const lane of lanes) {
      this.wait[lane] = FIRST_WAIT_MS;
      this.#go(lane);
    }
  }

  // Leave page and device alone while a thumb is on its way, at most so long; 0 ends it.
  rest(forMs) {
    this.endRest?.();
    if (!forMs) return;
    this.rested = new Promise((done) => {
      const timer = setTimeout(done, forMs);
      this.endRest = () => {
        clearTimeout(timer);
        done();
      };
    });
  }

  async #go(lane) {
    clearTimeout(this.timer[lane]);
    if (this.running[lane]) {
      this.again[lane] = true;
      return;
    }
    this.running[lane] = true;
    let left = "try again";
    try {
      await this.rested;
      const waiting = await this.#waiting(lane);
      left = waiting.length === 0 ? "" : await inTurn(this.store, lane, () => this.#empty(lane));
    } catch {
      // The network, or the device's storage: both are tried again.
    }
    this.running[lane] = false;
    if (this.again[lane]) {
      this.again[lane] = false;
      return this.#go(lane);
    }
    if (!left) {
      this.wait[lane] = FIRST_WAIT_MS;
      return;
    }
    const patient = document.hidden || left === "not ours";
    if (patient) this.wait[lane] = PATIENT_WAIT_MS;
    // Tablets that lost the server together must not all come back in the same instant.
    const pause = this.wait[lane] * (0.8 + 0.4 * Math.random());
    this.wait[lane] = Math.min(LONGEST_WAIT_MS, this.wait[lane] * 2);
    this.timer[lane] = setTimeout(() => this.#go(lane), pause);
  }

  async #waiting(lane) {
    const all = await this.store.all();
    return all.filter((item) => item.lane === lane && item.state === "waiting");
  }

  // Send until nothing waits, and say what is left: "", "try again", or "not ours" (another team's).
  async #empty(lane) {
    const me = await whoAmI(this.askAt).catch(() => undefined);
    this.box.reached(me);
    if (!me) return "try again";
    const passed = new Set();
    for (;;) {
      await this.rested;
      const waiting = await this.#waiting(lane);
      const items = this.#next(waiting, passed, me);
      if (!items.length) return passed.size ? "try again" : waiting.length ? "not ours" : "";
      const answers = await this.#send(items, me.token);
      await this.rested;
      const told = answers.map((answer, place) => [items[place], answer]);
      const isSettled = ([, answer]) => answer.status === 200 && answer.outcome in OUTCOMES;
      await this.box.settled(told.filter(isSettled).map(([item, answer]) => [item, OUTCOMES[answer.outcome], answer]));
      let isStuck = !told.length;
      for (const [item, { status, reason = "" }] of told.filter((one) => !isSettled(one))) {
        passed.add(item.id);
        const stumbles = (item.stumbles ?? 0) + (status >= 500 || NO_ANSWER.includes(status) ? 1 : 0);
        await this.box.held(item, { status, reason, stumbles });
        isStuck ||= stumbles < STUMBLES;
      }
      if (isStuck) return "try again";
    }
  }

  // What goes next: the oldest, with those behind it that may go along; what belongs to one that waits, never before it.
  #next(waiting, passed, me) {
    const ids = new Set(waiting.map((item) => item.id));
    const mine = waiting.filter((item) => !passed.has(item.id) && this.#mayGo(item, me));
    const isWell = (item) => (item.stumbles ?? 0) < STUMBLES;
    const free = mine.filter((item) => !ids.has(item.after));
    const first = free.find(isWell) ?? free[0];
    if (!first) return [];
    const items = [first];
    if (!first.together || !isWell(first)) return items;
    for (const item of mine.slice(mine.indexOf(first) + 1)) {
      const belongs = !ids.has(item.after) || items.some((one) => one.id === item.after);
      if (items.length === TOGETHER || item.together !== first.together || !isWell(item) || !belongs) break;
      items.push(item);
    }
    return items;
  }

  async #send(items, token) {
    try {
      return await post(items, token);
    } catch (error) {
      await this.box.held(items[0], { status: 0, reason: "", stumbles: items[0].stumbles ?? 0 });
      throw error;
    }
  }

  // What another team typed on this tablet waits for that team; what another installation's page took goes out,
  // for the server to put aside.
  #mayGo(item, me) {
    return item.installation !== me.installation || !item.sender || me.senders?.includes(item.sender);
  }
}
