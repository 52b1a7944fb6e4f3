// The page of marks: keys give levels and move, every mark is sent at once and kept until the server has it.

const RETRY_MS = 2000;
const LOOK_AFTER_MS = 180;
const NO_ANSWER_MS = 8000;

const form = document.querySelector("[data-marking]");
const say = form.dataset;
const state = form.querySelector("[data-state]");
let token = form.elements.csrfmiddlewaretoken.value;
const second = Boolean(form.elements.second);
const rows = [...form.querySelectorAll("tbody tr")].map((row) => [...row.querySelectorAll("[data-mark]")]);
const place = new Map();
rows.forEach((cells, row) => cells.forEach((cell, column) => place.set(cell, [row, column])));

// ---- what the server has, and what only this page has ----

const had = new Map();
for (const cell of place.keys()) had.set(cell.name, cell.value);
let pending = [];
let batch = null;
let sending = false;
let whenEmpty = [];

function entryId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

function tell(text, waiting = false) {
  if (state.textContent !== text) state.textContent = text;
  state.toggleAttribute("data-waiting", waiting);
}

class SignedOut extends Error {}

// Signing in again makes the page's old token void: a fresh one stands in a fresh copy of the page.
async function renewToken() {
  const answer = await fetch(form.action + location.search, { cache: "no-store" });
  if (!answer.ok || answer.redirected) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  token = fresh.querySelector("[data-marking] [name=csrfmiddlewaretoken]")?.value ?? token;
}

async function post(fields) {
  const body = new URLSearchParams([["csrfmiddlewaretoken", token], ["live", "yes"], ...fields]);
  if (second) body.append("second", "yes");
  const answer = await fetch(form.action, {
    method: "POST",
    body,
    headers: { "X-CSRFToken": token },
    signal: AbortSignal.timeout?.(NO_ANSWER_MS),
  });
  const isOurs = answer.headers.get("Content-Type")?.includes("json");
  if (answer.redirected || (answer.ok && !isOurs) || answer.status === 403) throw new SignedOut();
  if (answer.status >= 500) throw new Error(String(answer.status));
  return { refused: !answer.ok, told: isOurs ? await answer.json() : {} };
}

function give(cell) {
  pending.push([cell.name, cell.value]);
  tell(say.saySaving);
  send();
}

async function send() {
  if (sending) return;
  sending = true;
  while (batch || pending.length) {
    batch ??= { id: entryId(), marks: pending.splice(0, 200) };
    const fields = [["do", "give"], ["entry_id", batch.id]];
    for (const [name, value] of batch.marks) fields.push(["mark", `${name} ${value}`]);
    try {
      const { refused, told } = await post(fields);
      if (refused) {
        sending = false;
        return tell(told.said ?? say.sayWaiting, true);
      }
      for (const [name, value] of batch.marks) had.set(name, value);
      batch = null;
      show(told);
    } catch (problem) {
      tell(problem instanceof SignedOut ? say.saySignedOut : say.sayWaiting, true);
      await new Promise((done) => setTimeout(done, RETRY_MS));
      if (problem instanceof SignedOut) await renewToken().catch(() => {});
    }
  }
  sending = false;
  tell(say.saySaved);
  for (const done of whenEmpty.splice(0)) done();
}

function show(told) {
  for (const [key, percent] of Object.entries(told.totals ?? {})) {
    const total = form.querySelector(`[data-total="${key}"]`);
    if (total) total.textContent = percent;
  }
  for (const [name, text] of Object.entries(told.takenOver ?? {})) {
    const cell = form.elements[name];
    if (cell) cell.placeholder = text || " ";
  }
  if (told.seen !== undefined) form.elements.seen.value = told.seen;
}

const allSent = () => (sending || pending.length ? new Promise((done) => whenEmpty.push(done)) : Promise.resolve());

async function undo() {
  await allSent();
  tell(say.saySaving);
  try {
    const { told } = await post([["do", "undo"], ["entry_id", entryId()]]);
    show(told);
    if (!told.place) return tell(say.sayNothing);
    const cell = form.elements[told.place];
    if (cell) {
      cell.value = told.text;
      had.set(cell.name, told.text);
      cell.removeAttribute("aria-invalid");
      go(cell);
    }
    tell(say.sayUndone);
  } catch (problem) {
    tell(problem instanceof SignedOut ? say.saySignedOut : say.sayWaiting, true);
  }
}

window.addEventListener("beforeunload", (event) => {
  if (batch || pending.length) event.preventDefault();
});

// ---- moving ----

// One field at a time is a stop of the Tab key: the arrows go to the others.
let stop = rows.find((cells) => cells.length)?.[0];
for (const cell of place.keys()) cell.tabIndex = cell === stop ? 0 : -1;

function go(cell) {
  cell.focus();
  cell.select();
}

function move(cell, down, right) {
  const [row, column] = place.get(cell);
  const next = rows[row + down]?.[column + right];
  if (next) go(next);
}

function goOn(cell) {
  const [row, column] = place.get(cell);
  const next = rows[row][column + 1] ?? rows[row + 1]?.[0];
  if (next) go(next);
}

// ---- giving ----

const ARROWS = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1], Enter: [1, 0] };

function put(cell, text) {
  cell.removeAttribute("aria-invalid");
  cell.value = text;
  if (had.get(cell.name) !== text || pending.some(([name]) => name === cell.name) || batch) give(cell);
}

function suggestedFor(cell) {
  return cell.parentElement.querySelector("[data-suggested]")?.dataset.suggested ?? "";
}

form.addEventListener("keydown", (event) => {
  const cell = event.target.closest("[data-mark]");
  if (!cell || event.altKey || event.isComposing) return;
  if (event.ctrlKey || event.metaKey) {
    if (event.key !== "z") return;
    event.preventDefault();
    return void undo();
  }
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (key in ARROWS) move(cell, ...ARROWS[key]);
  else if ("1234".includes(key)) {
    put(cell, key);
    goOn(cell);
  } else if (key === "x") {
    put(cell, "x");
    goOn(cell);
  } else if (key === "0" || key === "Backspace" || key === "Delete") put(cell, "");
  else if (key === "s" && suggestedFor(cell)) {
    put(cell, suggestedFor(cell));
    goOn(cell);
  } else if (key === "u") undo();
  else if (key === "c") document.querySelector("#evidence textarea")?.focus();
  else if (key.length > 1) return;
  event.preventDefault();
});

// A tablet's own keyboard sends no keys worth reading: what stands in the field is taken.
form.addEventListener("input", (event) => {
  const cell = event.target.closest("[data-mark]");
  if (!cell) return;
  const text = cell.value.trim().toLowerCase();
  if (/^[1-4x]?$/.test(text)) return put(cell, text);
  cell.setAttribute("aria-invalid", "true");
  tell(say.sayNoMark, true);
});

form.addEventListener("submit", (event) => event.preventDefault());
form.querySelector("[data-save]").hidden = true;
const undoButton = form.querySelector("[data-undo]");
undoButton.hidden = false;
undoButton.addEventListener("click", undo);
document.querySelector("[data-plain-undo]").hidden = true;

// ---- the evidence follows the field ----

let looking = 0;
form.addEventListener("focusin", (event) => {
  const cell = event.target.closest("[data-mark]");
  if (!cell) return;
  if (stop) stop.tabIndex = -1;
  stop = cell;
  stop.tabIndex = 0;
  clearTimeout(looking);
  if (document.querySelector("[data-looked-at]")?.dataset.lookedAt === cell.name) return;
  looking = setTimeout(() => {
    const where = new URLSearchParams([["at", cell.name], ...(second ? [["second", "yes"]] : [])]);
    const places = { source: "#evidence", target: "#evidence", swap: "innerHTML" };
    // Without an answer the evidence that is there stays; the next field asks again.
    window.htmx.ajax("GET", `${say.evidence}?${where}`, places).catch(() => {});
  }, LOOK_AFTER_MS);
});
// Signed out, the evidence would lead to the sign-in page, and marks that wait here would be gone.
document.addEventListener("htmx:beforeOnLoad", (event) => {
  if (!(batch || pending.length) || !event.detail.xhr.getResponseHeader("HX-Redirect")) return;
  event.preventDefault();
  tell(say.saySignedOut, true);
});
form.addEventListener("focusout", () => clearTimeout(looking));
