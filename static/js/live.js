// Pages that poll: quiet when hidden, patient when the server is lost, never disturbing whoever is at the page.

import { announce, isPoll, mayLeave, tell } from "./page.js";

const REQUEST_TIMEOUT_MS = 8000;
const LONGEST_WAIT_MS = 10000;

const say = document.body.dataset;

let failures = 0;
let notBefore = 0;

// ---- when to ask ----

document.addEventListener("htmx:configRequest", (event) => {
  // A connection that a filter holds open for ever would stop the poll for ever.
  if (isPoll(event.detail.elt)) event.detail.timeout = REQUEST_TIMEOUT_MS;
});

document.addEventListener("htmx:beforeRequest", (event) => {
  if (isPoll(event.detail.elt) && (document.hidden || Date.now() < notBefore)) event.preventDefault();
});

document.addEventListener("visibilitychange", () => {
  if (!document.hidden) notBefore = 0;
});

document.addEventListener("htmx:afterRequest", (event) => {
  const { xhr, requestConfig } = event.detail;
  // Who asked, as in page.js.
  if (!isPoll(requestConfig.elt)) return;
  if (xhr.status >= 200 && xhr.status < 400) return found();
  if (xhr.status >= 400 && xhr.status < 500 && xhr.status !== 408 && xhr.status !== 429) {
    notBefore = Date.now() + LONGEST_WAIT_MS;
    failures += 1;
    return tell(say.sayStale);
  }
  lost();
});

function lost() {
  failures += 1;
  notBefore = Date.now() + Math.min(LONGEST_WAIT_MS, 500 * 2 ** failures);
  // One missed answer is nothing to speak of on a school's network.
  if (failures === 2) tell(say.sayLost);
}

function found() {
  if (failures >= 2) {
    tell("");
    announce(say.sayBack);
  }
  failures = 0;
  notBefore = 0;
}

// Whoever was signed out is sent to where they come in again: not a second time while the page goes there already.
document.addEventListener("htmx:beforeOnLoad", (event) => {
  if (event.detail.xhr.getResponseHeader("HX-Redirect") && !mayLeave()) event.preventDefault();
});

// ---- what a swap may not disturb ----

const TYPED = "input:not([type=hidden], [type=submit], [type=button]), textarea, select";

function isBeingEdited(target) {
  if (target.contains(document.activeElement) && document.activeElement.matches(TYPED)) return true;
  return [...target.querySelectorAll(TYPED)].some((field) =>
    field.type === "checkbox" || field.type === "radio"
      ? field.checked !== field.defaultChecked
      : field.matches("select")
        ? [...field.options].some((option) => option.selected !== option.defaultSelected) &&
          [...field.options].some((option) => option.defaultSelected)
        : field.value !== field.defaultValue,
  );
}

function pathFrom(root, element) {
  const path = [];
  for (let node = element; node !== root; node = node.parentElement) {
    path.unshift([...node.parentElement.children].indexOf(node));
  }
  return path;
}

// What stands below a part that comes and goes (a line of news, the team's turn): a thumb may be on its way there.
function below(target) {
  for (let node = target; node && node.id !== "main"; node = node.parentElement) {
    if (node.nextElementSibling) return node.nextElementSibling;
  }
  return null;
}

const topOf = (element) => element.getBoundingClientRect().top;

// Move the page under it, so that it stays where it was on the screen.
function holdStill(element, wasAt, part, height) {
  const grown = topOf(element) - wasAt;
  if (!grown) return;
  const wanted = window.scrollY + grown;
  if (wanted < 0) {
    // Nothing above to scroll back to: the part that became smaller keeps its room.
    part.style.minHeight = `${height}px`;
    return;
  }
  const root = document.documentElement;
  const missing = Math.ceil(wanted - (root.scrollHeight - root.clientHeight));
  if (missing > 0) document.body.style.minHeight = `${root.scrollHeight + missing}px`;
  window.scrollTo({ left: window.scrollX, top: wanted, behavior: "instant" });
}

let kept = null;

document.addEventListener("htmx:beforeSwap", (event) => {
  const { elt, target } = event.detail;
  kept = null;
  if (!isPoll(elt) || !target || !event.detail.shouldSwap) return;
  if (isBeingEdited(target)) {
    // The revision asked for stays the same, so the next answer brings it again.
    event.detail.shouldSwap = false;
    return;
  }
  const active = document.activeElement;
  const next = elt.hasAttribute("data-comes-and-goes") ? below(target) : null;
  kept = {
    id: target.id,
    next,
    nextAt: next && topOf(next),
    height: target.offsetHeight,
    focusPath: target !== active && target.contains(active) ? pathFrom(target, active) : null,
    focusTag: active?.tagName,
    open: [...target.querySelectorAll("details[id]")].map((details) => [details.id, details.open]),
    scrolled: [...target.querySelectorAll(".scroll[id]")].map((box) => [box.id, box.scrollLeft, box.scrollTop]),
    page: [window.scrollX, window.scrollY],
    said: target.dataset.announce,
  };
});

document.addEventListener("htmx:afterSwap", () => {
  if (!kept) return;
  const before = kept;
  kept = null;
  const target = document.getElementById(before.id);
  if (!target) return;
  for (const [id, open] of before.open) document.getElementById(id)?.toggleAttribute("open", open);
  for (const [id, left, top] of before.scrolled) document.getElementById(id)?.scrollTo(left, top);
  if (before.focusPath && !target.contains(document.activeElement)) {
    const found = before.focusPath.reduce((node, index) => node?.children[index], target);
    if (found?.tagName === before.focusTag) found.focus({ preventScroll: true });
  }
  window.scrollTo(...before.page);
  if (before.next?.isConnected) holdStill(before.next, before.nextAt, target, before.height);
  if (target.dataset.announce && target.dataset.announce !== before.said) announce(target.dataset.announce);
});
