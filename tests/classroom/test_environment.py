"""What the settings read from the machine: the data folder, its secret key, yes and no."""

from __future__ import annotations

import os
import stat
import subprocess
import sys

import pytest

from classroom.environment import data_folder, secret_key, switch, words
from tests.support.server import ROOT


@pytest.mark.parametrize(
    ("text", "value"),
    [("1", True), ("Yes", True), (" on ", True), ("0", False), ("", False), ("FALSE", False)],
)
def test_a_switch_reads_yes_and_no(monkeypatch, text, value):
    monkeypatch.setenv("SECOND_BUILD_HTTPS", text)
    assert switch("SECOND_BUILD_HTTPS") is value


def test_a_switch_that_is_neither_is_refused_rather_than_guessed(monkeypatch):
    monkeypatch.setenv("SECOND_BUILD_HTTPS", "treu")
    with pytest.raises(ValueError, match="SECOND_BUILD_HTTPS must be 1 or 0"):
        switch("SECOND_BUILD_HTTPS")


def test_words_are_split_at_commas(monkeypatch):
    monkeypatch.setenv("SECOND_BUILD_HOSTS", "a.example, b.example,,")
    assert words("SECOND_BUILD_HOSTS") == ["a.example", "b.example"]
    monkeypatch.delenv("SECOND_BUILD_HOSTS")
    assert words("SECOND_BUILD_HOSTS") == []


def test_the_data_folder_is_beside_manage_py_unless_it_is_named(tmp_path, monkeypatch):
    monkeypatch.delenv("SECOND_BUILD_DATA")
    assert data_folder(tmp_path) == tmp_path / "data"
    monkeypatch.setenv("SECOND_BUILD_DATA", str(tmp_path / "named"))
    assert data_folder(tmp_path) == tmp_path / "named"
    assert data_folder(tmp_path, demo=True) == tmp_path / "named" / "demo"
    assert (tmp_path / "named" / "demo").is_dir()


def test_the_secret_key_is_made_once_and_only_its_owner_can_read_it(tmp_path):
    key = secret_key(tmp_path)
    assert len(key) >= 64
    assert secret_key(tmp_path) == key
    assert {path.name for path in tmp_path.iterdir()} == {"secret-key", "secret-key.lock"}
    if os.name != "nt":
        assert stat.S_IMODE((tmp_path / "secret-key").stat().st_mode) == 0o600


def test_two_installations_have_two_keys(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert secret_key(tmp_path / "a") != secret_key(tmp_path / "b")


def test_a_key_file_that_was_cut_off_is_replaced(tmp_path):
    (tmp_path / "secret-key").write_text("abc")
    assert len(secret_key(tmp_path)) >= 64


def test_first_starts_at_the_same_moment_agree_on_one_key(tmp_path):
    code = (
        f"import sys, pathlib; sys.path.insert(0, {str(ROOT)!r})\n"
        f"from classroom.environment import secret_key; print(secret_key(pathlib.Path({str(tmp_path)!r})))"
    )
    starts = [
        subprocess.Popen([sys.executable, "-S", "-c", code], text=True, stdout=subprocess.PIPE)
        for _ in range(6)
    ]
    keys = {start.communicate(timeout=60)[0] for start in starts}
    assert len(keys) == 1
    assert len(keys.pop()) > 64
