// Every time that was taken on this phone, large and plain, to be copied onto paper.

import { hundredthsOf, secondsOf } from "./queue.js";

const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_all, name) => values[name] ?? "");

function timesOf(fields) {
  if (fields.do === "typed") return ["time", "second", "third"].map((name) => hundredthsOf(fields[name] ?? "")).filter(Boolean);
  return [Number(fields.hundredths)];
}

// Draw the list into an <ol>; what the server could not use is shown with its reason, and is then known to somebody.
export function listReadings(list, items, outbox) {
  const words = list.dataset;
  const timed = items.filter((item) => ["reading", "typed", "watch"].includes(item.fields.do));
  const calls = new Map(items.filter((item) => item.fields.do === "call").map((item) => [item.fields.of, item.fields.call]));
  const lines = timed.map((item) => {
    const { fields } = item;
    const line = document.createElement("li");
    const name = document.createElement("strong");
    name.textContent = fields.team === "reference" ? words.sayReference : (fields.team_name ?? "");
    const about = [fields.round && fill(words.sayRound, fields), fields.trial && fill(words.sayDrop, fields),
      fields.do === "watch" && words.sayWatch].filter(Boolean);
    const time = document.createElement("span");
    time.className = "num st-read";
    time.textContent = `${timesOf(fields).map(secondsOf).join(" · ")} s`;
    const call = calls.get(item.id) ?? fields.how;
    const state = { saved: words.saySaved, refused: words.sayRefused }[item.state] ?? words.sayWaiting;
    const small = document.createElement("small");
    small.textContent = [...about, document.querySelector(`[data-call="${CSS.escape(call ?? "")}"]`)?.textContent, state, item.reason]
      .filter(Boolean).join(" · ");
    line.append(name, " ", time, small);
    if (item.state === "refused") outbox?.handOver(item.id);
    return line;
  });
  if (!lines.length) {
    const line = document.createElement("li");
    line.textContent = words.sayNone;
    lines.push(line);
  }
  list.replaceChildren(...lines);
}
