{% comment %}Lets the station's page open with no network at all, on HTTPS; it touches no other page and no entry.{% endcomment %}// The station's page and its files, kept on this device by the version that serves them.
const OURS = "second-build-station-";
const KEPT = `${OURS}{{ version }}`;
const PAGE = "{{ page }}";
const FILES = "{{ files }}";
// A school's filter may hold a connection open for ever: by then the page has come from this device.
const ANSWER_WITHIN_MS = 4000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// The page says, once it is there, what it is made of; older versions' files go only then.
self.addEventListener("message", (event) => {
  if (event.data?.keep) event.waitUntil(keep(event.data.keep).then(() => event.source?.postMessage({ kept: true })));
});

async function keep(addresses) {
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

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && address.pathname === PAGE) event.respondWith(page(request));
  else if (address.pathname.startsWith(FILES)) event.respondWith(file(request));
});

// From the server where it answers; what it says of a station that is over is shown, too, but never kept.
async function page(request) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ANSWER_WITHIN_MS);
  try {
    const answer = await fetch(request, { signal: stop.signal });
    if (answer.status === 200) (await caches.open(KEPT)).put(PAGE, answer.clone());
    if (answer.status < 500) return answer;
    return (await caches.match(PAGE, { ignoreVary: true })) ?? answer;
  } catch {
    return (await caches.match(PAGE, { ignoreVary: true })) ?? Response.error();
  } finally {
    clearTimeout(timer);
  }
}

// A file's name changes with its content, so a kept one is as good as the server's.
async function file(request) {
  const found = await caches.match(request, { ignoreVary: true });
  if (found) return found;
  const answer = await fetch(request);
  if (answer.ok) (await caches.open(KEPT)).put(request, answer.clone());
  return answer;
}
