"""Options and fixtures of the whole test suite."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import hypothesis
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tests.support.browser import PageMaker, axe_violations, find_chromium, launch
from tests.support.pair import make_site, make_template
from tests.support.server import ServedSite

# Minutes each.
LONGEST_FIRST = ("test_every_page.py", "test_whole_class.py")
# A loaded machine is no failure: no example has to finish in a given time.
hypothesis.settings.register_profile("house", deadline=None)
hypothesis.settings.load_profile("house")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="run the tests that take minutes, too")
    parser.addoption("--mix", metavar="FIRST-LAST", help="which runs of the mix of faults, such as 25-49")
    parser.addoption(
        "--require-browser",
        action="store_true",
        help="fail where there is no Chromium, and no LibreOffice for the spreadsheet",
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    with_browser, with_database = set(), set()
    for item in items:
        fixtures = getattr(item, "fixturenames", ())
        if "chromium" in fixtures:
            item.add_marker(pytest.mark.browser)
            with_browser.add(item.path)
        elif not {"db", "transactional_db"}.isdisjoint(fixtures) or item.get_closest_marker("django_db"):
            with_database.add(item.path)
        if "long" in item.keywords and not config.getoption("--long"):
            item.add_marker(pytest.mark.skip(reason="takes minutes: give --long"))
    # Playwright keeps an event loop in this thread, beside which Django's ORM refuses to work: files with a
    # browser go last, whole, so that several workers (which share the suite out file by file) may run it too.
    for path in sorted(with_browser & with_database):
        raise pytest.UsageError(f"{path} has tests of the database and of the browser: make it two files.")
    # The longest of them first: who begins them last keeps the other workers waiting.
    order = {name: place for place, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: (item.path in with_browser, order.get(item.path.name, len(order))))


def _missing(request: pytest.FixtureRequest, what: str) -> None:
    if request.config.getoption("--require-browser"):
        pytest.fail(f"There is no {what} on this machine, and --require-browser was given.")
    pytest.skip(f"no {what} on this machine")


@pytest.fixture(scope="session")
def data_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with an empty database and built static files, made once."""
    folder = tmp_path_factory.mktemp("template")
    make_template(folder)
    return folder


@pytest.fixture
def new_server(tmp_path: Path, data_template: Path) -> Iterator[Callable[..., ServedSite]]:
    """Return a function that starts a server on an empty database: `new_server()`.

    `new_server({"SECOND_BUILD_HTTPS": "1"})` gives it variables of its own.
    """
    sites: list[ServedSite] = []

    def make(extra_environment: dict[str, str] | None = None) -> ServedSite:
        site = make_site(data_template, tmp_path / f"data-{len(sites)}", extra_environment)
        sites.append(site)
        site.start()
        return site

    yield make
    for site in sites:
        site.kill()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, data_template: Path) -> Iterator[ServedSite]:
    """One server for all tests of a module, on a database that is empty at first."""
    site = make_site(data_template, tmp_path_factory.mktemp("served"))
    site.start()
    yield site
    site.kill()


@pytest.fixture
def half_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    """No half minute ends in this test: then a dashboard is sent anew, for the times on it have grown old."""
    from design_challenges.views import live

    now = live.time()
    monkeypatch.setattr(live, "time", lambda: now)


@pytest.fixture(scope="session")
def chromium(request: pytest.FixtureRequest) -> Iterator[Browser]:
    """The browser."""
    path = find_chromium()
    if path is None:
        _missing(request, "Chromium")
        return
    with sync_playwright() as playwright:
        browser = launch(playwright, path)
        yield browser
        browser.close()


@pytest.fixture
def new_page(chromium: Browser) -> Iterator[PageMaker]:
    """Return a function that opens a page on a device of its own: `new_page()`, `new_page(PHONE)`."""
    maker = PageMaker(chromium)
    yield maker
    faults = maker.close()
    assert not faults, "\n".join(faults)


@pytest.fixture
def page(new_page: PageMaker) -> Page:
    """A page on a tablet of its own."""
    return new_page()


@pytest.fixture(scope="session")
def axe() -> Callable[[Page], list[str]]:
    """`axe(page)` returns what axe-core finds: `assert axe(page) == []`."""
    return axe_violations


@pytest.fixture(scope="session")
def soffice(request: pytest.FixtureRequest) -> str:
    """The path of LibreOffice's command."""
    path = shutil.which("soffice") or shutil.which("libreoffice")
    if path is None:
        _missing(request, "LibreOffice")
    return str(path)
