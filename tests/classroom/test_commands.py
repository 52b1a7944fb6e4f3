"""The commands `demo` and `test` as they are typed."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.support.server import ROOT, ServedSite, program_environment


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """One demo for the whole module; the tests stop and start it."""
    site = ServedSite(tmp_path_factory.mktemp("demo"), command="demo")
    site.start()
    yield site
    site.kill()


def printed(site: ServedSite, pattern: str) -> list[str]:
    return re.findall(pattern, "".join(site.output), re.MULTILINE)


def password(site: ServedSite) -> str:
    return printed(site, r"^ +password +(\S+)")[0]


def test_the_demo_says_how_to_come_in(demo):
    assert demo.is_healthy()
    assert printed(demo, r"^ +http://127\.0\.0\.1:\d+/$")
    assert len(printed(demo, r"^ +user name +\S+$")) == 1
    assert len(password(demo)) >= 12
    assert len(printed(demo, r"^ +class code +\w+$")) == 1
    assert len(printed(demo, r"^ +team code +\w+ +\S.*$")) == 8
    assert printed(demo, r"manage\.py demo --host 0\.0\.0\.0")


def test_the_printed_password_is_the_teachers(demo):
    code = (
        "from django.contrib.auth import authenticate\n"
        f"print(json.dumps(authenticate(username={printed(demo, r'user name +(.+)')[0]!r}, "
        f"password={password(demo)!r}) is not None))"
    )
    site = ServedSite(demo.data, {"SECOND_BUILD_DEMO": "1"})
    assert site.ask_python(code) is True


def start_again(site: ServedSite) -> tuple[float, float]:
    """Stop and start the site; return the seconds until it answers and the processor's share of them."""
    assert site.stop() == 0
    began = time.monotonic()
    site.start()
    site.wait_until_healthy()
    seconds = time.monotonic() - began
    before = os.times()
    assert site.stop() == 0
    after = os.times()
    cpu_seconds = after.children_user + after.children_system - before.children_user - before.children_system
    site.start()
    return seconds, cpu_seconds


def bare_start_s(data: Path) -> float:
    """Return the processor's time for starting Django on a folder of its own and nothing else, in s."""
    before = os.times()
    ServedSite(data).run_python("")
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def test_a_second_start_takes_a_moment_keeps_the_codes_and_changes_the_password(demo, tmp_path):
    codes = printed(demo, r"^ +(?:class|team) code +(\w+)")
    old_password = password(demo)
    seconds, cpu_seconds = start_again(demo)
    assert printed(demo, r"^ +(?:class|team) code +(\w+)") == codes
    assert password(demo) != old_password
    assert "Inventing" not in "".join(demo.output)
    # How long it takes by the clock is measured where nothing else runs: tests/long/test_first_start.py.
    print(f"\na second start takes {seconds:.1f} s, {cpu_seconds:.1f} s of the processor")
    # With Django's own start, opening the class and an answer it takes four to five times as much.
    assert cpu_seconds < 8 * bare_start_s(tmp_path)


def test_fresh_starts_the_data_anew(demo):
    codes = printed(demo, r"^ +(?:class|team) code +(\w+)")
    demo.stop()
    demo.start("--fresh")
    assert "Cleared the old demo data." in "".join(demo.output)
    assert not set(codes) & set(printed(demo, r"^ +(?:class|team) code +(\w+)"))


def test_the_demo_leaves_the_real_database_and_secret_alone(demo):
    assert demo.database.exists()
    assert not (demo.data / "second-build.sqlite3").exists()
    assert not (demo.data / "secret-key").exists()


def test_export_finds_the_demos_class_without_being_told(demo, tmp_path):
    code = printed(demo, r"^ +class code +(\w+)")[0]
    done = subprocess.run(
        [sys.executable, "manage.py", "export", code, "--to", str(tmp_path)],
        cwd=ROOT,
        env=program_environment(demo.data),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert {path.name for path in tmp_path.iterdir()} == {
        "teams.csv",
        "measurements.csv",
        "trials.csv",
        "results.csv",
        "gradebook.xlsx",
    }


def test_the_demo_cannot_be_called_on_another_database(tmp_path):
    code = (
        "import django; django.setup(); from django.core.management import call_command; call_command('demo')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=program_environment(tmp_path),
        text=True,
        capture_output=True,
    )
    assert done.returncode == 1
    assert "starts from manage.py only" in done.stderr
    assert not (tmp_path / "second-build.sqlite3").exists()


QUIETLY = ("-q", "-p", "no:cacheprovider")


def run_tests(tmp_path, *arguments):
    return subprocess.run(
        [sys.executable, "manage.py", "test", *arguments],
        cwd=ROOT,
        env=program_environment(tmp_path),
        text=True,
        capture_output=True,
        timeout=300,
    )


def test_the_test_command_hands_its_arguments_to_pytest(tmp_path):
    done = run_tests(
        tmp_path, "-q", "-p", "no:cacheprovider", "tests/classroom/test_log.py", "-k", "just_the_line"
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "1 passed" in done.stdout
    assert "2 deselected" in done.stdout


def test_the_test_command_fails_when_pytest_does(tmp_path):
    done = run_tests(
        tmp_path, "-q", "-p", "no:cacheprovider", "tests/classroom/test_log.py", "-k", "nothing_such"
    )
    assert done.returncode == 5


def test_the_test_command_takes_its_own_options(tmp_path):
    options = ["--require-browser", "--long", "--collect-only"]
    done = run_tests(tmp_path, *options, *QUIETLY, "tests/classroom/test_log.py")
    assert done.returncode == 0
    assert "3 tests collected" in done.stdout


@pytest.fixture
def browser_test_without_browser(tmp_path):
    """Return a function that runs a test which wants a browser, with a PATH that has none."""
    file = tmp_path / "test_wants_a_browser.py"
    file.write_text("def test_wants_a_browser(chromium): pass\n")
    environ = program_environment(tmp_path, {"PATH": "/nowhere"})
    del environ["DJANGO_SETTINGS_MODULE"]
    environ.pop("SECOND_BUILD_CHROMIUM", None)

    def run(*arguments):
        command = [sys.executable, "-m", "pytest", *QUIETLY, "-c", str(ROOT / "pyproject.toml")]
        command += ["-p", "tests.conftest", str(file), *arguments]
        return subprocess.run(command, cwd=ROOT, env=environ, text=True, capture_output=True, timeout=300)

    return run


def test_without_a_browser_its_tests_are_skipped_and_say_why(browser_test_without_browser):
    done = browser_test_without_browser()
    assert done.returncode == 0, done.stdout + done.stderr
    assert "no Chromium on this machine" in done.stdout


def test_without_a_browser_that_is_required_its_tests_fail(browser_test_without_browser):
    done = browser_test_without_browser("--require-browser")
    assert done.returncode == 1
    assert "There is no Chromium on this machine" in done.stdout


def test_the_test_commands_help_names_its_options(tmp_path):
    done = run_tests(tmp_path, "--help")
    assert done.returncode == 0
    assert "--require-browser" in done.stdout
    assert "--long" in done.stdout
