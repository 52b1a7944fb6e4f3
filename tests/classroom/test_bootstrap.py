"""The first start: .venv is made beside manage.py, once, whole, and nothing goes anywhere else.

A tiny project with a build back-end of its own stands in for the real one, so that no test needs a network;
tests/long does it with the real one.
"""

from __future__ import annotations

import ast
import json
import os
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from classroom import bootstrap
from classroom.bootstrap import Environment, SetUpError, extras_for

ROOT = Path(__file__).resolve().parents[2]

BACKEND = """
import zipfile, pathlib
def _wheel(folder, tags=()):
    name = "tiny_stand_in-1.0-py3-none-any.whl"
    info = "tiny_stand_in-1.0.dist-info"
    extras = "Provides-Extra: test\\nProvides-Extra: postgres\\n"
    files = {
        "tiny_stand_in.pth": str(pathlib.Path(__file__).parent) + "\\n",
        info + "/METADATA": "Metadata-Version: 2.1\\nName: tiny-stand-in\\nVersion: 1.0\\n" + extras,
        info + "/WHEEL": "Wheel-Version: 1.0\\nGenerator: own\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n",
    }
    files[info + "/RECORD"] = "".join(f"{path},,\\n" for path in [*files, info + "/RECORD"])
    with zipfile.ZipFile(pathlib.Path(folder) / name, "w") as wheel:
        for path, text in files.items():
            wheel.writestr(path, text)
    return name
def build_wheel(folder, config_settings=None, metadata_directory=None): return _wheel(folder)
def build_editable(folder, config_settings=None, metadata_directory=None): return _wheel(folder)
"""


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A project without dependencies, which pip can install without a network."""
    return make_project(tmp_path / "place with a blank")


def make_project(root: Path) -> Path:
    root.mkdir()
    (root / "backend.py").write_text(BACKEND)
    write_project(root, [])
    return root


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A project whose environment is made, and a copy to put in its place again: making takes seconds."""
    folder = tmp_path_factory.mktemp("made")
    root = make_project(folder / "place with a blank")
    Environment(root).make_ready(set())
    shutil.copytree(root, folder / "as made", symlinks=True)
    return root, folder / "as made"


@pytest.fixture
def made(made_once: tuple[Path, Path]) -> Environment:
    """An environment that is ready, as it was made."""
    root, copy = made_once
    shutil.rmtree(root, ignore_errors=True)
    shutil.copytree(copy, root, symlinks=True)
    environment = Environment(root)
    assert environment.is_ready(set())
    return environment


def write_project(root: Path, dependencies: list[str]) -> None:
    (root / "pyproject.toml").write_text(
        textwrap.dedent(f"""
            [build-system]
            requires = []
            build-backend = "backend"
            backend-path = ["."]
            [project]
            name = "tiny-stand-in"
            version = "1.0"
            dependencies = {json.dumps(dependencies)}
            [project.optional-dependencies]
            test = []
            postgres = []
        """)
    )


def installed(environment: Environment) -> str:
    """Return the names of the packages that the environment's Python sees."""
    code = "import importlib.metadata as m; print([d.metadata['Name'] for d in m.distributions()])"
    return subprocess.run([environment.python, "-I", "-c", code], text=True, stdout=subprocess.PIPE).stdout


def test_it_makes_an_environment_and_installs_the_project_there(project):
    environment = Environment(project)
    assert not environment.is_ready(set())
    environment.make_ready(set())
    assert environment.is_ready(set())
    assert "tiny-stand-in" in installed(environment)
    assert not environment.unfinished.exists()


def test_a_second_start_installs_nothing(made, capfd):
    capfd.readouterr()
    before = made.stamp.stat().st_mtime_ns
    made.make_ready(set())
    assert made.stamp.stat().st_mtime_ns == before
    assert capfd.readouterr() == ("", "")


def test_the_tests_extras_are_installed_when_they_are_asked_for_and_then_stay(made):
    assert not made.is_ready({"test"})
    made.make_ready({"test"})
    assert made.is_ready({"test"})
    assert made.is_ready(set())
    write_project(made.root, ["tiny-stand-in"])
    assert not made.is_ready(set())
    made.make_ready(set())
    assert made.is_ready({"test"})


def test_an_environment_that_an_interrupted_start_left_half_made_is_made_again(project):
    environment = Environment(project)
    environment.folder.mkdir()
    environment.unfinished.touch()
    (environment.folder / "lib").mkdir()
    (environment.folder / "left-over").touch()
    environment.make_ready(set())
    assert environment.is_ready(set())
    assert not (environment.folder / "left-over").exists()


def test_an_environment_whose_python_is_gone_is_made_again(made):
    made.python.unlink()
    assert not made.is_ready(set())
    made.make_ready(set())
    assert "tiny-stand-in" in installed(made)


def test_an_environment_whose_python_does_not_run_is_made_again(made):
    made.stamp.unlink()
    made.python.unlink()
    made.python.write_text("not a program")
    made.make_ready(set())
    assert "tiny-stand-in" in installed(made)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"fingerprint": 1}', '{"extras": []}'])
def test_a_stamp_that_cannot_be_read_counts_as_none(made, text):
    made.stamp.write_text(text)
    assert not made.is_ready(set())


def test_new_requirements_and_a_moved_folder_need_a_new_installation(made):
    project = made.root
    moved = project.with_name("elsewhere")
    project.rename(moved)
    assert not Environment(moved).is_ready(set())
    moved.rename(project)
    assert made.is_ready(set())
    write_project(project, ["tiny-stand-in"])
    assert not made.is_ready(set())


def test_a_failed_installation_says_what_to_do_and_can_be_tried_again(project):
    write_project(project, ["tiny-absent @ file:///nowhere/tiny_absent-1.0-py3-none-any.whl"])
    environment = Environment(project)
    # The stand-in's wheel names no requirement, so pip is made to fail by a back-end that does.
    (project / "backend.py").write_text("def build_editable(*a, **k): raise SystemExit('no')\n")
    with pytest.raises(SetUpError, match="start the same command again"):
        environment.make_ready(set())
    assert not environment.is_ready(set())
    (project / "backend.py").write_text(BACKEND)
    environment.make_ready(set())
    assert environment.is_ready(set())


def test_without_ensurepip_the_machines_own_pip_installs(project):
    code = f"""
import sys, pathlib
sys.path.insert(0, {str(ROOT)!r})
sys.modules["ensurepip"] = None  # as on a system that ships it in a package of its own
from classroom.bootstrap import Environment
Environment(pathlib.Path({str(project)!r})).make_ready(set())
"""
    done = subprocess.run([sys.executable, "-c", code], text=True, capture_output=True)
    assert done.returncode == 0, done.stderr
    environment = Environment(project)
    assert environment.is_ready(set())
    assert "tiny-stand-in" in installed(environment)
    assert "pip" not in installed(environment).replace("tiny-stand-in", "")


def test_without_pip_as_well_it_says_how_to_get_it(project):
    code = f"""
import sys, pathlib
sys.path.insert(0, {str(ROOT)!r})
sys.modules["ensurepip"] = None
sys.modules["pip"] = None
from classroom.bootstrap import Environment, SetUpError
try:
    Environment(pathlib.Path({str(project)!r})).make_ready(set())
except SetUpError as error:
    print(error)
"""
    done = subprocess.run([sys.executable, "-c", code], text=True, capture_output=True)
    assert "python3-venv" in done.stdout
    assert "python.org" in done.stdout


def test_settings_that_send_packages_elsewhere_are_not_followed(project, tmp_path, monkeypatch):
    for name in ("PIP_TARGET", "PIP_PREFIX"):
        monkeypatch.setenv(name, str(tmp_path / "elsewhere"))
    monkeypatch.setenv("PIP_USER", "1")
    environment = Environment(project)
    environment.make_ready(set())
    assert "tiny-stand-in" in installed(environment)
    assert not (tmp_path / "elsewhere").exists()


def test_nothing_is_installed_into_the_python_that_started_it(project):
    code = "import importlib.metadata as m; print(sorted(d.metadata['Name'] for d in m.distributions()))"
    before = subprocess.check_output([sys.executable, "-I", "-c", code])
    Environment(project).make_ready(set())
    assert subprocess.check_output([sys.executable, "-I", "-c", code]) == before


def test_two_starts_at_once_install_once(project):
    code = f"""
import sys, pathlib
sys.path.insert(0, {str(ROOT)!r})
from classroom.bootstrap import Environment
Environment(pathlib.Path({str(project)!r})).make_ready(set())
"""
    starts = [
        subprocess.Popen([sys.executable, "-c", code], text=True, stderr=subprocess.PIPE) for _ in range(2)
    ]
    said = [start.communicate(timeout=120)[1] for start in starts]
    assert [start.returncode for start in starts] == [0, 0]
    assert sum("Making a Python environment" in text for text in said) == 1
    assert sum("waiting for it" in text for text in said) == 1


def test_only_the_test_command_and_a_postgresql_address_ask_for_more():
    assert extras_for(["manage.py", "demo"], "") == set()
    assert extras_for(["manage.py", "test", "-k", "x"], "") == {"test"}
    assert extras_for(["manage.py"], "") == set()
    assert extras_for(["manage.py", "serve"], "postgres://somewhere/else") == {"postgres"}
    assert extras_for(["manage.py", "serve"], "sqlite:///somewhere") == set()


def test_manage_py_can_be_read_by_an_old_python():
    source = (ROOT / "manage.py").read_text(encoding="utf-8")
    source.encode("ascii")
    tree = ast.parse(source, feature_version=(3, 4))
    kinds = {type(node) for node in ast.walk(tree)}
    assert not kinds & {ast.JoinedStr, ast.AnnAssign, ast.NamedExpr, ast.Match, ast.AsyncFunctionDef}


def test_an_old_python_is_told_what_is_needed():
    code = f"""
import collections, runpy, sys
kind = collections.namedtuple("v", "major minor micro releaselevel serial")
sys.version_info = kind(3, 9, 2, "final", 0)
sys.argv = ["manage.py", "demo"]
runpy.run_path({str(ROOT / "manage.py")!r}, run_name="__main__")
"""
    done = subprocess.run([sys.executable, "-c", code], text=True, capture_output=True)
    assert done.returncode == 1
    assert "Python 3.11 or newer" in done.stderr
    assert "manage.py demo" in done.stderr


def test_an_environment_that_is_a_link_to_another_copy_s_is_refused_and_left_alone(project, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    (other / "kept").write_text("another copy's")
    (project / ".venv").symlink_to(other, target_is_directory=True)
    with pytest.raises(SetUpError, match="is a link to somewhere else"):
        Environment(project).refuse_link()
    code = (
        "import sys, pathlib; sys.path.insert(0, sys.argv[1]); from classroom import bootstrap;"
        "bootstrap.ROOT = pathlib.Path(sys.argv[2]); sys.exit(bootstrap.main(['manage.py', 'demo']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(ROOT), str(project)], text=True, capture_output=True
    )
    assert done.returncode == 1
    assert "Remove the link" in done.stderr
    assert [path.name for path in other.iterdir()] == ["kept"]


def test_the_bootstrap_needs_nothing_but_the_standard_library():
    code = f"""
import sys
sys.path.insert(0, {str(ROOT)!r})
import classroom.bootstrap
print([name for name in sys.modules if name.split(".")[0] in {{"django", "pip", "setuptools"}}])
"""
    done = subprocess.run([sys.executable, "-S", "-I", "-c", code], text=True, capture_output=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_a_python_that_never_gets_inside_does_not_start_itself_for_ever(made):
    environ = {**os.environ, bootstrap.RESTARTED: "1"}
    code = f"""
import sys, pathlib
sys.path.insert(0, {str(ROOT)!r})
from classroom import bootstrap
bootstrap.ROOT = pathlib.Path({str(made.root)!r})
sys.exit(bootstrap.main(["manage.py", "check"]))
"""
    done = subprocess.run(
        [sys.executable, "-c", code], env=environ, text=True, capture_output=True, timeout=60
    )
    assert done.returncode == 1
    assert "Delete the .venv folder" in done.stderr
