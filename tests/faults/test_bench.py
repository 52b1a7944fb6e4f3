"""The benchmark runs to its end on a database of its own, and its figures are sane; no test of timing."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from tests.support.postgres import VARIABLE
from tests.support.server import ROOT, program_environment

pytestmark = pytest.mark.skipif(VARIABLE in os.environ, reason="has a SQLite file of its own")

WANTED = (
    "Saving a reading and showing the next screen",
    "Saving a reading until it is acknowledged",
    "A board's poll with nothing new",
    "A dashboard's redraw, class of 8 teams",
    "A dashboard's redraw, class of 40 teams",
    "Analysis of 40 teams of 10 drops",
    "Analyses made for 2 readers while nothing changed",
    "Gradebook of 200 children",
    "School day, 2 classes of 8 teams, pace × 300: errors",
    "School day, 2 classes of 8 teams, pace × 300: acknowledged and lost",
    "School day, 2 classes of 8 teams, pace × 300: 95 of 100 saves within",
    "Classes at a real pace",
    "Growth: a board's poll",
    "Growth: an export",
)


def test_the_quick_benchmark_has_every_row_loses_nothing_and_answers_everything(tmp_path):
    data = tmp_path / "real"
    data.mkdir()
    done = subprocess.run(
        [sys.executable, "manage.py", "bench", "--quick", "--json"],
        cwd=ROOT,
        env=program_environment(data),
        text=True,
        capture_output=True,
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    rows = {row["name"]: row for row in json.loads(done.stdout)["rows"]}
    for wanted in WANTED:
        assert [name for name in rows if name.startswith(wanted)], f"no row {wanted}"
    for name, row in rows.items():
        assert row["value"] is not None, name
        if name.endswith(("errors", "acknowledged and lost", "nothing changed")):
            assert row["met"], row
        if row["baseline"] is not None:
            assert row["value"] > 0, row
            assert row["baseline"] > 0, row
    print("\n" + "\n".join(f"{row['value']:10.2f} {row['unit']:9} {name}" for name, row in rows.items()))
    left = {path.name for path in data.iterdir()}
    assert left <= {"secret-key", "secret-key.lock"}, "the real data is left alone"
