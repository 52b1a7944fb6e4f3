"""`manage.py technician NAME [--no]`: let an account see the technician's pages, or no longer."""

from __future__ import annotations

import argparse
from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError


class Command(BaseCommand):
    help = "Let an account bring whole schools' rosters in (the first teacher's may already)."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("name", help="the user name")
        parser.add_argument("--no", action="store_true", help="take it away again")

    def handle(self, *args: Any, name: str, no: bool, **options: Any) -> None:
        user = User.objects.filter(username__iexact=name).first()
        if user is None:
            raise CommandError(f"Nobody here signs in as {name}.")
        user.is_staff = not no
        user.save(update_fields=["is_staff"])
        self.stdout.write(f"{user.get_username()} is {'no technician any more' if no else 'a technician'}.")
