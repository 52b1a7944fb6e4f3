"""The pages shown when a request cannot be answered."""

from __future__ import annotations

import logging

import pytest
from django.core.exceptions import BadRequest, PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path

from classroom import urls


def fails(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("Mia's reading")


def forbids(request: HttpRequest) -> HttpResponse:
    raise PermissionDenied


def cannot_read(request: HttpRequest) -> HttpResponse:
    raise BadRequest


def takes_a_form(request: HttpRequest) -> HttpResponse:
    return HttpResponse("taken")


class WithFailingPages:
    """The site with a page for each way to fail."""

    urlpatterns = [
        *urls.urlpatterns,
        path("fails", fails),
        path("forbids", forbids),
        path("cannot-read", cannot_read),
        path("form", takes_a_form),
    ]
    handler400 = urls.handler400
    handler403 = urls.handler403
    handler404 = urls.handler404
    handler500 = urls.handler500


@pytest.fixture
def careless(settings) -> Client:
    """A client of the site with failing pages that does not raise what fails."""
    settings.ROOT_URLCONF = WithFailingPages
    return Client(raise_request_exception=False, enforce_csrf_checks=True)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("address", "status"), [("/cannot-read", 400), ("/forbids", 403), ("/no-such-page", 404), ("/fails", 500)]
)
def test_each_failure_has_a_page_of_its_own_with_a_way_on(careless, address, status):
    answer = careless.get(address)
    text = answer.content.decode()
    assert answer.status_code == status
    assert "<h1" in text
    assert "<title>" in text
    assert "href=" in text.split("<main", 1)[1]
    assert "Mia" not in text
    assert "Traceback" not in text


@pytest.mark.django_db
def test_a_form_without_its_token_is_refused_with_a_page_that_says_what_to_do(careless):
    answer = careless.post("/form", {"reading": "3.21"})
    assert answer.status_code == 403
    assert "<h1" in answer.content.decode()


def test_whatever_is_logged_goes_through_the_formatter_without_names(settings):
    formatters = settings.LOGGING["formatters"]
    assert {handler["formatter"] for handler in settings.LOGGING["handlers"].values()} == {"plain"}
    assert formatters["plain"]["()"] == "classroom.log.NamelessFormatter"
    assert all(not logger.get("handlers") for logger in settings.LOGGING["loggers"].values())
    assert logging.getLogger("django").handlers == []
