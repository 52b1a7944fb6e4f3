// ---- the files that pages are made of, kept by the version that serves them ----

// Names of older versions' caches begin alike: they go once this version's files are here.
async function keepFiles(addresses) {
  const kept = await caches.open(KEPT);
  await Promise.all(addresses.map(async (address) => {
    if (await find(kept, address)) return;
    const answer = await fetch(address, { credentials: "same-origin" });
    if (answer.ok) await kept.put(address, answer);
  }));
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(OURS) && name !== KEPT).map((name) => caches.delete(name)));
}

const find = (kept, request) => kept.match(request, { ignoreVary: true });

// A file's name changes with its content, so a kept one is as good as the server's.
async function file(request) {
  const kept = await caches.open(KEPT);
  const found = await find(kept, request);
  if (found) return found;
  const answer = await fetch(request);
  if (answer.ok) kept.put(request, answer.clone());
  return answer;
}

// Ask the server, but only so long: a school's filter may hold a connection open for ever.
async function ask(request, ms) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ms);
  try {
    return await fetch(request, { signal: stop.signal });
  } finally {
    clearTimeout(timer);
  }
}

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
