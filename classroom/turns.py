"""Lets the server's threads answer one after the other, as long as each is quick.

One interpreter runs one thread at a time anyway. Threads that answer at once hand it to and fro at every
question to the database, and that costs more than waiting for one's turn (Speed in DEVELOPERS.md).
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable
from typing import Any

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]

# Many times what a page takes. Whatever takes longer (a gradebook, a photo, a locked row) is gone past.
LONGEST_S = 0.1


class Turns:
    """The turn of one thread, which another takes over where it lasts longer than `longest_s`."""

    def __init__(self, longest_s: float = LONGEST_S) -> None:
        self.longest_s = longest_s
        self._changed = threading.Condition()
        self._whose: object | None = None
        self._since = 0.0

    def take(self) -> object:
        """Wait for the turn, or take it over; return what `give_back` wants."""
        mine = object()
        with self._changed:
            while self._whose is not None:
                left = self._since + self.longest_s - time.monotonic()
                if left <= 0:
                    break
                self._changed.wait(left)
            self._whose, self._since = mine, time.monotonic()
        return mine

    def give_back(self, mine: object) -> None:
        """End a turn; one that was taken over is over already."""
        with self._changed:
            if self._whose is mine:
                self._whose = None
                self._changed.notify()


def in_turn(application: Application, turns: Turns | None = None) -> Application:
    """Return the WSGI application that makes its answers in turn; they are sent outside it."""
    turns = turns or Turns()

    def answer(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        mine = turns.take()
        try:
            return application(environ, start_response)
        finally:
            turns.give_back(mine)

    return answer
