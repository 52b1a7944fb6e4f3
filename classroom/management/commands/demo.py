"""`manage.py demo`: an invented class in a database of its own, ready to look at."""

from __future__ import annotations

import argparse
import shutil
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth.models import AbstractBaseUser
from django.core.management.base import CommandError
from django.db import connection, connections, transaction

from classroom.codes import make_code
from classroom.management.commands._serving import ServingCommand
from classroom.models import Classroom, Installation
from design_challenges.services.demo import load_demo

SEED = 20_240_301


def make_password() -> str:
    """Return a password that is easy to type from a screen: twelve characters in threes, 55 bits."""
    return "-".join(make_code(4).lower() for _ in range(3))


class Command(ServingCommand):
    help = "Serve an invented class, in a database of its own, to look round in."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--fresh", action="store_true", help="start the demo data anew")

    def handle(self, *args: Any, host: str, port: int, fresh: bool, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("The demo starts from manage.py only, which gives it a database of its own.")
        lock = self.lock()
        server = self.open(host, port)
        if fresh:
            self.clear()
        self.prepare()
        self.load()
        teacher, password = self.renew_password()
        self.serve(server, lambda: self.tell(host, server.port, teacher, password))
        lock.let_go()

    def clear(self) -> None:
        """Delete the demo's database and photos, and nothing else."""
        connections.close_all()
        name = settings.DATABASES["default"]["NAME"]
        for path in (name, name.with_name(name.name + "-wal"), name.with_name(name.name + "-shm")):
            path.unlink(missing_ok=True)
        shutil.rmtree(settings.PHOTO_DIR, ignore_errors=True)
        self.say("Cleared the old demo data.")

    def load(self) -> None:
        """Make the invented class unless it is there."""
        installation = Installation.get()
        if installation.demo:
            return
        if connection.vendor != "sqlite" or Classroom.objects.exists():
            raise CommandError(f"{self.database_name()} holds real classes: the demo leaves it alone.")
        self.say("Inventing a school, a class and its measurements …")
        # All or nothing: a start that is cut off here finds an empty database the next time.
        with transaction.atomic():
            load_demo(SEED)
            Installation.objects.filter(pk=1).update(demo=True)

    def renew_password(self) -> tuple[AbstractBaseUser, str]:
        """Give the demo's teacher a password that was never used before, and return both."""
        teacher = get_user_model().objects.order_by("pk").first()
        if teacher is None:
            raise CommandError("The demo data has lost its teacher. Start it anew: demo --fresh")
        password = make_password()
        teacher.set_password(password)
        teacher.save(update_fields=["password"])
        return teacher, password

    def tell(self, host: str, port: int, teacher: AbstractBaseUser, password: str) -> None:
        """Print where it is and how to come in."""
        addresses = self.addresses(host, port)
        self.say("The demo is running. Everything in it is invented. Open it at")
        for address in addresses:
            self.say(f"    {address}")
        self.say("Teacher")
        self.say(f"    user name   {teacher.get_username()}")
        self.say(f"    password    {password}      (a new one at every start)")
        classes = Classroom.objects.filter(archived_at=None, memberships__user_id=teacher.pk)
        for classroom in classes.order_by("pk"):
            self.say(f"Class {classroom.name}")
            self.say(f"    class code  {classroom.code}")
            for team in classroom.teams.filter(retired_at=None):
                self.say(f"    team code   {team.code}    {team.name}")
        if not self.open_to_network(host):
            self.say("Only this machine can open it. For the classroom's network, stop it and start")
            self.say(f"    python3 manage.py demo --host 0.0.0.0 --port {port}")
        self.say("Ctrl-C stops it.")
        connections.close_all()
