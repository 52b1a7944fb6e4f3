"""The backup's file: a zip of tables as lines of JSON, photos and the secret key, with a digest of each.

The same file for both databases, so that it also moves a school from one to the other.
"""

from __future__ import annotations

import datetime as dt
import decimal
import hashlib
import json
import os
import uuid
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

FORMAT = 1
MANIFEST = "manifest.json"
TABLES = "tables/"
PHOTOS = "photos/"
SECRET = "secret-key"  # noqa: S105 - the name of the member
CHUNK = 1 << 20


class BackupError(Exception):
    """A backup cannot be made or used; the message says why and what to do."""


def encode(value: Any) -> Any:
    """Return a column's value as JSON keeps it without loss."""
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, uuid.UUID | decimal.Decimal):
        return str(value)
    if isinstance(value, bytes | memoryview):
        return bytes(value).hex()
    return value


def line(values: Iterable[Any]) -> bytes:
    """Return one row as a line."""
    row = [encode(value) for value in values]
    # Sorted, since PostgreSQL keeps the names inside a JSON value in an order of its own.
    return json.dumps(row, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode() + b"\n"


@dataclass
class Manifest:
    """What a backup says about itself; `members` holds each file's size and SHA-256 digest."""

    made_at: str
    program: str
    database: str
    migrations: list[list[str]]
    rows: dict[str, int] = field(default_factory=dict)
    members: dict[str, dict[str, Any]] = field(default_factory=dict)
    format: int = FORMAT

    @property
    def digest(self) -> str:
        """Return one digest for the whole content: the same rows and photos give the same digest."""
        told = {name: member["sha256"] for name, member in sorted(self.members.items())}
        return hashlib.sha256(json.dumps(told).encode()).hexdigest()


class BackupWriter:
    """Writes a backup beside its name and gives it that name once it is whole and on the disk."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.draft = path.with_name(path.name + ".part")
        if path.exists():
            raise BackupError(f"{path} is there already. Choose another name; nothing was changed.")

    @contextmanager
    def open(self, manifest: Manifest) -> Iterator[BackupWriter]:
        """Give this writer; the backup gets its name where nothing is raised."""
        self._manifest = manifest
        try:
            descriptor = os.open(self.draft, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(descriptor, "w+b") as file:
                with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=5) as self._zip:
                    yield self
                    self._zip.writestr(MANIFEST, json.dumps(vars(manifest), indent=1))
                file.flush()
                os.fsync(file.fileno())
            self.draft.replace(self.path)
        except BaseException:
            self.draft.unlink(missing_ok=True)
            raise

    def add_lines(self, name: str, lines: Iterable[bytes]) -> int:
        """Add a table, line by line, and return the number of lines."""
        count = 0

        def counted() -> Iterator[bytes]:
            nonlocal count
            for one in lines:
                count += 1
                yield one

        self._add(zipfile.ZipInfo(name), counted())
        return count

    def add_file(self, name: str, path: Path) -> None:
        """Add a file as it is; pictures are compressed already."""
        info = zipfile.ZipInfo(name)
        info.compress_type = zipfile.ZIP_STORED
        with path.open("rb") as file:
            self._add(info, iter(lambda: file.read(CHUNK), b""))

    def _add(self, info: zipfile.ZipInfo, parts: Iterable[bytes]) -> None:
        if info.filename.startswith(TABLES):
            info.compress_type = zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        digest, size = hashlib.sha256(), 0
        with self._zip.open(info, "w", force_zip64=True) as member:
            for part in parts:
                digest.update(part)
                size += len(part)
                member.write(part)
        self._manifest.members[info.filename] = {"size": size, "sha256": digest.hexdigest()}


class BackupReader:
    """Reads a backup whose every member has been held against its digest."""

    def __init__(self, path: Path) -> None:
        """Open and check the whole file; BackupError where it is no backup or not as it was written."""
        try:
            self._zip = zipfile.ZipFile(path)
            self.manifest = Manifest(**json.loads(self._zip.read(MANIFEST)))
        except FileNotFoundError:
            raise BackupError(f"There is no file {path}.") from None
        except (OSError, zipfile.BadZipFile, KeyError, TypeError, ValueError):
            raise BackupError(
                f"{path} is not a backup of Second Build, or it is cut off. Nothing was changed."
            ) from None
        if self.manifest.format > FORMAT:
            raise BackupError("This backup was made by a newer Second Build. Install that version first.")
        self._check(path)

    def _check(self, path: Path) -> None:
        wanted = self.manifest.members
        there = set(self._zip.namelist()) - {MANIFEST}
        if there != set(wanted):
            raise BackupError(f"{path} lacks or adds files: it was changed. Nothing was changed here.")
        for name, member in wanted.items():
            digest = hashlib.sha256()
            try:
                with self._zip.open(name) as file:
                    for part in iter(lambda file=file: file.read(CHUNK), b""):  # type: ignore[misc]
                        digest.update(part)
            except (zipfile.BadZipFile, OSError, EOFError, ValueError):
                digest = hashlib.sha256(b"unreadable")
            if digest.hexdigest() != member["sha256"] or not _is_plain(name):
                raise BackupError(f"{name} in {path} is damaged: its digest differs. Nothing was changed.")

    def names(self, folder: str) -> list[str]:
        """Return the members of a folder."""
        return sorted(name for name in self.manifest.members if name.startswith(folder))

    def rows(self, name: str) -> Iterator[list[Any]]:
        """Yield a table's lines: the columns first, then the rows."""
        with self._zip.open(name) as file:
            for one in file:
                yield json.loads(one)

    def open(self, name: str) -> IO[bytes]:
        """Open a member."""
        return self._zip.open(name)


def _is_plain(name: str) -> bool:
    """Say whether a member's name stays in its folder, whatever a changed file says."""
    folder, _slash, file = name.rpartition("/")
    return f"{folder}/" in (TABLES, PHOTOS, "/") and file not in ("", ".", "..") and "\\" not in file
