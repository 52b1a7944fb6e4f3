// The drawing pad: pen, labels, undo; puts a PNG into the form's own file field when the form is sent.

const PAPER = "#ffffff";
const SQUARES = "#e3e9f3";
const INK = "#1d2b4f";
const SQUARE_PX = 50;
const LABEL_FONT = '700 40px "Second Build Sans", system-ui, sans-serif';
const STEP_PX = 25;

function drawPaper(context, { width, height }) {
  context.fillStyle = PAPER;
  context.fillRect(0, 0, width, height);
  context.strokeStyle = SQUARES;
  context.lineWidth = 1;
  context.beginPath();
  for (let x = SQUARE_PX; x < width; x += SQUARE_PX) {
    context.moveTo(x, 0);
    context.lineTo(x, height);
  }
  for (let y = SQUARE_PX; y < height; y += SQUARE_PX) {
    context.moveTo(0, y);
    context.lineTo(width, y);
  }
  context.stroke();
}

function drawStroke(context, { width, points }) {
  context.strokeStyle = INK;
  context.lineWidth = width;
  context.lineCap = "round";
  context.lineJoin = "round";
  context.beginPath();
  context.moveTo(points[0].x, points[0].y);
  // Through the middle of each pair, so that a finger's corners come out round.
  for (let i = 1; i < points.length - 1; i += 1) {
    const next = points[i + 1];
    context.quadraticCurveTo(points[i].x, points[i].y, (points[i].x + next.x) / 2, (points[i].y + next.y) / 2);
  }
  const last = points[points.length - 1];
  context.lineTo(last.x, last.y + (points.length === 1 ? 0.1 : 0));
  context.stroke();
}

function drawLabel(context, { text, x, y }, { width, height }) {
  context.font = LABEL_FONT;
  context.textBaseline = "middle";
  const wide = context.measureText(text).width;
  const left = Math.min(Math.max(x - wide / 2, 8), Math.max(8, width - wide - 8));
  const middle = Math.min(Math.max(y, 30), height - 30);
  context.fillStyle = "rgba(255, 255, 255, 0.85)";
  context.fillRect(left - 6, middle - 26, wide + 12, 52);
  context.fillStyle = INK;
  context.fillText(text, left, middle);
}

function fileFrom(canvas) {
  // Made at once, not in a callback: the form is on its way when this runs.
  const bytes = atob(canvas.toDataURL("image/png").split(",")[1]);
  const array = Uint8Array.from(bytes, (letter) => letter.charCodeAt(0));
  return new File([array], "drawing.png", { type: "image/png" });
}

function startPad(pad) {
  const canvas = pad.querySelector("canvas");
  const context = canvas.getContext("2d");
  const said = pad.querySelector(".sketch-said");
  const file = pad.querySelector("[data-sketch-file]");
  const ownWord = pad.querySelector("[data-label-text]");
  const clear = pad.querySelector("[data-clear]");
  const marks = [];
  let pen = 8;
  let stroke = null;
  let pointer = null;
  let placing = null;
  let stylusSeen = false;
  let sent = false;
  let clearAsked = false;

  const say = (text) => {
    said.textContent = text || "";
  };

  function redraw() {
    drawPaper(context, canvas);
    for (const mark of marks) {
      if (mark.points) drawStroke(context, mark);
      else drawLabel(context, mark, canvas);
    }
    if (stroke) drawStroke(context, stroke);
    if (placing?.x !== undefined) drawLabel(context, placing, canvas);
  }

  function changed() {
    sent = false;
    clearAsked = false;
    pad.dataset.marks = String(marks.length);
    redraw();
  }

  const pointOf = (event) => {
    const box = canvas.getBoundingClientRect();
    return {
      x: ((event.clientX - box.left) * canvas.width) / box.width,
      y: ((event.clientY - box.top) * canvas.height) / box.height,
    };
  };

  function startPlacing(text) {
    const word = text.trim();
    if (!word) {
      say(pad.dataset.sayWord);
      ownWord.focus();
      return;
    }
    placing = { text: word };
    canvas.classList.add("placing");
    say(`${word}: ${pad.dataset.sayPlace}`);
    canvas.focus();
  }

  function place(x, y) {
    marks.push({ text: placing.text, x, y });
    placing = null;
    canvas.classList.remove("placing");
    ownWord.value = "";
    say(pad.dataset.sayPlaced);
    changed();
  }

  function stopPlacing() {
    placing = null;
    canvas.classList.remove("placing");
    say("");
    redraw();
  }

  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || pointer !== null) return;
    if (event.pointerType === "pen") stylusSeen = true;
    // Once a stylus has drawn, a touch is the heel of a hand.
    if (event.pointerType === "touch" && stylusSeen) return;
    event.preventDefault();
    const at = pointOf(event);
    if (placing) return place(at.x, at.y);
    pointer = event.pointerId;
    canvas.setPointerCapture(pointer);
    stroke = { width: pen, points: [at] };
    say("");
    redraw();
  });

  canvas.addEventListener("pointermove", (event) => {
    if (event.pointerId !== pointer || !stroke) return;
    const moves = event.getCoalescedEvents?.() ?? [];
    for (const move of moves.length ? moves : [event]) stroke.points.push(pointOf(move));
    redraw();
  });

  function endStroke(event) {
    if (event.pointerId !== pointer) return;
    if (stroke) marks.push(stroke);
    stroke = null;
    pointer = null;
    changed();
  }
  canvas.addEventListener("pointerup", endStroke);
  canvas.addEventListener("pointercancel", endStroke);

  canvas.addEventListener("keydown", (event) => {
    if (!placing) return;
    const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!move && event.key !== "Enter" && event.key !== "Escape") return;
    event.preventDefault();
    if (event.key === "Escape") return stopPlacing();
    placing.x ??= canvas.width / 2;
    placing.y ??= canvas.height / 2;
    if (!move) return place(placing.x, placing.y);
    placing.x = Math.min(Math.max(placing.x + move[0] * STEP_PX, 0), canvas.width);
    placing.y = Math.min(Math.max(placing.y + move[1] * STEP_PX, 0), canvas.height);
    redraw();
  });

  for (const button of pad.querySelectorAll("[data-pen]")) {
    button.addEventListener("click", () => {
      pen = Number(button.dataset.pen);
      for (const other of pad.querySelectorAll("[data-pen]")) other.setAttribute("aria-pressed", other === button);
      if (placing) stopPlacing();
    });
  }
  for (const chip of pad.querySelectorAll("[data-label]")) {
    chip.addEventListener("click", () => startPlacing(chip.dataset.label));
  }
  pad.querySelector("[data-label-own]").addEventListener("click", () => startPlacing(ownWord.value));
  ownWord.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    startPlacing(ownWord.value);
  });
  pad.querySelector("[data-undo]").addEventListener("click", () => {
    if (!marks.length) return;
    marks.pop();
    say(pad.dataset.sayUndone);
    changed();
  });
  clear.addEventListener("click", () => {
    if (!marks.length) return;
    if (!clearAsked) {
      clearAsked = true;
      say(pad.dataset.sayClear);
      return;
    }
    marks.length = 0;
    changed();
    say(pad.dataset.sayCleared);
  });

  file.form.addEventListener(
    "submit",
    () => {
      const parcel = new DataTransfer();
      if (marks.length) parcel.items.add(fileFrom(canvas));
      file.files = parcel.files;
      sent = true;
    },
    { capture: true },
  );
  window.addEventListener("beforeunload", (event) => {
    if (marks.length && !sent) event.preventDefault();
  });

  pad.hidden = false;
  document.fonts?.load(LABEL_FONT).then(redraw, () => {});
  redraw();
}

for (const pad of document.querySelectorAll("[data-sketch]")) startPad(pad);
