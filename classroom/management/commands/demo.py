"""`manage.py demo`: an invented class in a database of its own, ready to look at."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.db import connection, connections

from classroom.management.commands._serving import ServingCommand
from classroom.models import Classroom, Installation
from classroom.server import is_open_to_network
from design_challenges.services.demo import DemoRefusedError, DemoSummary, load_demo


class Command(ServingCommand):
    help = "Serve an invented class, in a database of its own, to look round in."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--fresh", action="store_true", help="start the demo data anew")

    def handle(self, *args: Any, host: str, port: int, fresh: bool, **options: Any) -> None:
        if not settings.DEMO or connection.vendor != "sqlite":
            raise CommandError("The demo starts from manage.py only, which gives it a database of its own.")
        with self.lock():
            server = self.open(host, port)
            if fresh:
                self.clear()
            self.prepare()
            summary = self.load()
            self.serve(server, lambda: self.tell(host, server.port, summary))

    def clear(self) -> None:
        """Delete the demo's database and photos, and nothing else."""
        connections.close_all()
        name = Path(settings.DATABASES["default"]["NAME"])
        for path in (name, name.with_name(name.name + "-wal"), name.with_name(name.name + "-shm")):
            path.unlink(missing_ok=True)
        shutil.rmtree(settings.PHOTO_DIR, ignore_errors=True)
        self.say("Cleared the old demo data.")

    def load(self) -> DemoSummary:
        """Make the invented class unless it is there; its teacher gets a new password either way."""
        if not (Installation.get().demo or Classroom.objects.exists()):
            self.say("Inventing a school, a class and its measurements …")
        try:
            return load_demo()
        except DemoRefusedError as error:
            raise CommandError(f"{self.database_name()}: {error}") from None

    def tell(self, host: str, port: int, summary: DemoSummary) -> None:
        """Print where it is and how to come in."""
        self.say("The demo is running. Everything in it is invented. Open it at")
        for address in self.addresses(host, port):
            self.say(f"    {address}")
        self.say(f"Teacher of {summary.class_name}")
        self.say(f"    user name   {summary.teacher_username}")
        self.say(f"    password    {summary.teacher_password}    (a new one at every start)")
        self.say("Tablets")
        self.say(f"    class code  {summary.class_code}")
        for name, code in summary.teams:
            self.say(f"    team code   {code}    {name}")
        if not is_open_to_network(host):
            self.say("Only this machine can open it. To let the classroom's network in, stop it and start")
            self.say(f"    python3 manage.py demo --host 0.0.0.0 --port {port}")
        self.say("Ctrl-C stops it.")
