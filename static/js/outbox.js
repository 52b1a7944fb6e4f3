// The outbox: what was typed is written on the device first, then sent until the server has it. See openOutbox().

import { Sender } from "./outbox/sender.js";
import { Store, makeId } from "./outbox/store.js";

const CHANNEL = "second-build-outbox";
const NEVER_STORED = ["csrfmiddlewaretoken"];
const PRUNE_AFTER_MS = 5000;

const named = (name) => document.querySelector(`meta[name="${name}"]`)?.content ?? "";

function shown(entry) {
  const { id, counter, url, fields, label, text = "", lane, state, storedAt, installation, sender = "" } = entry;
  const { reason = "", outcome = "", answer = "", handedOver = false } = entry;
  return {
    id, counter, url, fields, label, text, lane, state, storedAt, installation, sender,
    reason, outcome, answer, handedOver,
  };
}

export class Outbox extends EventTarget {
  #store;
  #sender;
  #channel;
  // What was written since somebody began to read the store: nobody may be told that nothing waits.
  #fresh = new Map();
  #read;
  // Whether the server answered when it was asked last; undefined before that.
  reachable;

  constructor(store) {
    super();
    this.#store = store;
    this.#sender = new Sender(store, this.#hears(), named("entries") || "/entries/");
    if ("BroadcastChannel" in window) {
      this.#channel = new BroadcastChannel(CHANNEL);
      this.#channel.onmessage = ({ data }) => this.#heard(data);
    }
    this.#sender.hurry();
  }

  // Write an entry: fields are texts, files, or lists of these. Resolves when the device has it ("on this tablet").
  // `text` is what was typed, in the form's own words, for whoever must copy it onto paper.
  // `form` names the form as it was sent, so that the same form sent again is known (see `earlier`).
  // `together`: the address that takes a list of such entries; `after`: the id of the entry that this one is about.
  async put({ lane = "entry", url, fields, label = "", text = "", headers = {}, form = "", together = "", after = "" }) {
    const id = makeId();
    const [installation, sender] = [named("installation"), named("sender")];
    const typed = Object.entries(fields).filter(([name]) => !NEVER_STORED.includes(name));
    const storedAt = new Date().toISOString();
    const entry = {
      id, lane, url, label, text, headers, form, together, after, installation, sender, storedAt, state: "waiting",
      fields: { ...Object.fromEntries(typed), entry_id: id, device_time: storedAt, installation, sender },
    };
    const { counter } = await this.#store.add(entry);
    const kept = { ...entry, counter };
    this.#fresh.set(id, kept);
    this.#changed({ added: shown(kept) });
    this.#sender.hurry([lane]);
    return { id, counter, storedAt };
  }

  // Every entry in the device's order; what was saved stays listed for some hours, so that it can be copied on paper.
  async items() {
    const all = await this.#store.all();
    for (const entry of all) this.#fresh.delete(entry.id);
    this.#read = [...all, ...this.#fresh.values()];
    return this.#read.map(shown);
  }

  // The saved or waiting entry of a form that is sent once more as it was: by the Back button, say.
  // What was read last will do, for it is read again with every change: a press waits for no reading.
  async earlier(form) {
    const all = form ? (this.#read ?? (await this.#store.all())) : [];
    const found = all.find((entry) => entry.form === form && entry.state !== "refused");
    return found ? shown(found) : undefined;
  }

  // How many are on this device only: waiting or under way, and refused ones that nobody has looked at.
  async count() {
    const all = await this.#store.all();
    const waiting = all.filter((entry) => entry.state === "waiting").length;
    const refused = all.filter((entry) => entry.state === "refused" && !entry.handedOver).length;
    return { waiting, refused };
  }

  // Somebody has a refused entry in front of them now, with its reason.
  async handOver(id) {
    await this.#store.update([[id, { handedOver: true }]]);
    this.#changed();
  }

  // Take settled entries off the device; what still waits stays.
  async forget(ids) {
    const all = await this.#store.all();
    const settled = all.filter((entry) => ids.includes(entry.id) && entry.state !== "waiting");
    await this.#store.remove(settled.map((entry) => entry.id));
    this.#changed();
  }

  // Send at once what waits, without waiting for the timer.
  sendNow() {
    this.#sender.hurry();
  }

  // A thumb is on its way: nothing is sent and nothing written until rest(0), at most so long.
  rest(forMs) {
    this.#sender.rest(forMs);
  }

  #hears() {
    return {
      reached: (me) => {
        this.reachable = Boolean(me);
        this.dispatchEvent(new CustomEvent("reached", { detail: me }));
      },
      settled: async (all) => {
        if (!all.length) return;
        const pages = new Map(all.map(([item, , told]) => [item.id, told.page ?? ""]));
        const settled = await this.#store.update(all.map(([item, state, told]) => [item.id, changesOf(item, state, told)]));
        for (const entry of settled) this.#emit(entry.state, { ...shown(entry), page: pages.get(entry.id) });
        this.#changed({ settled: [...pages.keys()] });
      },
      held: async (item, { status, reason, stumbles }) => {
        if (status === 0) this.reachable = false;
        if (item.reason !== reason || item.stumbles !== stumbles) {
          await this.#store.update([[item.id, { reason, stumbles }]]);
        }
        this.#emit("held", { ...shown({ ...item, reason }), status });
        this.#changed();
      },
    };
  }

  async #heard({ settled = [] }) {
    for (const id of settled) {
      const entry = await this.#store.get(id);
      if (entry) this.#emit(entry.state, { ...shown(entry), page: "" });
    }
    this.#emit("change", {});
  }

  #changed({ added, settled } = {}) {
    this.#emit("change", { added });
    this.#channel?.postMessage({ settled });
  }

  #emit(type, detail) {
    this.dispatchEvent(new CustomEvent(type, { detail }));
  }
}

function changesOf(item, state, told) {
  const { outcome, answer = "", reason = "" } = told;
  const changes = { state, outcome, answer, reason, settledAt: Date.now() };
  // A saved photo is on the server; the device's room is better used for what waits.
  return state === "saved" && item.lane === "photo" ? { ...changes, fields: textsOf(item.fields) } : changes;
}

function textsOf(fields) {
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => !(value instanceof Blob)));
}

let opened;

// The page's one outbox. Rejects where the browser keeps nothing (then a form must be sent as a plain form).
export function openOutbox() {
  opened ??= Store.open().then((store) => {
    // Asked for once; a browser that says no still keeps it, only less surely.
    navigator.storage?.persist?.().catch(() => {});
    // Later: whoever opens the page waits for nothing that can wait.
    setTimeout(() => store.prune().catch(() => {}), PRUNE_AFTER_MS);
    return new Outbox(store);
  });
  return opened;
}
