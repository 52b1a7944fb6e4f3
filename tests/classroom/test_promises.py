"""The promises of DEVELOPERS.md each name a test, and that test is there."""

from __future__ import annotations

import ast
import re

import pytest
from django.apps import apps
from django.test import Client

from tests.support.access import ROWS
from tests.support.server import ROOT

NAMED = re.compile(r"`(tests/[\w/]+\.py)::(test_\w+)`")


def section(title: str) -> str:
    """Return a section of DEVELOPERS.md."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.split(f"\n## {title}\n", 1)[1].split("\n## ", 1)[0]


@pytest.mark.parametrize(("title", "least"), [("SECURITY", 25), ("TECHNICIAN", 8), ("DISTRICT", 8)])
def test_every_promise_of_a_section_names_a_test_that_is_there(title: str, least: int) -> None:
    rows = [line for line in section(title).splitlines() if line.startswith("| ")][2:]
    assert len(rows) > least
    for row in rows:
        named = NAMED.findall(row)
        assert named, row
        for path, name in named:
            tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
            there = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
            assert name in there, f"{path} has no {name}"


@pytest.mark.django_db
def test_there_are_no_pages_that_show_tables_to_an_administrator(admin_client: Client) -> None:
    assert not apps.is_installed("django.contrib.admin")
    assert admin_client.get("/admin/").status_code == 404
    assert not [row.name for row in ROWS if row.name.startswith("admin")]
