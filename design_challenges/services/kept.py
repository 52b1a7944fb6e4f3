"""Keeps what was made last of something, with what it was made from, so that it is made once.

Nothing is ever believed to be as it was: whoever asks brings what it would be made from now, read afresh,
and gets what is kept only where that is the same. So nothing a process keeps can be out of date.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock
from typing import Any, Generic, TypeVar

Value = TypeVar("Value")


class Kept(Generic[Value]):
    """One value for each of so many things; those asked for longest ago go first."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[Hashable, tuple[Any, Value]] = OrderedDict()
        self._lock = Lock()

    def find(self, thing: Hashable, made_from: Any) -> Value | None:
        """Return what is kept of a thing, where it was made from the same."""
        with self._lock:
            found = self._kept.get(thing)
            if found is None or found[0] != made_from:
                return None
            self._kept.move_to_end(thing)
            return found[1]

    def keep(self, thing: Hashable, made_from: Any, value: Value) -> None:
        """Keep this of a thing, in place of what was kept of it."""
        with self._lock:
            self._kept[thing] = made_from, value
            self._kept.move_to_end(thing)
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._kept.clear()
