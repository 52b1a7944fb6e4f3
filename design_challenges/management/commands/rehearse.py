"""`manage.py rehearse CODE`: an invented class works through a challenge against the running server."""

from __future__ import annotations

import argparse
import asyncio
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from classroom.models import Classroom
from design_challenges.rehearsal.cast import RehearsalRefusedError, assemble
from design_challenges.rehearsal.log import Log, share
from design_challenges.rehearsal.play import Stage, play
from design_challenges.services import switches
from design_challenges.services.records import find_challenge
from design_challenges.steps import Step


def above_zero(text: str) -> float:
    """Read a pace: how many times faster than a real class."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value <= 1000:
        raise argparse.ArgumentTypeError(f"{text!r} is not a pace: give a number above 0, such as 1 or 20.")
    return value


class Command(BaseCommand):
    help = (
        "Let an invented class work through a challenge against the running server, to watch on the "
        "dashboard and the board. CODE is a class without children of its own, with its challenge set up."
    )

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("code", metavar="CODE", help="the class's code")
        parser.add_argument("--url", default="http://127.0.0.1:8000", help="where the server answers")
        parser.add_argument(
            "--pace", type=above_zero, default=1.0, metavar="N", help="N times as fast as a class (1)"
        )
        parser.add_argument("--teams", type=int, default=8, metavar="N", help="teams to invent (8)")
        parser.add_argument(
            "--open-rounds", action="store_true", help="open round 2 now; else the teams wait until you do"
        )

    def handle(
        self, *args: Any, code: str, url: str, pace: float, teams: int, open_rounds: bool, **options: Any
    ) -> None:
        classroom = Classroom.objects.filter(code=code.upper(), archived_at__isnull=True).first()
        if classroom is None:
            raise CommandError(f"There is no class with the code {code}.")
        if not 1 <= teams <= 40:
            raise CommandError("--teams takes 1 to 40.")
        try:
            cast = assemble(classroom, teams)
        except RehearsalRefusedError as error:
            raise CommandError(str(error)) from None
        challenge = find_challenge(classroom)
        if challenge is not None:
            switches.set_joining(classroom, challenge, True)
            for number in range(2, challenge.rounds + 1) if open_rounds else ():
                switches.set_gates(challenge, number, list(Step), True)
        rounds = challenge.rounds if challenge else 1
        log, began = Log(), time.monotonic()
        stage = Stage(url.rstrip("/"), pace=pace, rounds=min(2, rounds))
        self.stdout.write(f"{len(cast.parts)} teams of {classroom.name} come in at {url}. Ctrl-C ends it.")
        try:
            asyncio.run(play(stage, [cast], [None], log, self.stdout.write))
        except KeyboardInterrupt:
            self.stdout.write("Ended. What was saved stays in the class.")
        self.tell(log, time.monotonic() - began)

    def tell(self, log: Log, seconds: float) -> None:
        """Print what came of it; CommandError where something went wrong."""
        saves = log.seconds("save")
        self.stdout.write(
            f"{len(log.finished)} teams came to the end in {seconds:.0f} s: "
            f"{len(log.acknowledged)} entries saved, half of them within {share(saves, 0.5) * 1000:.0f} ms, "
            f"95 of 100 within {share(saves, 0.95) * 1000:.0f} ms."
        )
        if log.faults:
            raise CommandError("\n".join(["It did not go well:", *log.faults[:20]]))
