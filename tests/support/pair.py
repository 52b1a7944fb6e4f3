"""Two servers on one PostgreSQL behind one address that deals requests out in turn, as in a district."""

from __future__ import annotations

import http.client
import itertools
import os
import threading
from concurrent.futures import ThreadPoolExecutor
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from tests.support.postgres import VARIABLE, new_database
from tests.support.server import ServedSite, build_template, copy_template

_HOP_BY_HOP = frozenset({"connection", "keep-alive", "transfer-encoding", "te", "trailer", "upgrade"})

# RFC 9110, 9.2.2: a proxy may repeat a request whose method is idempotent, and none whose method is not.
_ASKED_AGAIN = frozenset({"GET", "HEAD"})


class _Dealer(ThreadingHTTPServer):
    """Hands each request to the next server in turn; one that does not answer is passed over."""

    daemon_threads = True
    request_queue_size = 128

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.ports: list[int] = []
        self._turns = itertools.count()

    def handle_error(self, *args: object) -> None:
        """Say nothing of a browser that went away."""

    def next_ports(self) -> list[int]:
        turn = next(self._turns) % max(1, len(self.ports))
        return self.ports[turn:] + self.ports[:turn]


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: _Dealer

    def _pass_on(self) -> None:
        body = self.rfile.read(int(self.headers.get("Content-Length", "0")))
        headers = {name: value for name, value in self.headers.items() if name.lower() not in _HOP_BY_HOP}
        for port in self.server.next_ports():
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
            try:
                connection.request(self.command, self.path, body or None, headers)
                answer = connection.getresponse()
                content = answer.read()
            except ConnectionRefusedError:
                # It is being started again: nothing was sent to it, the other one takes it.
                continue
            except (OSError, http.client.HTTPException):
                if self.command in _ASKED_AGAIN:
                    continue
                # It may have done what it was asked: nobody but the sender may ask again.
                break
            finally:
                connection.close()
            self.send_response_only(answer.status, answer.reason)
            for name, value in answer.getheaders():
                if name.lower() not in _HOP_BY_HOP and name.lower() != "content-length":
                    self.send_header(name, value)
            if answer.status not in (204, 304):
                self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            if self.command != "HEAD":
                self.wfile.write(content)
            return
        self.close_connection = True

    do_GET = do_POST = do_HEAD = _pass_on  # noqa: N815 (the library's names)

    def log_message(self, *args: object) -> None:
        """Say nothing."""


class ServedPair(ServedSite):
    """Two server processes that share data folder and database; tests use it as they use one server."""

    def __init__(self, data: Path, extra_environment: dict[str, str] | None = None) -> None:
        super().__init__(data, extra_environment)
        self.servers = [ServedSite(data, extra_environment), ServedSite(data, extra_environment)]
        self._dealer = _Dealer()
        self.port = int(self._dealer.server_address[1])
        threading.Thread(target=self._dealer.serve_forever, daemon=True).start()

    @property
    def ports(self) -> list[int]:
        return [server.port for server in self.servers]

    def start(self, *arguments: str) -> None:
        """Start both, at first the second while the first is answering; started again, both at once."""
        workers = len(self.servers) if self._dealer.ports else 1
        with ThreadPoolExecutor(workers) as pool:
            for started in [pool.submit(server.start, *arguments) for server in self.servers]:
                started.result()
        self._dealer.ports = self.ports
        # The later start's link for the first teacher is the one that works.
        self.output = self.servers[-1].output

    def _end(self, number: int) -> int:
        codes = [server._end(number) for server in self.servers]
        return next((code for code in codes if code), 0)


DATABASE = "database-address"


def make_template(folder: Path) -> None:
    """Make the data folder that sites are copied from, and on PostgreSQL the database, too."""
    if VARIABLE not in os.environ:
        build_template(folder)
        return
    address = new_database()
    build_template(folder, {"DATABASE_URL": address})
    (folder / DATABASE).write_text(address, encoding="ascii")


def make_site(
    template: Path, data: Path, extra_environment: dict[str, str] | None = None
) -> ServedSite | ServedPair:
    """Return a site on a copy of the template: one server on SQLite, or two on PostgreSQL."""
    copy_template(template, data)
    if VARIABLE not in os.environ:
        return ServedSite(data, extra_environment)
    address = new_database((template / DATABASE).read_text(encoding="ascii"))
    return ServedPair(data, {"DATABASE_URL": address, **(extra_environment or {})})
