"""A change of the server's own address is noticed, and said where the technician looks."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from classroom.addresses import note_addresses, recent_change
from classroom.management.commands.serve import Command
from classroom.models import Installation
from tests import builders

pytestmark = pytest.mark.django_db
OLD, NEW, OWN = "http://192.168.0.20:8000/", "http://192.168.0.31:8000/", "http://localhost:8000/"


def test_the_first_start_and_the_same_address_again_say_nothing() -> None:
    assert note_addresses([OWN, OLD]) is None
    assert note_addresses([OWN, OLD]) is None
    assert recent_change() is None


def test_an_address_that_is_gone_is_told_with_the_new_one() -> None:
    note_addresses([OWN, OLD])
    changed = note_addresses([OWN, NEW])
    assert changed is not None
    assert (changed.before, changed.now) == ((OLD,), (NEW,))
    assert recent_change() == changed
    assert note_addresses([OWN, NEW]) is None


def test_another_port_is_another_address() -> None:
    note_addresses([OLD])
    assert note_addresses([OLD.replace("8000", "8001")]) is not None


def test_one_address_more_takes_nothing_away() -> None:
    note_addresses([OLD])
    assert note_addresses([OLD, NEW]) is None
    assert note_addresses([NEW]) is not None


def test_a_start_for_this_machine_alone_changes_nothing() -> None:
    note_addresses([OLD])
    assert note_addresses([OWN]) is None
    assert Installation.get().addresses == [OLD]


def test_pages_tell_of_it_for_two_weeks() -> None:
    note_addresses([OLD])
    note_addresses([NEW])
    teacher = builders.teacher_client(builders.make_class(0))
    for client, path in ((Client(), "/check/"), (teacher, "/classes/")):
        page = client.get(path).content.decode()
        assert "address has changed" in page
        assert OLD in page
    Installation.objects.update(addresses_changed_at=timezone.now() - timedelta(days=15))
    assert "address has changed" not in Client().get("/check/").content.decode()


def test_serve_warns_in_its_output(settings: Any) -> None:
    settings.HTTPS, settings.NAMED_HOSTS = True, ["old.example"]
    first, second = io.StringIO(), io.StringIO()
    Command(stdout=first).tell("0.0.0.0", 8000, "")  # noqa: S104
    settings.NAMED_HOSTS = ["new.example"]
    Command(stdout=second).tell("0.0.0.0", 8000, "")  # noqa: S104
    assert "address has changed" not in first.getvalue()
    assert "WARNING: this server's address has changed since its last start." in second.getvalue()
    assert "before: https://old.example/" in second.getvalue()
    assert "now:    https://new.example/" in second.getvalue()
