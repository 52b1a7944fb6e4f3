// One screen at a time: each section names itself, and the one shown is the only one there.

export class Screens {
  constructor(page, onOpen) {
    this.sections = [...page.querySelectorAll("[data-screen]")];
    this.onOpen = onOpen;
    this.name = "turn";
    page.body.classList.add("st-scripted");
  }

  // Open a screen; its heading takes the focus unless it is shown again only because something changed.
  show(name, { quiet = false } = {}) {
    const changed = this.name !== name;
    this.name = name;
    for (const section of this.sections) section.hidden = section.dataset.screen !== name;
    document.body.dataset.screen = name;
    this.onOpen(name);
    if (quiet || !changed) return;
    window.scrollTo(0, 0);
    this.sections.find((section) => !section.hidden)?.querySelector("h2[tabindex]")?.focus({ preventScroll: true });
  }
}
