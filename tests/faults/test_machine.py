"""What the machine does to a class that types: killed, full, locked, its clock set back, a folder read-only.

Each test shows that the fault really happened, then that every acknowledged entry is there, that the pages
said what was wrong, and that it went on without help. On PostgreSQL there are two servers, and one test more.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any

import pytest

from tests.support import postgres
from tests.support.pair import DATABASE, ServedPair
from tests.support.postgres import VARIABLE
from tests.support.server import ServedSite, copy_template
from tests.support.typing_children import TypingClass

ON_POSTGRESQL = VARIABLE in os.environ

HELD = """
from design_challenges.models import Submission
rows = Submission.objects.order_by("pk").values_list("entry_id", "outcome")
print(json.dumps([[str(entry), outcome] for entry, outcome in rows]))
"""


def assert_nothing_is_lost(site: ServedSite, children: TypingClass) -> None:
    """Hold every acknowledged entry against the rows, and the database against its own checks."""
    held = dict(site.ask_python(HELD))
    lost = [entry for entry in children.acknowledged if held.get(entry) != "saved"]
    assert children.acknowledged
    assert not lost, f"{len(lost)} of {len(children.acknowledged)} acknowledged entries are lost"
    if ON_POSTGRESQL:
        return
    with closing(sqlite3.connect(site.database)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


@pytest.fixture(scope="module")
def typing_class(served: ServedSite) -> TypingClass:
    """One class at one site for the faults after which the same servers go on."""
    return TypingClass(served)


@pytest.fixture
def children(typing_class: TypingClass) -> TypingClass:
    """That class, with nothing said to it yet; what was acknowledged before must still be there."""
    typing_class.told.clear()
    typing_class.refused.clear()
    return typing_class


def is_listening(port: int) -> bool:
    with socket.socket() as way:
        way.settimeout(2)
        return way.connect_ex(("127.0.0.1", port)) == 0


# --- killed -------------------------------------------------------------------------------------------------


KILLS = 2 if ON_POSTGRESQL else 5


def kill_group(server: ServedSite) -> None:
    """Kill all of a server's process group at once, and see to it that nothing of it lives on."""
    assert server.process
    group = os.getpgid(server.process.pid)
    assert group == server.process.pid != os.getpgid(0)
    os.killpg(group, signal.SIGKILL)
    assert server.process.wait(30) == -signal.SIGKILL
    end = time.monotonic() + 60
    while True:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return
        assert time.monotonic() < end, "something of the group lives on"
        time.sleep(0.01)


def test_sigkill_at_random_moments_under_load_loses_nothing_acknowledged(
    new_server: Callable[..., ServedSite],
) -> None:
    site = new_server()
    servers = site.servers if isinstance(site, ServedPair) else [site]
    moments = random.Random()
    children = TypingClass(site)
    with children.typing():
        for _round in range(KILLS):
            children.wait_for(8)
            time.sleep(moments.uniform(0, 0.4))
            for server in servers:
                kill_group(server)
            assert not any(is_listening(server.port) for server in servers), "nobody answers there any more"
            children.wait_for_broken()
            site.start()
        children.wait_for(8)
    assert_nothing_is_lost(site, children)
    print(f"\n{KILLS} kills, {len(children.acknowledged)} acknowledged, {children.broken} sends cut off")


@pytest.mark.skipif(not ON_POSTGRESQL, reason="needs PostgreSQL: tests/support/postgres.py")
def test_a_postgresql_that_is_killed_loses_nothing_acknowledged_and_is_found_again(
    tmp_path: Path, data_template: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy_template(data_template, tmp_path / "data")
    with postgres.cluster() as address:  # its own: other tests go on with theirs
        monkeypatch.setenv(VARIABLE, address)
        site = ServedPair(tmp_path / "data", {"DATABASE_URL": postgres.new_database()})
        site.start()
        try:
            children = TypingClass(site)
            with children.typing():
                children.wait_for(10)
                data = postgres.stop_at_once()
                told = _wait_for_503(children)
                assert not site.is_healthy(), "the health check says so"
                postgres.start_again(data)
                children.wait_for(10)
            assert site.is_healthy()
            assert "cannot reach its data" in told
            assert not children.refused, children.refused[:2]
            assert {status for status, _page in children.told} == {503}
            assert_nothing_is_lost(site, children)
        finally:
            site.kill()


# --- disk full ----------------------------------------------------------------------------------------------


@contextmanager
def small_disk(place: Path, megabytes: int) -> Iterator[Path]:
    """Give a folder on a disk of its own that holds so much and no more."""
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(place)]
    if os.getuid() != 0 and shutil.which("sudo"):
        command = ["sudo", "-n", *command]
    if shutil.which("mount") is None or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("no right to mount a small disk on this machine")
    try:
        if os.getuid() != 0:
            subprocess.run(["sudo", "-n", "chown", str(os.getuid()), str(place)], check=True)
        yield place
    finally:
        away = ["umount", "-l", str(place)]
        subprocess.run(away if os.getuid() == 0 else ["sudo", "-n", *away], check=False)


@contextmanager
def site_on_a_small_disk(tmp_path: Path, template: Path) -> Iterator[tuple[ServedSite, Path]]:
    """Start a site whose database is on a small disk, and give both."""
    if not ON_POSTGRESQL:
        with small_disk(tmp_path / "disk", 48) as disk:
            copy_template(template, disk / "data")
            site = ServedSite(disk / "data")
            site.start()
            try:
                yield site, disk
            finally:
                site.kill()
        return
    beside = Path(postgres.administer("SHOW data_directory")[0][0]).parent
    with small_disk(beside / "disk", 48) as disk:
        shutil.chown(disk, (beside / "data").owner())
        copy_template(template, tmp_path / "data")
        postgres.administer(f"CREATE TABLESPACE small LOCATION '{disk}'")
        address = postgres.new_database((template / DATABASE).read_text(encoding="ascii"), "small")
        site = ServedPair(tmp_path / "data", {"DATABASE_URL": address})
        site.start()
        try:
            yield site, disk
        finally:
            site.kill()
            name = address.rpartition("/")[2]
            postgres.administer(f"DROP DATABASE {name} WITH (FORCE)", "DROP TABLESPACE small")


def test_a_full_disk_is_said_loses_nothing_and_ends_by_itself(tmp_path: Path, data_template: Path) -> None:
    with site_on_a_small_disk(tmp_path, data_template) as (site, disk):
        children = TypingClass(site)
        with children.typing():
            children.wait_for(10)
            with (disk / "filler").open("wb", buffering=0) as filler:
                while True:
                    try:
                        filler.write(b"x" * 4096)
                    except OSError:
                        break
            assert shutil.disk_usage(disk).free == 0, "the disk is really full"
            told = _wait_for_503(children)
            assert "no room left on its disk" in told
            assert "Send it again" in told
            assert site.is_healthy(), "reading goes on"
            (disk / "filler").unlink()
            children.wait_for(10)
        assert not children.refused, children.refused[:2]
        assert_nothing_is_lost(site, children)


def _wait_for_503(children: TypingClass, seconds: float = 60) -> str:
    end = time.monotonic() + seconds
    while True:
        for status, page in list(children.told):
            if status == 503:
                return page
        assert time.monotonic() < end, [status for status, _page in children.told][-5:]
        time.sleep(0.05)


# --- database locked ----------------------------------------------------------------------------------------


@contextmanager
def locked(site: ServedSite) -> Iterator[None]:
    """Keep everybody else from writing, as another program on the database would."""
    if ON_POSTGRESQL:
        import psycopg

        with psycopg.connect(site.environ["DATABASE_URL"]) as holder:
            holder.execute("LOCK TABLE design_challenges_submission IN EXCLUSIVE MODE")
            yield
            holder.rollback()
        return
    with closing(sqlite3.connect(site.database, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        yield
        holder.execute("ROLLBACK")


def test_a_database_that_is_locked_for_seconds_keeps_tablets_waiting_and_loses_nothing(
    served: ServedSite, children: TypingClass
) -> None:
    with children.typing():
        children.wait_for(10)
        with locked(served):
            time.sleep(0.3)  # what was under way is through or waits
            before = len(children.acknowledged)
            time.sleep(3)
            assert len(children.acknowledged) == before, "nobody else writes meanwhile"
        children.wait_for(10)
    assert not children.refused
    assert not [told for told in children.told if told[0] >= 500], "a wait of seconds is no failure"
    assert_nothing_is_lost(served, children)


def test_a_database_that_is_locked_for_longer_is_said_and_a_form_can_be_sent_again(
    served: ServedSite, children: TypingClass
) -> None:
    with children.typing():
        children.wait_for(10)
        with locked(served):
            told = _wait_for_503(children)
        children.wait_for(10)
    assert "very busy" in told
    assert "It must fall slowly. Try" in told, "what was typed is on the page"
    assert 'name="entry_id"' in told, "under the entry's own id, so that it counts once"
    assert_nothing_is_lost(served, children)


# --- clock set back -----------------------------------------------------------------------------------------


@pytest.fixture
def clock(tmp_path: Path) -> dict[str, str]:
    """Variables under which a process's clock can be moved by writing seconds into CLOCK_FILE."""
    compiler = shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")
    if compiler is None or not sys.platform.startswith("linux"):
        pytest.skip("no C compiler, or no Linux: one process's clock cannot be moved")
    library = tmp_path / "clock.so"
    source = Path(__file__).with_name("clock.c")
    subprocess.run([compiler, "-shared", "-fPIC", "-O2", "-o", str(library), str(source), "-ldl"], check=True)
    (tmp_path / "clock").write_text("0")
    return {"LD_PRELOAD": str(library), "CLOCK_FILE": str(tmp_path / "clock")}


def server_time(site: ServedSite) -> float:
    """Return what the server thinks it is, in seconds, from the Date of its answers."""
    with urllib.request.urlopen(f"{site.base_url}/healthz", timeout=20) as answer:  # noqa: S310
        return parsedate_to_datetime(answer.headers["Date"]).timestamp()


def test_a_clock_that_is_set_back_loses_nothing_and_a_lesson_still_ends(
    new_server: Callable[..., ServedSite], clock: dict[str, str]
) -> None:
    site = new_server(clock)
    children = TypingClass(site)
    code = site.ask_python(
        "from classroom.models import Classroom\n"
        "from design_challenges.services.lessons import start_lesson\n"
        "room = Classroom.objects.get()\nstart_lesson(room, None)\nprint(json.dumps(room.code))"
    )
    with children.typing():
        children.wait_for(10)
        assert abs(server_time(site) - time.time()) < 5
        Path(clock["CLOCK_FILE"]).write_text(str(-7200))
        assert server_time(site) < time.time() - 7100, "the server lives two hours ago"
        children.wait_for(20)
        Path(clock["CLOCK_FILE"]).write_text(str(-40 * 86400))
        assert server_time(site) < time.time() - 39 * 86400
        children.wait_for(20)
    assert not [told for told in children.told if told[0] >= 500], children.told[:2]
    assert not children.refused, children.refused[:2]
    assert_nothing_is_lost(site, children)
    shown = site.ask_python(
        "from classroom.models import Classroom, Lesson\n"
        "from design_challenges.models import Note, Submission\n"
        "from design_challenges.services.lessons import end_lesson\n"
        "from design_challenges.services.records import find_challenge, load_class\n"
        f"room = Classroom.objects.get(code={code!r})\n"
        "lesson = room.lessons.get()\n"
        "end_lesson(lesson)\nlesson.refresh_from_db()\n"
        "klass = load_class(find_challenge(room))\n"
        "shown = [team.rounds[1].notes['purpose'].text for team in klass.teams]\n"
        "notes = Note.objects.order_by('-pk')\n"
        "newest = [notes.filter(iteration__team=team.team)[0].text for team in klass.teams]\n"
        "print(json.dumps([lesson.ended_at is not None, shown == newest]))"
    )
    assert shown == [True, True], "the lesson ended, and the newest entry counts by its row, not by its clock"


# --- photos folder read-only --------------------------------------------------------------------------------


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Make a folder one that the server cannot write into, root or not."""
    if os.getuid() != 0:
        folder.chmod(0o500)
        try:
            yield
        finally:
            folder.chmod(0o700)
        return
    bind = ["mount", "--bind", str(folder), str(folder)]
    if subprocess.run(bind, capture_output=True, check=False).returncode:
        pytest.skip("root writes into read-only folders, and there is no right to mount one here")
    try:
        subprocess.run(["mount", "-o", "remount,ro,bind", str(folder)], check=True)
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=False)


def test_a_photos_folder_that_is_read_only_is_said_and_the_rest_goes_on(
    served: ServedSite, children: TypingClass
) -> None:
    site = served
    cookie: str = site.ask_python(
        "from classroom.access import TEAM_COOKIE\n"
        "from tests import builders as b\nfrom tests.support import stages\n"
        "room = b.make_class(1, name='Drawing')\n"
        "challenge = b.make_challenge(room, drawing_required=True)\n"
        "team = room.teams.get()\nstages.play_to(challenge, team, 'drawing')\n"
        "print(json.dumps(b.team_client(team).cookies[TEAM_COOKIE].value))"
    )
    photos = site.data / "photos"
    photos.mkdir(exist_ok=True)
    with read_only(photos):
        with pytest.raises(OSError, match=r"Read-only|Permission"):
            (photos / "probe").write_text("x")
        status, page = send_drawing(site, cookie)
        assert status == 503
        assert "may not write into its own folder" in page
        assert "A picture has to be chosen again." in page
        with children.typing():
            children.wait_for(10)
    assert list(photos.iterdir()) == []
    status, _page = send_drawing(site, cookie)
    assert status == 302, "writable again, it goes on by itself"
    assert len(list(photos.iterdir())) == 1
    assert_nothing_is_lost(site, children)


def send_drawing(site: ServedSite, cookie: str) -> tuple[int, str]:
    """Send a photo as a browser without scripts does, and return the answer's status and page."""
    import io
    import uuid
    from http.client import HTTPConnection

    from PIL import Image

    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "blue").save(picture, "PNG")
    token = "a" * 32
    fields: dict[str, Any] = {
        "csrfmiddlewaretoken": token,
        "entry_id": str(uuid.uuid4()),
        "how": "photo",
    }
    mark = "----drawing"
    body = b"".join(
        f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    )
    body += f'--{mark}\r\nContent-Disposition: form-data; name="drawing"; filename="d.png"\r\n\r\n'.encode()
    body += picture.getvalue() + f"\r\n--{mark}--\r\n".encode()
    connection = HTTPConnection("127.0.0.1", site.port, timeout=60)
    connection.request(
        "POST",
        "/team/1/plan/drawing/",
        body,
        {
            "Content-Type": f"multipart/form-data; boundary={mark}",
            "Cookie": f"sb_team={cookie}; sb_csrf={token}",
        },
    )
    answer = connection.getresponse()
    page = answer.read().decode()
    connection.close()
    return answer.status, page
