// Every form of a team's tablet goes through the outbox: on this tablet first, then sent, then the page goes on.

import { openOutbox } from "./outbox.js";
import { showLine } from "./outbox/line.js";
import { openWithoutNetwork } from "./outbox/offline.js";
import { mayLeave, sendPlain, takeOver, tell } from "./page.js";

const NOT_TAKEN = "[data-no-outbox], [data-no-guard]";
const SIGNED_OUT = 401;
const PAUSED = 423;
// The page is there and at rest first; keeping it for a dead network comes after that.
const KEEP_PAGE_AFTER_MS = 3000;

const named = (name) => document.querySelector(`meta[name="${name}"]`)?.content ?? "";
const sender = named("sender");

// The forms of this page that are on their way, by their entry's id.
const underWay = new Map();

let box;

// ---- what a form holds ----

function fieldsOf(form, submitter) {
  const fields = {};
  const data = new FormData(form);
  if (submitter?.name) data.append(submitter.name, submitter.value);
  for (const [name, value] of data) {
    if (value instanceof File && !value.size && !value.name) continue;
    if (name in fields) fields[name] = [].concat(fields[name], value);
    else fields[name] = value;
  }
  return fields;
}

const hasFile = (fields) => Object.values(fields).flat().some((value) => value instanceof Blob);

function wholeOf(form, submitter) {
  return JSON.stringify(Object.entries(fieldsOf(form, submitter)).filter(([, value]) => typeof value === "string"));
}

// The form's own number, made with its page, and all that stands in it.
function nameOf(form, whole) {
  const number = form.elements.entry_id?.value;
  return number ? `${number} ${whole}` : "";
}

function labelOf(form) {
  const page = document.querySelector("main h1")?.textContent ?? document.title;
  const words = form.closest("main") ? page : (form.querySelector("button:not([hidden])")?.textContent ?? page);
  return words.replace(/\s+/g, " ").trim();
}

// What was typed, in the form's own words: the chosen tile's label, the field's text with its unit.
function textOf(form) {
  const typed = [...form.elements].filter((field) => field.type !== "hidden" && field.name && field.value);
  const told = typed.map((field) => {
    if (field.type === "checkbox" || field.type === "radio") {
      return field.checked ? (field.labels?.[0]?.textContent ?? field.value) : "";
    }
    if (field.matches("button, [type=submit]")) return "";
    if (field.matches("select")) return field.selectedOptions[0]?.textContent ?? "";
    const label = field.labels?.[0]?.textContent ?? "";
    return field.type === "file" ? label : `${label} ${field.value}`;
  });
  return told.map((text) => text.replace(/\s+/g, " ").trim()).filter(Boolean).join(" · ");
}

function htmxHeaders(form) {
  if (!form.hasAttribute("hx-post")) return {};
  const target = form.getAttribute("hx-target") ?? "";
  return { "HX-Request": "true", "HX-Current-URL": location.href, "HX-Target": target.replace(/^#/, "") };
}

function urlOf(form, submitter) {
  const action = submitter?.getAttribute("formaction") ?? form.getAttribute("hx-post") ?? form.getAttribute("action");
  const url = new URL(action || location.href, location.href);
  return url.pathname + url.search;
}

// ---- pressing the button ----

function isEdited(form) {
  return [...form.elements].some((field) => {
    if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
    if (field.matches("select")) return [...field.options].some((option) => option.selected !== option.defaultSelected);
    return "defaultValue" in field && field.type !== "hidden" && field.value !== field.defaultValue;
  });
}

const othersEdited = (form) => [...document.forms].some((other) => other !== form && isEdited(other));

function release(work) {
  underWay.delete(work.id);
  work.submitter?.removeAttribute("aria-busy");
  work.form.removeAttribute("data-entry");
}

function follow(work, id) {
  underWay.delete(work.id);
  underWay.set(id, Object.assign(work, { id }));
  work.form.setAttribute("data-entry", id);
}

async function keep(form, submitter, pressed) {
  const whole = wholeOf(form, submitter);
  for (const work of underWay.values()) {
    // The same again is on this tablet already; something else is an entry of its own.
    if (work.form === form && work.whole === whole) return box?.sendNow();
  }
  const work = { form, submitter, whole, id: Symbol("not yet") };
  underWay.set(work.id, work);
  submitter?.setAttribute("aria-busy", "true");
  try {
    const fields = fieldsOf(form, submitter);
    box ??= await openOutbox();
    const before = await box.earlier(nameOf(form, whole));
    if (before?.state === "saved") {
      release(work);
      return goOn(before.answer);
    }
    if (before) {
      // Typed before this page was opened again, and still on its way.
      follow(work, before.id);
      return box.sendNow();
    }
    const entry = { url: urlOf(form, submitter), fields, label: labelOf(form), text: textOf(form), headers: htmxHeaders(form), form: nameOf(form, whole) };
    const { id } = await box.put({ ...entry, lane: hasFile(fields) ? "photo" : "entry" });
    performance.measure("on this tablet", { start: pressed, end: performance.now() });
    follow(work, id);
  } catch (error) {
    // A browser that keeps nothing sends the form itself, and says so if that fails.
    console.warn(`No outbox: ${error?.name}`);
    release(work);
    sendPlain(form, submitter);
  }
}

// ---- what became of it ----

function pageOf(answer) {
  return new URL(answer || location.href, location.href);
}

function goOn(answer) {
  if (!mayLeave()) return;
  const url = pageOf(answer);
  const same = url.pathname === location.pathname && url.search === location.search;
  // Not a reload, which may keep what was typed; and an address with an anchor would not be fetched again.
  if (same) location.replace(url.pathname + url.search);
  else location.assign(url);
}

function swapSums(work, page) {
  const target = document.querySelector(work.form.getAttribute("hx-target"));
  if (!page || !target || !window.htmx) return false;
  window.htmx.swap(target, page, { swapStyle: "outerHTML", swapDelay: 0, settleDelay: 20 }, {
    eventInfo: { elt: work.form },
  });
  return true;
}

// A button of the bar (help, jobs) must not take away what is half typed below it.
async function refreshBand() {
  const answer = await fetch(location.href, { credentials: "same-origin" });
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector(".site-band");
  const band = document.querySelector(".site-band");
  if (!fresh || !band) return;
  band.replaceWith(fresh);
}

async function saved({ detail }) {
  const work = underWay.get(detail.id);
  if (!work) return savedBefore(detail);
  release(work);
  tell("");
  if (work.form.hasAttribute("hx-post") && swapSums(work, detail.page)) return;
  if (!work.form.closest("main") && othersEdited(work.form)) return refreshBand().catch(() => {});
  goOn(detail.answer);
}

// Something typed on this page earlier has arrived: the page is behind, unless somebody is typing in it.
function savedBefore(item) {
  if (underWay.size || pageOf(item.url).pathname !== location.pathname) return;
  if (item.sender === sender && !othersEdited(null)) goOn(item.answer);
}

async function refused({ detail }) {
  const work = underWay.get(detail.id);
  if (!work) return;
  release(work);
  // The page says itself what is to be mended: nothing of this entry is left to look at elsewhere.
  await box.handOver(detail.id);
  if (work.form.hasAttribute("hx-post") && swapSums(work, detail.page)) return box.forget([detail.id]);
  if (detail.answer) {
    await box.forget([detail.id]);
    return goOn(detail.answer);
  }
  sendPlain(work.form, work.submitter);
}

function held({ detail }) {
  const work = underWay.get(detail.id);
  if (!work) return;
  work.submitter?.removeAttribute("aria-busy");
  if (detail.status === SIGNED_OUT || detail.status === PAUSED) {
    // Those pages say what to do now; the entry waits, and this page goes on by itself when it is saved.
    release(work);
    goOn("");
  }
}

// ---- taking the forms over ----

function isOurs(form) {
  return Boolean(sender) && form.method === "post" && !form.matches(NOT_TAKEN);
}

takeOver((event) => {
  if (!isOurs(event.target)) return false;
  keep(event.target, event.submitter, event.timeStamp);
  return true;
});

// htmx listens on the form itself, so its forms are taken on the way down.
document.addEventListener(
  "submit",
  (event) => {
    if (!event.target.hasAttribute("hx-post") || !isOurs(event.target)) return;
    event.preventDefault();
    event.stopPropagation();
    keep(event.target, event.submitter, event.timeStamp);
  },
  { capture: true },
);

// ---- no network at all ----

// This page came from the tablet itself: it says so, and makes way for the server's as soon as that answers.
function sayKept(since) {
  const words = document.getElementById("outbox-line")?.dataset.sayKept ?? "";
  const time = new Date(since).toLocaleTimeString(document.documentElement.lang, { hour: "numeric", minute: "2-digit" });
  const notice = Object.assign(document.createElement("div"), { className: "notice notice-warning", role: "status" });
  notice.append(Object.assign(document.createElement("p"), { textContent: words.replace("{time}", time) }));
  document.getElementById("main").prepend(notice);
  document.addEventListener("htmx:afterRequest", ({ detail }) => {
    if (detail.successful && !underWay.size && !othersEdited(null)) goOn("");
  });
}

const { keptAt } = document.documentElement.dataset;
if (keptAt) sayKept(keptAt);

if (sender && named("worker")) {
  setTimeout(async () => {
    const kept = await openWithoutNetwork(named("worker"), location.pathname + location.search);
    document.documentElement.dataset.opensOffline = kept ? "yes" : "no";
  }, KEEP_PAGE_AFTER_MS);
}

openOutbox().then(
  (opened) => {
    box = opened;
    box.addEventListener("saved", saved);
    box.addEventListener("refused", refused);
    box.addEventListener("held", held);
    showLine(box, document.getElementById("outbox-line"), sender);
  },
  () => {},
);
