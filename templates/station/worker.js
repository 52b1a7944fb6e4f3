{% comment %}Lets the station's page open with no network at all, on HTTPS; it touches no other page and no entry.{% endcomment %}// The station's page and its files, kept on this device.
const OURS = "second-build-station-";
const KEPT = `${OURS}{{ version }}`;
const PAGE = "{{ page }}";
const FILES = "{{ files }}";
const ANSWER_WITHIN_MS = 4000;

{% include "_worker_files.js" %}
// The page says, once it is there, what it is made of.
self.addEventListener("message", (event) => {
  const { keep } = event.data ?? {};
  if (keep) event.waitUntil(keepFiles([PAGE, ...keep]).then(() => event.source?.postMessage({ kept: true })));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && address.pathname === PAGE) event.respondWith(page(request));
  else if (address.pathname.startsWith(FILES)) event.respondWith(file(request));
});

// From the server where it answers; what it says of a station that is over is shown, too, but never kept.
async function page(request) {
  try {
    const answer = await ask(request, ANSWER_WITHIN_MS);
    if (answer.status === 200) (await caches.open(KEPT)).put(PAGE, answer.clone());
    if (answer.status < 500) return answer;
    return (await caches.match(PAGE, { ignoreVary: true })) ?? answer;
  } catch {
    return (await caches.match(PAGE, { ignoreVary: true })) ?? Response.error();
  }
}
