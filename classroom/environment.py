"""What the settings read from the machine: the data folder, its secret key, yes-or-no variables."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from classroom.filelock import FileLock

SECRET_KEY_LENGTH = 50
YES = frozenset({"1", "true", "yes", "on"})
NO = frozenset({"", "0", "false", "no", "off"})


def switch(name: str, default: bool = False) -> bool:
    """Return the environment's yes or no called `name`; ValueError for anything else."""
    text = os.environ.get(name)
    if text is None:
        return default
    value = text.strip().lower()
    if value in YES:
        return True
    if value in NO:
        return False
    raise ValueError(f"{name} must be 1 or 0, not {text!r}.")


def words(name: str) -> list[str]:
    """Return the comma-separated words of the environment's variable `name`, empty when it is not set."""
    return [word.strip() for word in os.environ.get(name, "").split(",") if word.strip()]


def data_folder(beside: Path, demo: bool = False) -> Path:
    """Return the folder of everything that must outlive the program, made if it is missing."""
    named = os.environ.get("SECOND_BUILD_DATA", "").strip()
    folder = Path(named).expanduser().resolve() if named else beside / "data"
    if demo:
        folder = folder / "demo"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def backup_folder(data: Path) -> Path | None:
    """Return the folder of the nightly backups, or None where they are switched off."""
    named = os.environ.get("SECOND_BUILD_BACKUPS", "").strip()
    if named.lower() in NO - {""}:
        return None
    return Path(named).expanduser().resolve() if named else data / "backups"


def secret_key(folder: Path) -> str:
    """Return the installation's secret, made on the first start, in a file only its owner can read."""
    path = folder / "secret-key"
    if key := _kept(path):
        return key
    # Several processes may start first at once: one of them makes the key, the others read it.
    with FileLock(folder / "secret-key.lock", wait_s=10):
        if key := _kept(path):
            return key
        draft = folder / "secret-key.draft"
        draft.unlink(missing_ok=True)
        descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(64))
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
        return _kept(path)


def _kept(path: Path) -> str:
    """Return the key in the file, empty where there is none or only the beginning of one."""
    try:
        key = path.read_text(encoding="ascii").strip()
    except FileNotFoundError:
        return ""
    return key if len(key) >= SECRET_KEY_LENGTH else ""
