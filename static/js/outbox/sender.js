// Sends what waits, oldest first, one lane beside the other, again and again until the server has said what became of it.

import { inTurn } from "./turns.js";

const LANES = ["entry", "photo"];
const ANSWER_WITHIN_MS = { entry: 10_000, photo: 90_000 };
const FIRST_WAIT_MS = 300;
const LONGEST_WAIT_MS = 2500;
const PATIENT_WAIT_MS = 15_000;
// An entry that the server stumbles over so often lets those behind it go first.
const STUMBLES = 4;
const NO_ANSWER = [400, 404, 405, 410, 413];
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

function bodyOf(item) {
  const hasFile = Object.values(item.fields).flat().some((value) => value instanceof Blob);
  const body = hasFile ? new FormData() : new URLSearchParams();
  body.append("counter", item.counter);
  for (const [name, value] of Object.entries(item.fields)) {
    for (const one of Array.isArray(value) ? value : [value]) {
      if (one instanceof Blob) body.append(name, one, one.name ?? name);
      else body.append(name, one);
    }
  }
  return body;
}

async function post(item, token) {
  return within(ANSWER_WITHIN_MS[item.lane], async (signal) => {
    const response = await fetch(item.url, {
      method: "POST",
      body: bodyOf(item),
      headers: { "X-Entry": "1", "X-Sent": `${Date.now()}`, "X-CSRFToken": token, Accept: "application/json", ...item.headers },
      cache: "no-store",
      credentials: "same-origin",
      redirect: "manual",
      signal,
    });
    const isJson = response.headers.get("Content-Type")?.startsWith("application/json");
    return { status: response.status, told: isJson ? await response.json() : {} };
  });
}

export class Sender {
  // `box` is told what becomes of each entry: sending(item), settled(item, told), held(item, told, status).
  constructor(store, box, askAt) {
    Object.assign(this, { store, box, askAt, wait: {}, timer: {}, running: {}, again: {} });
    for (const lane of LANES) this.wait[lane] = FIRST_WAIT_MS;
    const now = () => this.hurry();
    addEventListener("online", now);
    addEventListener("focus", now);
    addEventListener("pageshow", now);
    document.addEventListener("visibilitychange", () => document.hidden || now());
  }

  hurry() {
    for (const lane of LANES) {
      this.wait[lane] = FIRST_WAIT_MS;
      this.#go(lane);
    }
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
    return all.filter((item) => item.lane === lane && (item.state === "waiting" || item.state === "sending"));
  }

  // Send until nothing waits, and say what is left: "", "try again", or "not ours" (another team's).
  async #empty(lane) {
    const me = await whoAmI(this.askAt).catch(() => undefined);
    this.box.reached(me);
    if (!me) return "try again";
    const passed = new Set();
    for (;;) {
      const waiting = (await this.#waiting(lane)).filter((item) => !passed.has(item.id));
      const mine = waiting.filter((item) => this.#mayGo(item, me));
      const next = mine.find((item) => (item.stumbles ?? 0) < STUMBLES) ?? mine[0];
      if (!next) return passed.size ? "try again" : waiting.length ? "not ours" : "";
      passed.add(next.id);
      const { status, told } = await this.#send(next, me.token);
      if (status === 200 && OUTCOMES[told.outcome]) {
        passed.delete(next.id);
        await this.box.settled(next, OUTCOMES[told.outcome], told);
        continue;
      }
      const stumbles = (next.stumbles ?? 0) + (status >= 500 || NO_ANSWER.includes(status) ? 1 : 0);
      await this.box.held(next, { status, reason: told.reason ?? "", stumbles });
      if (stumbles < STUMBLES) return "try again";
    }
  }

  async #send(item, token) {
    this.box.sending(item);
    try {
      return await post(item, token);
    } catch (error) {
      await this.box.held(item, { status: 0, reason: "", stumbles: item.stumbles ?? 0 });
      throw error;
    }
  }

  // What another team typed on this tablet waits for that team; what another installation's page took goes out,
  // for the server to put aside.
  #mayGo(item, me) {
    return item.installation !== me.installation || !item.sender || me.senders?.includes(item.sender);
  }
}
