"""`manage.py serve`: the server for real use, on the network, with its own database."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management.base import CommandError
from django.db import connection

from classroom import plain_http
from classroom.addresses import note_addresses
from classroom.codes import hash_token, make_token
from classroom.data_place import place_problem
from classroom.keeping.nightly import Nightly
from classroom.management.commands._serving import ServingCommand
from classroom.models import Installation


class Command(ServingCommand):
    help = "Serve the school's own classes on the network."
    default_host = "0.0.0.0"  # noqa: S104 - tablets must reach it

    def handle(self, *args: Any, host: str, port: int, **options: Any) -> None:
        if settings.DEMO:
            raise CommandError("SECOND_BUILD_DEMO is set: use `demo` for the invented class.")
        with self.lock():
            server = self.open(host, port)
            self.prepare()
            if Installation.get().demo:
                raise CommandError(
                    f"{self.database_name()} holds the invented class. Choose another SECOND_BUILD_DATA."
                )
            token = self.first_teacher_token()
            nightly = Nightly(settings.BACKUP_DIR, self.say) if settings.BACKUP_DIR else None
            if nightly:
                nightly.start()
            self.serve(server, lambda: self.tell(host, server.port, token))
            if nightly:
                nightly.stop()

    def first_teacher_token(self) -> str:
        """Return a fresh token for the first account; empty once there is one."""
        if get_user_model().objects.exists():
            return ""
        token = make_token()
        # The link of an earlier start ends here: only the one on the screen works.
        Installation.objects.filter(pk=1).update(first_teacher_token_hash=hash_token(token))
        return token

    def tell(self, host: str, port: int, token: str) -> None:
        """Print where it is and how to begin."""
        addresses = self.addresses(host, port)
        changed = note_addresses(addresses)
        self.say(f"Data: {self.database_name()}")
        if connection.vendor == "sqlite" and (problem := place_problem(settings.DATA_DIR)):
            self.say(f"Warning: {problem}")
        self.say(f"Nightly backups: {settings.BACKUP_DIR or 'switched off'}")
        self.say("Second Build is running. Open it at")
        for address in addresses:
            self.say(f"    {address}")
        if token:
            self.say("There is no teacher yet. The first one makes their account here, once:")
            for address in addresses:
                self.say(f"    {address}first-teacher/{token}/")
        if changed is not None:
            self.say("WARNING: this server's address has changed since its last start.")
            self.say(f"    before: {', '.join(changed.before)}")
            self.say(f"    now:    {', '.join(changed.now)}")
            self.say("    What still waits on tablets is found under the old address only: give this")
            self.say("    computer that address again, or copy it off the tablets (Show my readings).")
        notes = plain_http.notes()
        if notes:
            self.say("This is plain HTTP. It leaves out")
            for note in notes:
                self.say(f"    - {note}")
            self.say(plain_http.MEANING)
        self.say("Ctrl-C stops it.")
