"""`manage.py load_demo`: put the invented class into this database, for developers and for tests."""

from __future__ import annotations

import argparse
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from design_challenges.services.demo import SEED, DemoRefusedError, load_demo
from design_challenges.services.units import SYSTEMS


class Command(BaseCommand):
    help = "Put the invented class into a database that holds no other."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=SEED, help=f"settles every reading ({SEED})")
        parser.add_argument(
            "--units", choices=sorted(SYSTEMS), default="us", help="what the class measures in"
        )

    def handle(self, *args: Any, seed: int, units: str, **options: Any) -> None:
        try:
            demo = load_demo(seed, unit_system=units)
        except DemoRefusedError as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"Teacher     {demo.teacher_username}")
        self.stdout.write(f"Password    {demo.teacher_password}")
        self.stdout.write(f"Class code  {demo.class_code}    {demo.class_name}")
        for name, code in demo.teams:
            self.stdout.write(f"Team code   {code}   {name}")
