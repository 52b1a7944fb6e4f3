// What the device keeps: the entries of the outbox in IndexedDB, each written whole before anything else happens.

const NAME = "second-build";
const ENTRIES = "entries";
const ABOUT = "about";
const SAVED_KEPT_MS = 12 * 60 * 60 * 1000;

// Entry ids are made here: crypto.randomUUID exists on HTTPS only, getRandomValues everywhere.
export function makeId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

function asPromise(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function upgrade(database) {
  const entries = database.createObjectStore(ENTRIES, { keyPath: "id" });
  entries.createIndex("counter", "counter", { unique: true });
  database.createObjectStore(ABOUT, { keyPath: "key" });
}

export class Store {
  constructor(database) {
    this.database = database;
  }

  static async open() {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => upgrade(request.result);
    const database = await asPromise(request);
    const store = new Store(database);
    // Another tab with a newer version of the pages must be able to change the shape.
    database.onversionchange = () => database.close();
    return store;
  }

  // Run `work` on the named stores in one transaction; its result is handed out once the transaction is complete.
  // No wider than need be: what overlaps waits, and a reading waits for nothing. Only a new entry must be on the
  // disk: what became of it the server knows, too.
  #change(names, work, durability = "relaxed") {
    return this.#transact(names, "readwrite", { durability }, work);
  }

  #look(work) {
    return this.#transact([ENTRIES], "readonly", {}, work);
  }

  #transact(names, mode, options, work) {
    return new Promise((resolve, reject) => {
      const transaction = this.database.transaction(names, mode, options);
      let result;
      transaction.oncomplete = () => resolve(result);
      transaction.onabort = () => reject(transaction.error ?? new Error("The device could not keep it."));
      const end = (how) => {
        try {
          transaction[how]?.();
        } catch {
          // It ends by itself, or has.
        }
      };
      work(...names.map((name) => transaction.objectStore(name))).then(
        (value) => {
          result = value;
          // Nothing more is asked of it: the browser need not wait for this page to see each answer first.
          end("commit");
        },
        (error) => {
          reject(error);
          end("abort");
        },
      );
    });
  }

  // Number the entry and write it; resolves when the device has it for good.
  async add(entry) {
    const write = async (entries, about) => {
      // A device whose storage was wiped starts at the clock, so that it never counts a number twice.
      const last = (await asPromise(about.get("counter")))?.value ?? Date.now();
      const numbered = { ...entry, counter: last + 1 };
      // Not waited for one by one: where one of them fails, nothing of the transaction is kept, and it says so.
      about.put({ key: "counter", value: numbered.counter });
      entries.add(numbered);
      return numbered;
    };
    return this.#change([ENTRIES, ABOUT], write, "strict");
  }

  async get(id) {
    return this.#look((entries) => asPromise(entries.get(id)));
  }

  // Every entry in the order of the device's own counter.
  async all() {
    return this.#look((entries) => asPromise(entries.index("counter").getAll()));
  }

  // Change several entries at once, each by its own changes: [[id, changes], …]; returns those that were there.
  async update(pairs) {
    return this.#change([ENTRIES], async (entries) => {
      const found = await Promise.all(pairs.map(([id]) => asPromise(entries.get(id))));
      const changed = found.flatMap((entry, place) => (entry ? [{ ...entry, ...pairs[place][1] }] : []));
      for (const entry of changed) entries.put(entry);
      return changed;
    });
  }

  async remove(ids) {
    return this.#change([ENTRIES], async (entries) => {
      for (const id of ids) entries.delete(id);
    });
  }

  // What was saved long ago is on the server, and nobody copies it onto paper any more.
  async prune() {
    const before = Date.now() - SAVED_KEPT_MS;
    const all = await this.all();
    const old = all.filter((entry) => entry.state === "saved" && entry.settledAt < before);
    if (old.length) await this.remove(old.map((entry) => entry.id));
  }

  // One sender at a time where the browser has no locks: a lease that a closed tab loses by itself.
  async takeLease(key, owner, forMs) {
    return this.#change([ABOUT], async (about) => {
      const lease = await asPromise(about.get(key));
      const now = Date.now();
      // A lease that ends far ahead was written before the clock was put back.
      const held = lease && lease.owner !== owner && lease.until > now && lease.until <= now + forMs;
      if (held) return false;
      about.put({ key, owner, until: now + forMs });
      return true;
    });
  }

  async dropLease(key, owner) {
    return this.#change([ABOUT], async (about) => {
      const lease = await asPromise(about.get(key));
      if (lease?.owner === owner) about.delete(key);
    });
  }
}
