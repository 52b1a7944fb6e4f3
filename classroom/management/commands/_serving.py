"""What `demo` and `serve` share: getting ready, one server a data folder, saying where it is, serving."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from classroom import startup
from classroom.filelock import FileLock, LockedElsewhereError
from classroom.server import PortTakenError, Server, network_addresses

# A second server waits so long for the first one to bring the database up to date.
PREPARE_WAIT_S = 300


def port_number(text: str) -> int:
    """Read a port from the command line: 0 (any free one) to 65535."""
    if not text.isascii() or not text.isdigit() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port: give a number from 1 to 65535.")
    return int(text)


class ServingCommand(BaseCommand):
    """A command that ends in a running server."""

    default_host = "127.0.0.1"
    requires_system_checks = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument(
            "--port", type=port_number, default=8000, metavar="N", help="the port to listen on (8000)"
        )
        parser.add_argument(
            "--host",
            default=self.default_host,
            metavar="H",
            help=f"the address to listen on ({self.default_host})",
        )

    def say(self, text: str = "") -> None:
        """Print a line at once, also into a pipe."""
        self.stdout.write(text)
        self.stdout.flush()

    def lock(self) -> AbstractContextManager[object]:
        """Make sure that this is the only server on its data folder, until the lock is let go.

        Servers on one PostgreSQL may be several.
        """
        if connection.vendor != "sqlite":
            return nullcontext()
        lock = FileLock(settings.DATA_DIR / "serving.lock")
        try:
            return lock.take()
        except LockedElsewhereError:
            raise CommandError(
                f"A server on the data in {settings.DATA_DIR} is running already. Stop it first (Ctrl-C)."
            ) from None

    def prepare(self) -> None:
        """Bring static files and database up to date, saying what takes time; one server at a time."""
        with FileLock(settings.DATA_DIR / "preparing.lock", wait_s=PREPARE_WAIT_S):
            if startup.build_static_files():
                self.say("Built the static files.")
            if startup.migrate():
                self.say(f"Brought the database up to date ({self.database_name()}).")
            startup.forget_old_sessions()

    def database_name(self) -> str:
        """Return where the data is, without a password."""
        database = settings.DATABASES["default"]
        if "sqlite" in database["ENGINE"]:
            return str(database["NAME"])
        return f"{database['NAME']} on {database.get('HOST') or 'this machine'}"

    def open(self, host: str, port: int) -> Server:
        """Open the port."""
        try:
            return Server(host, port)
        except PortTakenError as error:
            raise CommandError(str(error)) from None

    def addresses(self, host: str, port: int) -> list[str]:
        """Return the addresses to type into a browser, this machine's own first."""
        scheme = "https" if settings.HTTPS else "http"
        if settings.NAMED_HOSTS and settings.HTTPS:
            return [f"https://{name.lstrip('.')}/" for name in settings.NAMED_HOSTS]
        if host in ("0.0.0.0", "::", ""):  # noqa: S104
            own = ["localhost", *network_addresses()]
        else:
            own = [f"[{host}]" if ":" in host else host]
        return [f"{scheme}://{name}:{port}/" for name in own]

    def serve(self, server: Server, ready: Callable[[], None]) -> None:
        """Answer requests until told to stop."""
        server.run(on_ready=ready, on_stop=lambda: self.say("Stopping …"))
        self.say("Stopped.")
