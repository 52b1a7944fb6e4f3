"""A line to the server that tests can cut at any byte: a TCP proxy that passes requests and answers on."""

from __future__ import annotations

import re
import socket
import threading
from collections import deque
from dataclasses import dataclass
from typing import Literal

PATIENCE_S = 30
ENTRIES = b"GET /entries/"


@dataclass(frozen=True)
class Cut:
    """Where the line is cut, once.

    of       "ask": the question before sending (GET /entries/); "send": an entry (its POST)
    way      "request" (on the way to the server) or "answer" (on the way back, so the server has acted)
    share    how much passes: 0 nothing, 0.5 half of it; a text passes up to and with that text
    less     so many bytes less than that
    """

    of: Literal["ask", "send"]
    way: Literal["request", "answer"]
    share: float | str
    less: int = 0

    def bytes_of(self, whole: bytes) -> int:
        if isinstance(self.share, str):
            found = whole.find(self.share.encode())
            return max(0, found + len(self.share) - self.less)
        return max(0, int(len(whole) * self.share) - self.less)

    def __str__(self) -> str:
        less = f" less {self.less}" if self.less else ""
        return f"{self.of} {self.way} {self.share!r}{less}"


# Each place at which a request or an answer can break off: before, in and between its parts, and at its end.
PLACES: tuple[tuple[float | str, int], ...] = (
    (0.0, 0),
    ("1.1\r\n", 8),
    ("1.1\r\n", 0),
    (0.4, 0),
    ("\r\n\r\n", 2),
    ("\r\n\r\n", 0),
    (0.9, 0),
    (1.0, 1),
)
ANSWER_PLACES: tuple[tuple[float | str, int], ...] = (
    (0.0, 0),
    (0.0, -1),
    ("OK\r\n", 0),
    (0.5, 0),
    ("\r\n\r\n", 2),
    ("\r\n\r\n", 0),
    (1.0, 9),
    (1.0, 1),
)


def every_cut() -> list[Cut]:
    """Return a cut at each place of the question, of the entry, and of both answers."""
    ways = (("request", PLACES), ("answer", ANSWER_PLACES))
    return [
        Cut(of, way, share, less)  # type: ignore[arg-type]
        for of in ("ask", "send")
        for way, places in ways
        for share, less in places
    ]


class CutLine:
    """The proxy; `port` is where it listens, `down` makes it refuse everything, `done` the cuts made.

    `together` says whether the entries that were cut last had come several in one request.
    """

    def __init__(self, server_port: int) -> None:
        self.server_port = server_port
        self.cuts: deque[Cut] = deque()
        self.done: list[Cut] = []
        self.down = self.together = False
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def close(self) -> None:
        self._listener.close()

    def heal(self) -> None:
        """Let everything pass from now on."""
        self.cuts.clear()
        self.down = False

    def _accept(self) -> None:
        while True:
            try:
                client, _address = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client: socket.socket) -> None:
        client.settimeout(PATIENCE_S)
        try:
            if not self.down:
                self._pass_on(client)
        except OSError:
            pass
        finally:
            client.close()

    def _pass_on(self, client: socket.socket) -> None:
        request = _read_request(client)
        # A browser opens lines beforehand: one that was opened before it went down is dead, too.
        if not request or self.down:
            return
        cut = self._cut_for(request)
        with socket.create_connection(("127.0.0.1", self.server_port), timeout=PATIENCE_S) as server:
            if cut is not None and cut.way == "request":
                server.sendall(request[: cut.bytes_of(request)])
                return
            server.sendall(request)
            answer = b"".join(iter(lambda: server.recv(65_536), b""))
        client.sendall(answer if cut is None else answer[: cut.bytes_of(answer)])

    def _cut_for(self, request: bytes) -> Cut | None:
        kind = "ask" if request.startswith(ENTRIES) else "send" if _is_entry(request) else ""
        with self._lock:
            if not self.cuts or self.cuts[0].of != kind:
                return None
            self.done.append(self.cuts.popleft())
            self.together = b"\r\n\r\nentries=" in request
            return self.done[-1]


def _is_entry(request: bytes) -> bool:
    return request.startswith(b"POST ") and b"\r\nx-entry: 1\r\n" in request[:4000].lower()


def _read_request(client: socket.socket) -> bytes:
    """Read one whole request; it is passed on with the word that the connection ends after it."""
    data = b""
    while b"\r\n\r\n" not in data:
        more = client.recv(65_536)
        if not more:
            return b""
        data += more
    head, _blank, body = data.partition(b"\r\n\r\n")
    length = re.search(rb"(?i)\r\ncontent-length: *(\d+)", head)
    while length and len(body) < int(length[1]):
        more = client.recv(65_536)
        if not more:
            return b""
        body += more
    head = re.sub(rb"(?i)\r\nconnection:[^\r]*", b"", head) + b"\r\nConnection: close"
    return head + b"\r\n\r\n" + body
