"""A lock on a file that the system itself lets go when its holder dies; standard library only."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from types import TracebackType


class LockedElsewhereError(Exception):
    """Another process holds the lock."""


class FileLock:
    """Hold `path` locked between `with` and its end, or between `take` and `let_go`.

    `wait_s` is how long to try before LockedElsewhereError, in seconds; 0 tries once.
    """

    def __init__(self, path: Path, wait_s: float = 0) -> None:
        self.path = path
        self.wait_s = wait_s
        self._descriptor: int | None = None

    def take(self) -> FileLock:
        """Lock the file, which is made if it is missing, and return this; or raise LockedElsewhereError."""
        descriptor = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o600)
        give_up = time.monotonic() + self.wait_s
        while True:
            try:
                _lock(descriptor)
            except OSError:
                if time.monotonic() >= give_up:
                    os.close(descriptor)
                    raise LockedElsewhereError(str(self.path)) from None
                time.sleep(0.2)
            else:
                self._descriptor = descriptor
                return self

    def let_go(self) -> None:
        """Unlock; the file stays, since removing it would let two holders in."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def __enter__(self) -> FileLock:
        return self if self._descriptor is not None else self.take()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.let_go()


if sys.platform == "win32":
    import msvcrt

    def _lock(descriptor: int) -> None:
        os.lseek(descriptor, 0, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
