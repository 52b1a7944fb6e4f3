// Buttons for the parts of an inch write into the length's box, and show what stands there.

const PART = /(?:^|[\s-])(\d+\/\d+)\s*$/;

function prepare(group) {
  const box = document.getElementById(group.dataset.parts);
  if (!box || group.dataset.ready) return;
  group.dataset.ready = "yes";
  const buttons = [...group.querySelectorAll("input")];
  const show = () => {
    const part = box.value.match(PART)?.[1];
    for (const button of buttons) button.checked = button.value === (part ?? "");
  };
  // Where the buttons are shown a keypad is enough: the slash is on them.
  if (getComputedStyle(group).display !== "none") box.inputMode = "decimal";
  box.addEventListener("input", show);
  for (const button of buttons) {
    button.addEventListener("change", () => {
      const whole = box.value.replace(PART, "").trim();
      box.value = button.value === "0" ? whole : `${whole} ${button.value}`.trim();
    });
  }
  show();
}

for (const group of document.querySelectorAll("[data-parts]")) prepare(group);
