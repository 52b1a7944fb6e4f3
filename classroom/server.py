"""The web server: opens the port, answers until it is told to stop, finishes what it began, stops."""

from __future__ import annotations

import errno
import os
import selectors
import signal
import socket
import sys
import time
from collections.abc import Callable
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.core.wsgi import get_wsgi_application
from waitress.channel import HTTPChannel
from waitress.server import create_server
from waitress.wasyncore import loop

from classroom.turns import in_turn

# They answer in turn (turns.py); several, so that an upload or a gradebook holds up nobody for long.
THREADS = 4
CONNECTIONS = 400
BACKLOG = 256
BODY_LIMIT = 64 * 1024 * 1024
FINISH_S = 5.0
# So long a connection that was just let in may take to say what it wants.
SPEAKS_WITHIN_S = 0.5
# Networks that a machine may stand in; asking for the way to one sends nothing.
PROBES = ("192.0.2.1", "192.168.255.254", "10.255.255.254", "172.31.255.254", "169.254.255.254")


class PortTakenError(Exception):
    """The port is taken or needs other rights, or the address is not this machine's."""


class Server:
    """One process, one listening port, a handful of threads; a signal ends it cleanly."""

    def __init__(self, host: str, port: int) -> None:
        """Take the port (0: any free one); PortTakenError where it cannot. `run` begins to answer."""
        self._socket = _bound_socket(host, port)
        self.port = int(self._socket.getsockname()[1])
        self._server: Any = None
        self._stopping = False

    def run(
        self,
        application: WSGIHandler | None = None,
        on_ready: Callable[[], None] | None = None,
        on_stop: Callable[[], None] | None = None,
    ) -> None:
        """Call `on_ready`, answer until a signal comes, call `on_stop`, finish what is under way, return."""
        options: dict[str, Any] = {
            "threads": THREADS,
            "connection_limit": CONNECTIONS,
            "backlog": BACKLOG,
            "max_request_body_size": BODY_LIMIT,
            "asyncore_use_poll": True,
            "ident": None,
        }
        if settings.HTTPS:
            options["trusted_proxy"] = settings.HTTPS_PROXY
            # The sender's own address, without which every tablet behind the proxy would be throttled as one.
            options["trusted_proxy_headers"] = {"x-forwarded-proto", "x-forwarded-for"}
        for name in ("SIGINT", "SIGTERM", "SIGBREAK"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), self._stop)
        answers = in_turn(application or get_wsgi_application())
        self._server = create_server(answers, sockets=[self._socket], **options)
        if on_ready:
            on_ready()
        while not self._stopping:
            loop(timeout=1.0, use_poll=True, map=self._server._map, count=1)
        if on_stop:
            on_stop()
        self._finish()

    def _stop(self, number: int, frame: FrameType | None) -> None:
        if self._stopping:  # asked twice: at once, whatever the threads are doing
            os._exit(128 + number)
        self._stopping = True
        if self._server is not None:
            self._server.pull_trigger()

    def _finish(self) -> None:
        """Let in whoever stands at the door, and answer every request that arrives, for at most FINISH_S."""
        server = self._server
        sockets = server._map
        # The system has told each of them that the connection stands; with the port they would be cut off.
        while _somebody_waits(server.socket):
            server.handle_accept()
        server.accepting = False
        server.socket.close()
        server.del_channel(sockets)
        end = time.monotonic() + FINISH_S
        idle = False
        while time.monotonic() < end and not idle:
            # Only a connection whose answer is out is read again: a request may lie there until it is.
            was_idle = _is_idle(server)
            loop(timeout=0 if was_idle else 0.1, use_poll=True, map=sockets, count=1)
            idle = was_idle and _is_idle(server)
        server.task_dispatcher.shutdown(timeout=max(0.1, end - time.monotonic()))


def _somebody_waits(listening: socket.socket) -> bool:
    with selectors.DefaultSelector() as selector:
        selector.register(listening, selectors.EVENT_READ)
        return bool(selector.select(timeout=0))


def _is_idle(server: Any) -> bool:
    return not any(map(_is_under_way, list(server.active_channels.values())))


def _is_under_way(channel: HTTPChannel) -> bool:
    """Say whether a request is being read, answered or sent, or may come as the connection is new."""
    if channel.requests or channel.request or channel.total_outbufs_len:
        return True
    is_silent = channel.last_activity == channel.creation_time
    return bool(is_silent and time.time() - channel.creation_time < SPEAKS_WITHIN_S)


def _taken(port: int) -> str:
    return (
        f"Port {port} is in use by another program, perhaps by this one started twice.\n"
        f"Stop that one, or choose another port: --port {port + 1}"
    )


def _bound_socket(host: str, port: int) -> socket.socket:
    try:
        family, kind, protocol, _name, address = socket.getaddrinfo(
            host or "0.0.0.0",  # noqa: S104
            port,
            type=socket.SOCK_STREAM,
            flags=socket.AI_PASSIVE,
        )[0]
    except (socket.gaierror, UnicodeError) as error:
        raise PortTakenError(f"Cannot listen on {host}: it is not an address of this machine.") from error
    listening = socket.socket(family, kind, protocol)
    if sys.platform == "win32":
        # There the other option would let two programs listen and hand the requests to either.
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
    else:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(address)
    except OSError as error:
        listening.close()
        if error.errno == errno.EADDRINUSE:
            raise PortTakenError(_taken(port)) from error
        raise PortTakenError(f"Cannot listen on {host} port {port}: {error.strerror}.") from error
    return listening


def network_addresses() -> list[str]:
    """Return this machine's IPv4 addresses that others on its networks can reach, the likeliest first."""
    found: list[str] = []
    for probe in PROBES:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
            try:
                way.connect((probe, 9))
                address = str(way.getsockname()[0])
            except OSError:
                continue
        if not address.startswith(("127.", "0.")) and address not in found:
            found.append(address)
    return found


def is_open_to_network(host: str) -> bool:
    """Say whether a server bound to `host` can be reached from other machines."""
    return not (host == "localhost" or host.startswith("127.") or host == "::1")
