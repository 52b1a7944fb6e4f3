"""The file lock: one holder, and none once the holder is gone, however it went."""

from __future__ import annotations

import subprocess
import sys

import pytest

from classroom.filelock import FileLock, LockedElsewhereError
from tests.support.server import ROOT

HOLD = """
import sys, pathlib, time
sys.path.insert(0, {root!r})
from classroom.filelock import FileLock
with FileLock(pathlib.Path({path!r})):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def holder(tmp_path):
    """Another process that holds tmp_path / "lock"."""
    code = HOLD.format(root=str(ROOT), path=str(tmp_path / "lock"))
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.wait()


def test_a_second_process_is_refused(tmp_path, holder):
    with pytest.raises(LockedElsewhereError), FileLock(tmp_path / "lock"):
        pass


def test_a_killed_holder_holds_nothing(tmp_path, holder):
    holder.kill()
    holder.wait()
    with FileLock(tmp_path / "lock"):
        pass


def test_waiting_ends_when_the_holder_does(tmp_path, holder):
    holder.terminate()
    with FileLock(tmp_path / "lock", wait_s=10):
        pass


def test_it_can_be_taken_again_after_it_was_let_go(tmp_path):
    lock = FileLock(tmp_path / "lock")
    for _ in range(2):
        with lock:
            pass
    with lock.take():
        pass
    lock.take().let_go()
    with FileLock(tmp_path / "lock"):
        pass
