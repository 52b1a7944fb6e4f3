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
    await store.#prune();
    return store;
  }

  // Run `work(entries, about)` in one transaction; its result is handed out once the transaction is complete.
  // Only a new entry must be on the disk: what became of it the server knows, too, and it costs the next one time.
  async change(work, durability = "relaxed") {
    return this.#transact("readwrite", { durability }, work);
  }

  async look(work) {
    return this.#transact("readonly", {}, work);
  }

  #transact(mode, options, work) {
    return new Promise((resolve, reject) => {
      const transaction = this.database.transaction([ENTRIES, ABOUT], mode, options);
      let result;
      transaction.oncomplete = () => resolve(result);
      transaction.onabort = () => reject(transaction.error ?? new Error("The device could not keep it."));
      const failed = (error) => {
        reject(error);
        try {
          transaction.abort();
        } catch {
          // It had ended by itself.
        }
      };
      work(transaction.objectStore(ENTRIES), transaction.objectStore(ABOUT)).then((value) => {
        result = value;
      }, failed);
    });
  }

  // Number the entry and write it; resolves when the device has it for good.
  async add(entry) {
    return this.change(async (entries, about) => {
      // A device whose storage was wiped starts at the clock, so that it never counts a number twice.
      const last = (await asPromise(about.get("counter")))?.value ?? Date.now();
      const numbered = { ...entry, counter: last + 1 };
      // One after the other without a round trip between: the transaction keeps their order.
      about.put({ key: "counter", value: numbered.counter });
      await asPromise(entries.add(numbered));
      return numbered;
    }, "strict");
  }

  async get(id) {
    return this.look((entries) => asPromise(entries.get(id)));
  }

  // Every entry in the order of the device's own counter.
  async all() {
    return this.look((entries) => asPromise(entries.index("counter").getAll()));
  }

  async update(id, changes) {
    return this.change(async (entries) => {
      const entry = await asPromise(entries.get(id));
      if (!entry) return undefined;
      const changed = { ...entry, ...changes };
      await asPromise(entries.put(changed));
      return changed;
    });
  }

  async remove(ids) {
    return this.change(async (entries) => {
      for (const id of ids) await asPromise(entries.delete(id));
    });
  }

  async #prune() {
    const before = Date.now() - SAVED_KEPT_MS;
    const all = await this.all();
    const old = all.filter((entry) => entry.state === "saved" && entry.settledAt < before);
    if (old.length) await this.remove(old.map((entry) => entry.id));
  }

  // One sender at a time where the browser has no locks: a lease that a closed tab loses by itself.
  async takeLease(key, owner, forMs) {
    return this.change(async (_entries, about) => {
      const lease = await asPromise(about.get(key));
      const now = Date.now();
      // A lease that ends far ahead was written before the clock was put back.
      const held = lease && lease.owner !== owner && lease.until > now && lease.until <= now + forMs;
      if (held) return false;
      await asPromise(about.put({ key, owner, until: now + forMs }));
      return true;
    });
  }

  async dropLease(key, owner) {
    return this.change(async (_entries, about) => {
      const lease = await asPromise(about.get(key));
      if (lease?.owner === owner) await asPromise(about.delete(key));
    });
  }
}
