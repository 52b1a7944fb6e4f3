// The line that always says what is on this tablet only and what is saved, and shows what waits as text.

import { announce } from "../page.js";

const counted = (count, one, many) => (count === 1 ? one : many.replace("#", count));

function element(tag, className, text) {
  return Object.assign(document.createElement(tag), { className, textContent: text });
}

// What was typed, as the form said it; where it did not, the fields themselves.
export function textOf(item, sayPicture) {
  if (item.text) return item.text;
  const values = Object.values(item.fields).flat();
  return values.map((value) => (value instanceof Blob ? sayPicture : value)).join(" · ");
}

function rowOf(item, say, sender, box) {
  const row = document.createElement("li");
  const isRefused = item.state === "refused";
  row.append(element("span", `pill ${isRefused ? "pill-stuck" : "pill-waiting"}`, isRefused ? say.sayRefused : say.sayHere));
  row.append(` ${item.label} `, element("strong", "", textOf(item, say.sayPicture)));
  const why = item.reason || (item.sender && item.sender !== sender ? say.sayOtherTeam : "");
  if (why) row.append(element("p", "soft", why));
  if (isRefused) row.append(answersTo(item, say, box));
  return row;
}

// A refused entry can be put right on its own page, or put away as seen.
function answersTo(item, say, box) {
  const row = element("div", "row", "");
  const again = Object.assign(element("a", "button button-small", say.sayAgain), { href: item.url });
  const seen = Object.assign(element("button", "button button-quiet button-small", say.saySeen), { type: "button" });
  seen.addEventListener("click", () => box.handOver(item.id));
  row.append(again, seen);
  return row;
}

function wordsFor(waiting, refused, say, box) {
  if (waiting.length) {
    const silent = box.reachable === false ? say.sayNoAnswer : waiting[0].reason;
    const count = counted(waiting.length, say.sayHereOne, say.sayHereMany);
    return { state: "here", pill: "pill-now", word: say.sayHere, words: `${count} ${silent}`.trim() };
  }
  if (refused.length) {
    const words = counted(refused.length, say.sayRefusedOne, say.sayRefusedMany);
    return { state: "refused", pill: "pill-stuck", word: say.sayRefused, words };
  }
  return { state: "saved", pill: "pill-done", word: say.saySaved, words: say.saySavedWords };
}

export function showLine(box, line, sender) {
  if (!line) return;
  const say = line.dataset;
  const [pill, words, list, none] = ["state", "words", "list", "none"].map((part) =>
    line.querySelector(`[data-outbox-${part}]`),
  );
  let items = [];
  let listed = "";

  async function draw() {
    items = await box.items();
    show();
  }

  function show() {
    const waiting = items.filter((item) => item.state === "waiting");
    const refused = items.filter((item) => item.state === "refused" && !item.handedOver);
    const now = wordsFor(waiting, refused, say, box);
    const before = say.state;
    if (pill.textContent !== now.word || words.textContent !== now.words) {
      say.state = now.state;
      pill.className = `pill ${now.pill}`;
      pill.textContent = now.word;
      words.textContent = now.words;
    }
    const rows = JSON.stringify([...waiting, ...refused].map((item) => [item.id, item.reason, item.state === "refused"]));
    if (rows !== listed) {
      listed = rows;
      list.replaceChildren(...[...waiting, ...refused].map((item) => rowOf(item, say, sender, box)));
      none.hidden = Boolean(list.children.length);
    }
    line.hidden = false;
    // Said aloud when it becomes worse or good again, not for each entry on its way.
    if (before && before !== now.state) announce(`${now.word}. ${now.words}`);
  }

  let drawing = Promise.resolve();
  const redraw = () => (drawing = drawing.then(draw, draw));
  box.addEventListener("change", ({ detail: { added } }) => {
    // At once: what is on this tablet only is never called saved, not for a moment.
    if (added) {
      items = [...items, added];
      show();
    }
    redraw();
  });
  box.addEventListener("reached", redraw);
  redraw();
}
