"""Options and fixtures of the whole test suite."""

from __future__ import annotations

import hypothesis
import pytest

# A loaded machine is no failure: no example has to finish in a given time.
hypothesis.settings.register_profile("house", deadline=None)
hypothesis.settings.load_profile("house")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="run the tests that take minutes, too")
    parser.addoption("--require-browser", action="store_true", help="fail where there is no Chromium")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--long"):
        return
    for item in items:
        if "long" in item.keywords:
            item.add_marker(pytest.mark.skip(reason="takes minutes: give --long"))
