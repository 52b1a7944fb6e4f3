"""Getting ready: static files with the real storage, the database, and nothing done twice."""

from __future__ import annotations

import gzip
import json
import re
import shutil
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone

from classroom import startup
from tests.support.server import ROOT, copy_template, program_environment

BUILD = "import django, json; django.setup()\nfrom classroom import startup\n"


def run(data: Path, code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", BUILD + code],
        cwd=ROOT,
        env=program_environment(data),
        text=True,
        capture_output=True,
        timeout=600,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.fixture
def data(tmp_path, data_template) -> Path:
    copy_template(data_template, tmp_path / "data")
    return tmp_path / "data"


def test_every_static_file_is_named_by_its_content_and_compressed(data_template):
    built = data_template / "static-built"
    names = json.loads((built / "staticfiles.json").read_text())["paths"]
    assert "css/base.css" in names
    for name, hashed in names.items():
        assert re.search(r"\.[0-9a-f]{12}(\.|$)", hashed), name
        assert (built / hashed).exists()
    style = built / names["css/base.css"]
    assert gzip.decompress(Path(f"{style}.gz").read_bytes()) == style.read_bytes()
    assert Path(f"{style}.br").exists()


def test_imports_between_scripts_lead_to_the_hashed_files(data_template):
    built = data_template / "static-built"
    names = json.loads((built / "staticfiles.json").read_text())["paths"]
    own = [built / hashed for name, hashed in names.items() if re.fullmatch(r"js/[^/]+\.js", name)]
    assert own
    for script in own:
        for found in re.findall(r"""^\s*import[^'"]*['"](\./[^'"]+)['"]""", script.read_text(), re.MULTILINE):
            assert re.search(r"\.[0-9a-f]{12}\.js$", found), f"{script.name} imports {found}"


def test_nothing_is_done_twice(data):
    assert run(data, "print(startup.build_static_files(), startup.migrate())") == "False False"


def test_a_build_that_was_cut_off_is_done_again(data):
    (data / "static-built" / startup.STAMP).unlink()
    assert run(data, "print(startup.build_static_files(), startup.build_static_files())") == "True False"


def test_a_lost_build_is_made_anew(data):
    shutil.rmtree(data / "static-built")
    assert run(data, "print(startup.build_static_files())") == "True"
    assert (data / "static-built" / "staticfiles.json").exists()


def test_an_empty_folder_gets_a_whole_database(tmp_path):
    said = run(
        tmp_path,
        "print(startup.migrate(), startup.migrate())\n"
        "from django.db import connection\n"
        "print(json.dumps(connection.introspection.table_names()))",
    ).splitlines()
    assert said[0] == "True False"
    tables = json.loads(said[1])
    assert "classroom_installation" in tables
    assert any(name.startswith("design_challenges_") for name in tables)


@pytest.mark.django_db
def test_only_sessions_that_ran_out_are_forgotten():
    for key, days in (("old", -1), ("new", 1)):
        Session.objects.create(session_key=key, session_data="", expire_date=timezone.now() + timedelta(days))
    startup.forget_old_sessions()
    assert [session.session_key for session in Session.objects.all()] == ["new"]
