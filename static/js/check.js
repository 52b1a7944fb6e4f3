// Tries out what a device can do for a lesson, and says it in words.

import { canStayAwake, stayAwake } from "./station/awake.js";

const NAME = "second-build-check";
const ANSWER_WITHIN_MS = 6000;
const found = {};

function tell(name, state) {
  const line = document.querySelector(`[data-check="${name}"]`);
  found[name] = state;
  line.dataset.state = state;
  line.querySelector("p").textContent = line.dataset[state] ?? line.dataset.half;
  sumUp();
}

function sumUp() {
  if (!["server", "storage", "secure"].every((name) => found[name])) return;
  const place = document.getElementById("summary");
  let words = "online";
  if (found.storage !== "no") words = found.secure === "yes" ? "all" : "open";
  if (found.server === "no") words = "none";
  document.getElementById("sum-up-card").hidden = false;
  place.textContent = place.dataset[words];
}

async function server() {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ANSWER_WITHIN_MS);
  try {
    const answer = await fetch(document.getElementById("checks").dataset.health, { cache: "no-store", signal: stop.signal });
    tell("server", answer.ok ? "yes" : "no");
  } catch {
    tell("server", "no");
  } finally {
    clearTimeout(timer);
  }
}

function open() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("tries");
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

function within(database, mode, act) {
  return new Promise((resolve, reject) => {
    const transaction = database.transaction("tries", mode, { durability: "strict" });
    const asked = act(transaction.objectStore("tries"));
    transaction.oncomplete = () => resolve(asked.result);
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error);
  });
}

// Written in one visit and found in the next: only then is it known to outlive the page.
async function storage() {
  try {
    const database = await open();
    const before = await within(database, "readonly", (tries) => tries.get("visit"));
    await within(database, "readwrite", (tries) => tries.put(performance.timeOrigin, "visit"));
    const again = document.getElementById("again");
    again.hidden = Boolean(before);
    again.addEventListener("click", () => location.reload());
    tell("storage", before && before !== performance.timeOrigin ? "yes" : "half");
  } catch {
    tell("storage", "no");
  }
}

async function lasting() {
  try {
    const promised = (await navigator.storage?.persisted?.()) || (await navigator.storage?.persist?.());
    tell("lasting", promised ? "yes" : "half");
  } catch {
    tell("lasting", "half");
  }
}

async function awake() {
  tell("awake", canStayAwake() && (await stayAwake()) ? "yes" : "half");
}

function camera() {
  tell("camera", "half");
  document.getElementById("picture").addEventListener("change", (event) => {
    const [file] = event.target.files;
    if (!file) return;
    const address = URL.createObjectURL(file);
    const picture = new Image();
    picture.onload = () => tell("camera", "yes");
    picture.onerror = () => tell("camera", "no");
    picture.src = address;
  });
}

// The smallest step that the page's steady clock makes.
function clock() {
  let least = Infinity;
  const until = performance.now() + 60;
  for (let last = performance.now(); last < until; ) {
    const now = performance.now();
    if (now > last) least = Math.min(least, now - last);
    last = now;
  }
  tell("clock", least <= 10 ? "yes" : "half");
}

for (const line of document.querySelectorAll("[data-check] p")) line.textContent = document.getElementById("checks").dataset.sayTrying;
tell("secure", isSecureContext ? "yes" : "half");
camera();
clock();
server();
storage();
lasting();
awake();
