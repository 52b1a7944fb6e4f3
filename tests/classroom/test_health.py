"""The health check."""

from __future__ import annotations

import pytest
from django.db import connection

from classroom.version import VERSION


@pytest.mark.django_db
def test_it_answers_200_with_the_version_when_the_database_answers(client):
    answer = client.get("/healthz")
    assert answer.status_code == 200
    assert answer.json() == {"version": VERSION, "database": "answers"}
    assert VERSION == "0.1.0"


@pytest.mark.django_db(transaction=True)
def test_it_answers_503_when_the_database_does_not(client):
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE django_migrations RENAME TO elsewhere")
    try:
        answer = client.get("/healthz")
    finally:
        with connection.cursor() as cursor:
            cursor.execute("ALTER TABLE elsewhere RENAME TO django_migrations")
    assert answer.status_code == 503
    assert answer.json()["database"] == "does not answer"


@pytest.mark.django_db
def test_it_is_never_kept_by_a_cache(client):
    assert "no-store" in client.get("/healthz").headers["Cache-Control"]


@pytest.mark.django_db
def test_it_rejects_post(client):
    assert client.post("/healthz").status_code == 405


@pytest.mark.django_db
def test_it_is_reachable_without_https_by_a_monitor_on_the_machine(client, settings):
    settings.SECURE_SSL_REDIRECT = True
    assert client.get("/healthz").status_code == 200
    assert client.get("/").status_code == 301
