{% comment %}Lets a team's page open with no network at all, on HTTPS: the one page where the team is, for the length of a lesson.{% endcomment %}// One page of the team that sits at this tablet, and its files; of anybody else nothing is kept.
const OURS = "second-build-team-files-";
const KEPT = `${OURS}{{ version }}`;
// Every page that is not a team's takes this away: static/js/page.js.
const PAGE = "second-build-team-page";
const HOME = "{{ page }}";
const FILES = "{{ files }}";
const ANSWER_WITHIN_MS = 6000;
// As long as a lesson with its coming and going; after that somebody else may sit here.
const LESSON_MS = 90 * 60 * 1000;

{% include "_worker_files.js" %}
// A page says, once it is there, what it is made of, and which one it is.
self.addEventListener("message", (event) => {
  const { keep, page } = event.data ?? {};
  if (keep) event.waitUntil(keepAll(keep, page, event.source));
});

async function keepAll(files, page, source) {
  await keepFiles(files);
  let kept = (await theKept())?.path === page;
  if (!kept) {
    const answer = await fetch(page, { credentials: "same-origin" }).catch(() => undefined);
    // Whoever has left the page meanwhile may have left the team.
    if (answer && (await self.clients.get(source.id))) kept = await keepPage(page, answer);
  }
  source.postMessage({ kept });
}

// Keep a page in place of the one before: a team's own, as the server shows it, and none that is secret for a while
// from those who sit beside it (no-store).
async function keepPage(path, answer) {
  if (answer.status !== 200 || answer.redirected) return false;
  if (/no-store/.test(answer.headers.get("Cache-Control") ?? "")) return false;
  const text = await answer.text();
  if (!/<meta name="sender" content="team-\d+">/.test(text)) return false;
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  headers.set("X-Kept-At", `${Date.now()}`);
  const marked = text.replace("<html", `<html data-kept-at="${new Date().toISOString()}"`);
  await caches.delete(PAGE);
  await (await caches.open(PAGE)).put(path, new Response(marked, { headers }));
  return true;
}

// The page that is kept and its path; taken away once a lesson has passed, or where a clock says nonsense.
async function theKept() {
  if (!(await caches.has(PAGE))) return undefined;
  const cache = await caches.open(PAGE);
  const [request] = await cache.keys();
  if (!request) return undefined;
  const answer = await find(cache, request);
  const age = Date.now() - Number(answer.headers.get("X-Kept-At"));
  if (age < 0 || age > LESSON_MS) {
    await caches.delete(PAGE);
    return undefined;
  }
  const { pathname, search } = new URL(request.url);
  return { path: pathname + search, answer };
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(event, address.pathname + address.search));
  else if (address.pathname.startsWith(FILES)) event.respondWith(file(request));
});

async function page(event, path) {
  const kept = await theKept();
  try {
    const answer = kept ? await ask(event.request, ANSWER_WITHIN_MS) : await fetch(event.request);
    if (answer.status >= 500 && kept) return keptFor(path, kept) ?? answer;
    event.waitUntil(keepPage(path, answer.clone()));
    return answer;
  } catch {
    return (kept && keptFor(path, kept)) ?? Response.error();
  }
}

// The page itself, or from the team's own address the way to it; any other page is not here.
function keptFor(path, kept) {
  if (path === kept.path) return kept.answer;
  return path === HOME ? Response.redirect(kept.path) : undefined;
}
