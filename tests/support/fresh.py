"""How soon a live page shows what is new, counted in its own polls: a slow machine is no failure."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Page

# A page asks every second: the question that is under way as something is saved, and the one after it.
EVERY_S = 1
POLLS_AT_MOST = 2
PERIODS = """() => [...document.querySelectorAll("[hx-trigger]")].map((part) =>
    Number(/every (\\d+)s/.exec(part.getAttribute("hx-trigger"))?.[1] ?? 0)).filter(Boolean)"""
WATCH = """([selector, texts]) => {
    const watch = window.watch = {asked: 0, since: 0, shown: null};
    document.addEventListener("htmx:beforeRequest", ({detail}) => {
        if (detail.requestConfig.verb === "get") watch.asked += 1;
    });
    const textOf = (place) => place.textContent.replace(/\\s+/g, " ");
    const isShown = (place) => texts.every((text) => textOf(place).includes(text));
    const look = () => {
        if ([...document.querySelectorAll(selector)].some(isShown)) watch.shown ??= watch.asked;
    };
    new MutationObserver(look).observe(document.body, {childList: true, subtree: true, characterData: true});
    look();
    return watch.shown !== null;
}"""


@contextmanager
def fresh(page: Page, selector: str, *texts: str) -> Iterator[None]:
    """Hold a live page to showing what the block saves with the next question that it asks by itself.

    A place that `selector` finds must have all `texts` then, and none may have them before.
    """
    assert not _watch(page, selector, texts), f"{texts} is there already"
    yield
    page.evaluate("() => { watch.since = watch.asked; }")
    assert _polls(page) <= POLLS_AT_MOST, f"{texts} came late"


def polls_until(page: Page, selector: str, *texts: str) -> int:
    """Return how often a live page asks from now on until a place that `selector` finds has all `texts`."""
    _watch(page, selector, texts)
    return _polls(page)


def _watch(page: Page, selector: str, texts: tuple[str, ...]) -> bool:
    assert min(page.evaluate(PERIODS)) <= EVERY_S
    return bool(page.evaluate(WATCH, [selector, list(texts)]))


def _polls(page: Page) -> int:
    page.wait_for_function("() => watch.shown !== null")
    return int(page.evaluate("() => watch.shown - watch.since"))
