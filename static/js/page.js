// What every page does: focus on what must be mended, send once, never lose an entry to a dead network.

const say = document.body.dataset;
const SENT_AGAIN_AFTER_MS = 8000;
const REACH_TIMEOUT_MS = 6000;

// ---- a team's page that this browser keeps for a dead network is nobody else's to see ----

if (!document.querySelector('meta[name="sender"][content^="team-"]')) {
  globalThis.caches?.delete("second-build-team-page").catch(() => {});
}

// ---- error summary: takes the focus, and its links put the focus into the field ----

function focusSummary(root) {
  const summary = root.querySelector("[data-error-summary]");
  if (!summary) return;
  if (say.sayError && !document.title.startsWith(say.sayError)) {
    document.title = `${say.sayError}: ${document.title}`;
  }
  summary.focus();
}

function focusField(id) {
  const target = document.getElementById(id);
  if (!target) return false;
  const control = target.matches("input, select, textarea, button")
    ? target
    : target.querySelector("input:not([type=hidden]), select, textarea, button");
  if (!control) return false;
  control.focus();
  (control.closest(".field") || control).scrollIntoView({ block: "nearest" });
  return true;
}

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("[data-error-summary] a[href^='#']");
  if (link && focusField(decodeURIComponent(link.hash.slice(1)))) event.preventDefault();
});

// ---- quiet line at the foot of the page ----

export function tell(text) {
  const place = document.getElementById("lost-touch");
  if (!place) return;
  place.replaceChildren();
  if (!text) return;
  const line = document.createElement("p");
  line.className = "lost-touch";
  line.textContent = text;
  place.append(line);
}

// ---- what a screen reader is told ----

// A text that takes another's place at once is never read: each stays so long, and those that came meanwhile follow.
const STAYS_MS = 1000;
let untold = [];
let stays = false;

export function announce(text) {
  if (!text) return;
  untold.push(text);
  if (!stays) tellNext();
}

function tellNext() {
  const place = document.getElementById("announcer");
  stays = Boolean(place && untold.length);
  if (!stays) return;
  place.textContent = untold.join(" ");
  untold = [];
  setTimeout(tellNext, STAYS_MS);
}

// ---- leaving the page: once, or the second time empties what is typed on the next page already ----

// Longer than a slow line takes: only whoever stopped the browser on its way is still here then.
const LEFT_WITHIN_MS = 30_000;
let leaving = false;

// Whether this page may go to another one by itself now; asking means to go.
export function mayLeave() {
  if (leaving) return false;
  leaving = true;
  setTimeout(() => (leaving = false), LEFT_WITHIN_MS);
  return true;
}

// ---- plain forms: sent once, and only when the server answers ----

const onItsWay = new WeakMap();

function buttonsOf(form) {
  return [...form.elements].filter((element) => element.type === "submit");
}

function release(form) {
  onItsWay.delete(form);
  for (const button of buttonsOf(form)) button.removeAttribute("aria-busy");
}

async function serverAnswers() {
  try {
    const answer = await fetch(say.health, {
      cache: "no-store",
      credentials: "omit",
      signal: AbortSignal.timeout?.(REACH_TIMEOUT_MS),
    });
    return answer.status < 500;
  } catch {
    return false;
  }
}

function send(form, submitter) {
  if (form.requestSubmit) return form.requestSubmit(submitter);
  // Older tablets: the pressed button's own name and value go along by hand.
  if (submitter?.name) {
    const hidden = document.createElement("input");
    Object.assign(hidden, { type: "hidden", name: submitter.name, value: submitter.value });
    form.append(hidden);
  }
  HTMLFormElement.prototype.submit.call(form);
}

// Whoever takes forms over (the outbox of a tablet) is asked first; true means that it has.
const takers = [];
const plain = new WeakSet();

export function takeOver(taker) {
  takers.push(taker);
}

// Send a form as a form, past whoever takes forms over.
export function sendPlain(form, submitter) {
  plain.add(form);
  send(form, submitter);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post" || form.matches("[hx-post], [hx-put], [data-no-guard]")) {
    return;
  }
  if (!plain.has(form) && takers.some((taker) => taker(event))) return event.preventDefault();
  const state = onItsWay.get(form);
  if (state === "sending") return onItsWay.set(form, "sent");
  event.preventDefault();
  if (state) return;
  const submitter = event.submitter;
  onItsWay.set(form, "asking");
  submitter?.setAttribute("aria-busy", "true");
  serverAnswers().then((answers) => {
    if (!answers) {
      release(form);
      plain.delete(form);
      tell(say.sayUnsent);
      return;
    }
    tell("");
    onItsWay.set(form, "sending");
    send(form, submitter);
    setTimeout(() => release(form), SENT_AGAIN_AFTER_MS);
  });
});

// A page taken back from the browser's memory must be able to send again.
window.addEventListener("pageshow", (event) => {
  if (!event.persisted) return;
  leaving = false;
  for (const form of document.forms) release(form);
});

// ---- forms sent by htmx: busy while under way, a quiet line when it failed ----

export const isPoll = (element) => Boolean(element?.getAttribute?.("hx-trigger")?.includes("every"));

// What nobody waits for: a poll, or a picture that follows what is typed.
const isQuiet = (element) => isPoll(element) || Boolean(element?.hasAttribute?.("data-quiet"));

document.addEventListener("htmx:beforeRequest", (event) => {
  const { elt, requestConfig } = event.detail;
  if (isQuiet(elt)) return;
  if (elt.getAttribute("aria-busy") === "true") return event.preventDefault();
  elt.setAttribute("aria-busy", "true");
  requestConfig?.triggeringEvent?.submitter?.setAttribute("aria-busy", "true");
});

document.addEventListener("htmx:afterRequest", (event) => {
  const { xhr, successful, requestConfig } = event.detail;
  // Who asked: what an answer has replaced is not in the page any more, and the event comes from what stands around it.
  const { elt } = requestConfig;
  if (isQuiet(elt)) return;
  elt.removeAttribute("aria-busy");
  requestConfig.triggeringEvent?.submitter?.removeAttribute("aria-busy");
  if (successful || xhr.status === 422) tell("");
  else tell(xhr.status === 0 ? say.sayUnsent : say.sayFailed);
});

document.addEventListener("htmx:afterSettle", (event) => {
  if (!isQuiet(event.detail.elt)) focusSummary(document);
  prepare(document);
});

// ---- sentence starters become buttons ----

function useStarter(field, text) {
  const gap = field.value && !/\s$/.test(field.value) ? " " : "";
  field.value += gap + text.replace(/\s*…\s*$/, " ");
  field.focus();
  field.setSelectionRange(field.value.length, field.value.length);
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function prepareStarters(list) {
  const field = document.getElementById(list.dataset.starters);
  if (!field || list.dataset.ready) return;
  list.dataset.ready = "yes";
  for (const item of list.children) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "chip";
    button.textContent = item.textContent.trim();
    button.addEventListener("click", () => useStarter(field, button.textContent));
    item.replaceChildren(button);
  }
}

// ---- what only makes sense with scripts is shown by scripts ----

function prepare(root) {
  for (const list of root.querySelectorAll("[data-starters]")) prepareStarters(list);
  for (const element of root.querySelectorAll("[data-with-script][hidden], [data-print][hidden]")) {
    element.hidden = false;
  }
}

document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-print]")) window.print();
});

prepare(document);
focusSummary(document);
