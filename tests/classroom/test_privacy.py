"""The privacy page says of every column that holds personal data what it is; no column is forgotten."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import User
from django.db import models
from django.test import Client

from classroom.models import Student
from classroom.personal_data import NOT_PERSONAL, PERSONAL, STORED
from tests.support.tablet import words

HOW = (
    "Say of it in classroom/personal_data.py what it is: in a `Stored` if it may hold something about a"
    " person (the privacy page then shows it), in NOT_PERSONAL if it cannot."
)
TEXT = (models.CharField, models.TextField, models.JSONField, models.FileField, models.BinaryField)


def columns(*, of: Any) -> set[str]:
    """Return every column that may hold text (its choices are ours), or that points at such a model."""
    found = set()
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            name = f"{model._meta.label}.{field.name}"
            pointed = isinstance(field, models.ForeignKey) and field.related_model is of
            written = of is None and isinstance(field, TEXT) and not field.choices
            if pointed or written:
                found.add(name)
    return found


def test_every_column_of_text_is_either_on_the_privacy_page_or_holds_nothing_of_a_person() -> None:
    unknown = columns(of=None) - PERSONAL - NOT_PERSONAL
    assert not unknown, f"{sorted(unknown)}: {HOW}"


def test_every_column_that_points_at_a_child_is_on_the_privacy_page() -> None:
    unknown = columns(of=Student) - PERSONAL
    assert not unknown, f"{sorted(unknown)}: {HOW}"


def test_what_points_at_an_account_lets_go_of_it_when_the_account_is_deleted() -> None:
    """So that "what was entered stays, without the name" is true."""
    for model in apps.get_models():
        if model._meta.app_label not in ("classroom", "design_challenges"):
            continue
        for field in model._meta.concrete_fields:
            if isinstance(field, models.ForeignKey) and field.related_model is User:
                kept = {models.SET_NULL, models.CASCADE}
                assert field.remote_field.on_delete in kept, f"{model._meta.label}.{field.name}"


def test_the_page_names_no_column_that_is_not_there() -> None:
    there = columns(of=None) | columns(of=Student) | columns(of=User)
    assert not PERSONAL - there
    assert not PERSONAL & NOT_PERSONAL


@pytest.mark.django_db
def test_the_privacy_page_shows_every_column_how_long_it_stays_and_how_it_goes() -> None:
    page = Client().get("/privacy/")
    said = words(page)
    for stored in STORED:
        assert str(stored.what) in said
        assert str(stored.how_long) in said
        assert str(stored.goes) in said
        for column in stored.columns:
            assert column in said
    for told in ("Where it is", "How to get all of it", "the last 14 are kept", "no names"):
        assert told in said


@pytest.mark.django_db
def test_the_page_is_linked_from_every_page_of_a_teacher(client: Client) -> None:
    assert 'href="/privacy/"' in client.get("/sign-in/").content.decode()
