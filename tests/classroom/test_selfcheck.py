"""The self-check says what is well and what is not; where a database file may not lie."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from classroom.data_place import file_system, place_problem
from tests.support.server import ROOT, copy_template, program_environment

MOUNTS = """/dev/vda1 / ext4 rw 0 0
tmpfs /tmp tmpfs rw 0 0
files.school:/home /home nfs4 rw 0 0
//files/share /mnt/my\\040share cifs rw 0 0
/dev/vdb1 /home/local ext4 rw 0 0
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/srv/second-build/data", "ext4"),
        ("/home/office/data", "nfs4"),
        ("/home/local/data", "ext4"),
        ("/mnt/my share/data", "cifs"),
        ("/homework/data", "ext4"),
    ],
)
def test_a_folder_lies_on_the_nearest_mount_above_it(folder, kind):
    assert file_system(Path(folder), MOUNTS) == kind
    assert bool(place_problem(Path(folder), MOUNTS)) is (kind in ("nfs4", "cifs"))


@pytest.mark.parametrize("name", ["OneDrive - Our School", "Dropbox", "Google Drive", "Nextcloud"])
def test_a_folder_that_is_copied_elsewhere_while_it_is_written_is_no_place(name):
    assert "is not synced" in place_problem(Path(f"/srv/{name}/second-build/data"), MOUNTS)
    assert not place_problem(Path("/srv/drive-in/data"), MOUNTS)


def selfcheck(data):
    return subprocess.run(
        [sys.executable, "manage.py", "selfcheck"],
        cwd=ROOT,
        env=program_environment(data),
        text=True,
        capture_output=True,
        timeout=600,
        check=False,
    )


def test_it_says_what_is_well_and_what_is_not(tmp_path, data_template):
    data = tmp_path / "data"
    copy_template(data_template, data)
    well = selfcheck(data)
    assert well.returncode == 0, well.stdout + well.stderr
    assert "All is well." in well.stdout
    assert "LOOK" not in well.stdout

    (data / "secret-key").chmod(0o644)
    open_key = selfcheck(data)
    assert open_key.returncode == 1
    assert "Others on this machine can read" in open_key.stdout

    (data / "secret-key").chmod(0o600)
    (data / "second-build.sqlite3").write_bytes(b"torn" * 5000)
    torn = selfcheck(data)
    assert torn.returncode == 1
    assert "It does not answer" in torn.stdout


def test_a_new_folder_is_told_to_serve_first(tmp_path):
    fresh = selfcheck(tmp_path / "fresh")
    assert fresh.returncode == 1
    assert "Has `serve` run once?" in fresh.stdout
