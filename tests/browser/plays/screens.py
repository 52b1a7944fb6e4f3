"""What every play does on a page: fill a field by its name, tap an answer, send a form and wait for it."""

from __future__ import annotations

from collections.abc import Mapping

from playwright.sync_api import Locator, Page


def field(page: Page, name: str) -> Locator:
    """Return the field of the page's main part that a person types into, by its name."""
    return page.locator(f"main [name='{name}']:not([type=hidden])")


def fill(page: Page, values: Mapping[str, str]) -> None:
    """Type into fields by their names."""
    for name, value in values.items():
        field(page, name).fill(value)


def tap(page: Page, name: str, value: str) -> None:
    """Choose one of several answers: by the label that a finger hits, or from a list."""
    answer = page.locator(
        f"main label:has(input[name='{name}'][value='{value}']), main select[name='{name}']"
    )
    if answer.evaluate("element => element.tagName") == "SELECT":
        answer.select_option(value)
    else:
        answer.click()


def send(page: Page, button: Locator | str) -> None:
    """Press a button (or the button of that name) and wait until its form was answered and left the page."""
    target = page.get_by_role("button", name=button, exact=True) if isinstance(button, str) else button
    target.evaluate("button => (button.form || button).setAttribute('data-was-here', '')")
    target.click()
    page.locator("[data-was-here]").wait_for(state="detached", timeout=60_000)
    page.wait_for_load_state("domcontentloaded")


def tap_live(page: Page, button: Locator) -> None:
    """Press a one-tap button of a live page and wait until the live part was fetched afresh."""
    button.evaluate("button => button.setAttribute('data-was-here', '')")
    button.click()
    page.locator("[data-was-here]").wait_for(state="detached")


def follow(page: Page, link: Locator | str) -> None:
    """Follow a link (or the link of that name) and wait for the page it leads to."""
    target = page.get_by_role("link", name=link, exact=True) if isinstance(link, str) else link
    target.evaluate("link => link.setAttribute('data-was-here', '')")
    target.click()
    page.locator("[data-was-here]").wait_for(state="detached")
    page.wait_for_load_state("domcontentloaded")


def names_on(page: Page) -> list[str]:
    """Return the names of all fields in the page's main part, hidden ones too."""
    found: list[str] = page.evaluate(
        "[...new Set([...document.querySelectorAll('main [name]')].map(field => field.name))]"
    )
    return found


def table_rows(table: Locator) -> list[dict[str, str]]:
    """Return a table's rows as its heads say, what only screen readers hear left out.

    A head is cut at its comma or its unit: `Fall speed, ft/s` is `Fall speed`.
    """
    rows: list[dict[str, str]] = table.evaluate(
        """table => {
            const seen = cell => {
                const shown = cell.cloneNode(true);
                for (const hidden of shown.querySelectorAll('.sr-only')) hidden.remove();
                for (const line of shown.querySelectorAll('br')) line.replaceWith(' ');
                return shown.textContent.replace(/\\s+/g, ' ').trim();
            };
            const heads = [...table.tHead.rows[0].cells].map(cell => {
                const short = cell.cloneNode(true);
                for (const unit of short.querySelectorAll('small')) unit.remove();
                return seen(short).split(',')[0];
            });
            return [...table.tBodies].flatMap(body => [...body.rows]).map(row =>
                Object.fromEntries([...row.cells].map((cell, at) => [heads[at], seen(cell)])));
        }"""
    )
    return rows


class Fingers:
    """Hands that tap and type; `keyboard.Keys` does the same by keyboard alone."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def fill(self, values: Mapping[str, str]) -> None:
        fill(self.page, values)

    def tap(self, name: str, value: str) -> None:
        tap(self.page, name, value)

    def check(self, box: Locator) -> None:
        box.check()

    def send(self, button: Locator | str) -> None:
        send(self.page, button)

    def follow(self, link: Locator | str) -> None:
        follow(self.page, link)

    def tap_live(self, button: Locator) -> None:
        tap_live(self.page, button)
