"""Times are shown as the school's own clocks show them."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.http import HttpResponse
from django.test import RequestFactory
from django.utils import timezone

from classroom.models import Installation
from classroom.school_time import forget_zone, school_time_middleware, school_zone

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _forget() -> object:
    forget_zone()
    yield
    forget_zone()


def shown(moment: datetime) -> str:
    def view(_request: object) -> HttpResponse:
        return HttpResponse(timezone.localtime(moment).strftime("%H:%M"))

    return school_time_middleware(view)(RequestFactory().get("/")).content.decode()


def set_zone(name: str) -> None:
    installation = Installation.get()
    installation.time_zone = name
    installation.save()
    forget_zone()


def test_a_lesson_at_nine_is_at_nine_in_summer_and_in_winter() -> None:
    set_zone("America/New_York")
    assert shown(datetime(2026, 7, 1, 13, 0, tzinfo=UTC)) == "09:00"
    assert shown(datetime(2026, 12, 1, 14, 0, tzinfo=UTC)) == "09:00"


def test_utc_until_one_is_set() -> None:
    assert shown(datetime(2026, 7, 1, 13, 0, tzinfo=UTC)) == "13:00"


@pytest.mark.parametrize("name", ["Nowhere/Atoll", "../etc", ""])
def test_an_unknown_zone_is_utc(name: str) -> None:
    set_zone(name)
    assert school_zone().key == "UTC"
