"""Hands that have nothing but a keyboard: Tab, arrows, Space, Enter and typing, and that see the focus."""

from __future__ import annotations

from collections.abc import Mapping

from playwright.sync_api import Locator, Page

from tests.browser.plays.screens import Fingers, field

STOPS_AT_MOST = 200

# The mark round what has the focus is drawn by the element itself or by the tile that it stands in.
STOP = """() => {
    const element = document.activeElement;
    const marked = node => {
        const style = getComputedStyle(node);
        return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
    };
    const tile = element.closest('label');
    const box = (tile || element).getBoundingClientRect();
    return {
        tag: element.tagName.toLowerCase(),
        what: element.outerHTML.slice(0, 140),
        top: element === document.body,
        seen: marked(element) || (tile !== null && marked(tile)),
        inView: box.width > 0 && box.height > 0 && box.bottom > 0 && box.top < innerHeight
            && box.right > 0 && box.left < innerWidth,
    };
}"""
SLID_IN = """async () => {
    const moving = document.activeElement.getAnimations();
    await Promise.all(moving.map(one => one.finished.catch(() => {})));
}"""
TABBABLE = """() => {
    const things = 'a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex="0"]';
    const stops = element => {
        if (element.type !== 'radio' || element.checked) return true;
        const group = [...element.form.elements].filter(one => one.name === element.name);
        return !group.some(one => one.checked) && group[0] === element;
    };
    return [...document.querySelectorAll(things)].filter(element => element.tabIndex >= 0
        && !element.disabled && element.checkVisibility() && stops(element)).length;
}"""


class Keys(Fingers):
    """A keyboard on a page; `stops` counts how often Tab was pressed."""

    def __init__(self, page: Page) -> None:
        super().__init__(page)
        self.stops = 0

    def _tab(self) -> None:
        """Go one stop on; whatever has the focus then must show that it has."""
        self.page.keyboard.press("Tab")
        self.stops += 1
        stop = self.page.evaluate(STOP)
        if not (stop["top"] or stop["inView"]):
            self.page.evaluate(SLID_IN)
            stop = self.page.evaluate(STOP)
        if not stop["top"]:
            assert stop["seen"], f"nothing shows where the focus is: {stop['what']}"
            assert stop["inView"], f"the focus is out of sight: {stop['what']}"

    def go_to(self, target: Locator) -> None:
        """Tab until the target has the focus."""
        for _ in range(STOPS_AT_MOST):
            if target.evaluate("element => element === document.activeElement"):
                return
            self._tab()
        raise AssertionError(f"Tab does not come to {target}")

    def fill(self, values: Mapping[str, str]) -> None:
        for name, value in values.items():
            self.go_to(field(self.page, name))
            self.page.keyboard.press("Control+a")
            self.page.keyboard.press("Delete")
            self.page.keyboard.type(value)

    def tap(self, name: str, value: str) -> None:
        """Choose one of several answers, with the arrows and Space, or from a list."""
        menu = self.page.locator(f"main select[name='{name}']")
        if menu.count():
            return self._from_list(menu, value)
        wanted = self.page.locator(f"main input[name='{name}'][value='{value}']")
        group = "element => document.activeElement.name === element.name"
        for _ in range(STOPS_AT_MOST):
            if wanted.evaluate(group):
                break
            self._tab()
        for _ in range(20):
            if wanted.evaluate("element => element === document.activeElement"):
                break
            self.page.keyboard.press("ArrowDown")
        if not wanted.is_checked():
            self.page.keyboard.press("Space")
        assert wanted.is_checked(), f"the keyboard cannot choose {value}"
        return None

    def _from_list(self, menu: Locator, value: str) -> None:
        self.go_to(menu)
        label = menu.locator(f"option[value='{value}']").inner_text()
        if menu.input_value() != value:
            self.page.keyboard.type(label)
        assert menu.input_value() == value, f"the keyboard cannot choose {label}"

    def check(self, box: Locator) -> None:
        self.go_to(box)
        self.page.keyboard.press("Space")
        assert box.is_checked()

    def _press(self, target: Locator, *, wait: bool = True) -> None:
        mark = "element => (element.form || element).setAttribute('data-was-here', '')"
        self.go_to(target)
        target.evaluate(mark)
        self.page.keyboard.press("Enter")
        self.page.locator("[data-was-here]").wait_for(state="detached")
        if wait:
            self.page.wait_for_load_state("domcontentloaded")

    def send(self, button: Locator | str) -> None:
        self._press(
            self.page.get_by_role("button", name=button, exact=True) if isinstance(button, str) else button
        )

    def follow(self, link: Locator | str) -> None:
        self._press(self.page.get_by_role("link", name=link, exact=True) if isinstance(link, str) else link)

    def tap_live(self, button: Locator) -> None:
        self.go_to(button)
        button.evaluate("button => button.setAttribute('data-was-here', '')")
        self.page.keyboard.press("Enter")
        self.page.locator("[data-was-here]").wait_for(state="detached")


def tab_round(page: Page) -> int:
    """Tab once through the whole page and back to its top; return the number of stops.

    The first stop is the way past the header, every stop shows that it has the focus, none holds it,
    and all that can be used is one of them.
    """
    keys = Keys(page)
    page.evaluate("document.activeElement.blur(); getSelection().removeAllRanges(); scrollTo(0, 0)")
    page.keyboard.press("Tab")
    for _ in range(50):
        # From wherever the page put the focus on to its end, and round to the top.
        if page.evaluate("document.activeElement.matches('.skip-link')"):
            break
        page.keyboard.press("Shift+Tab")
    assert page.evaluate("document.activeElement.matches('.skip-link')"), "no way past the header comes first"
    stops = 1
    most = page.evaluate(TABBABLE)
    # At the end the focus goes to the browser's own bar, or straight round to the top.
    at_the_end = "document.activeElement === document.body || document.activeElement.matches('.skip-link')"
    while stops <= most + 5:
        keys._tab()
        if page.evaluate(at_the_end):
            break
        stops += 1
    assert page.evaluate(at_the_end), "the focus does not come round"
    assert stops >= most, f"{stops} stops, {most} things to use"
    for _ in range(2):
        if page.evaluate(at_the_end):
            page.keyboard.press("Shift+Tab")
    assert not page.evaluate(at_the_end), "there is no way back"
    return stops
