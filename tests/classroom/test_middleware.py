"""Security headers, the host check and what a signed-out htmx request is told."""

from __future__ import annotations

import pytest
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.urls import path
from django_htmx.middleware import HtmxMiddleware

from classroom import urls
from classroom.middleware import (
    htmx_redirect_middleware,
    is_address,
    is_local_name,
    is_this_machine,
    local_host_middleware,
)

PAGES = ["/healthz", "/no-such-page"]


@pytest.mark.django_db
@pytest.mark.parametrize("page", PAGES)
def test_every_answer_carries_the_policy(client, page):
    headers = client.get(page).headers
    policy = dict(part.split(" ", 1) for part in headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["img-src"] == "'self' data: blob:"
    assert policy["form-action"] == "'self'"
    assert policy["base-uri"] == policy["frame-ancestors"] == policy["object-src"] == "'none'"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert "camera=(self)" in headers["Permissions-Policy"]
    assert "microphone=()" in headers["Permissions-Policy"]
    assert "Server" not in headers
    assert "public" not in headers["Cache-Control"]
    assert "no-cache" in headers["Cache-Control"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("host", "sent"),
    [
        ("localhost", True),
        ("127.0.0.1:8000", True),
        ("[::1]:8000", True),
        ("192.168.1.20", False),
        ("lab", False),
    ],
)
def test_the_opener_policy_goes_only_where_a_browser_takes_it(client, host, sent):
    answer = client.get("/healthz", headers={"host": host})
    assert answer.status_code == 200
    assert ("Cross-Origin-Opener-Policy" in answer.headers) is sent


@pytest.mark.django_db
def test_the_opener_policy_goes_over_https_everywhere(client):
    answer = client.get("/healthz", headers={"host": "192.168.1.20"}, secure=True)
    assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"


@pytest.mark.django_db
@pytest.mark.parametrize(
    "host", ["10.0.0.7:8000", "[fe80::1]:8000", "laptop", "laptop.local:8000", "school.lan"]
)
def test_addresses_and_local_names_are_answered(client, host):
    assert client.get("/healthz", headers={"host": host}).status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize(
    "host", ["elsewhere.example", "10.0.0.7.elsewhere.example:8000", "local.example", "a b"]
)
def test_public_names_are_refused_unless_they_were_named(client, host):
    assert client.get("/healthz", headers={"host": host}).status_code == 400


@pytest.mark.django_db
def test_only_named_hosts_are_answered_once_there_are_any(client, settings):
    settings.NAMED_HOSTS = settings.ALLOWED_HOSTS = ["school.example"]
    assert client.get("/healthz", headers={"host": "school.example"}).status_code == 200
    assert client.get("/healthz", headers={"host": "10.0.0.7"}).status_code == 400


def test_kinds_of_host_are_told_apart():
    assert is_address("192.168.0.1")
    assert is_address("[::1]")
    assert not is_address("192.168.0.1.example")
    assert is_local_name("laptop")
    assert not is_local_name("notlocal.example")
    assert is_this_machine("a.localhost")
    assert is_this_machine("127.0.0.53")
    assert not is_this_machine("128.0.0.1")


@login_required
def private(request: HttpRequest) -> HttpResponse:
    return HttpResponse("private")


class WithPrivatePage:
    """The site with one page more, that nobody signed out may see."""

    urlpatterns = [*urls.urlpatterns, path("private", private)]


@pytest.mark.django_db
def test_a_signed_out_htmx_request_is_sent_to_sign_in_as_a_whole_page(client, settings):
    settings.ROOT_URLCONF = WithPrivatePage
    settings.LOGIN_URL = "/sign-in/"
    answer = client.get("/private", headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert answer.headers["HX-Redirect"] == "/sign-in/?next=/private"
    assert answer.content == b""
    assert answer.headers["Cache-Control"] == "no-store"


@pytest.mark.django_db
def test_a_signed_out_browser_is_redirected_in_the_plain_way(client, settings):
    settings.ROOT_URLCONF = WithPrivatePage
    settings.LOGIN_URL = "/sign-in/"
    answer = client.get("/private")
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/sign-in/?next=/private"
    assert "HX-Redirect" not in answer.headers


def test_cookies_of_a_redirect_reach_htmx_too(rf):
    def view(request: HttpRequest) -> HttpResponse:
        answer = HttpResponse(status=302, headers={"Location": "/there/"})
        answer.set_cookie("kept", "yes")
        return answer

    answer = HtmxMiddleware(htmx_redirect_middleware(view))(rf.get("/", headers={"HX-Request": "true"}))
    assert answer.cookies["kept"].value == "yes"


def test_the_host_check_stands_before_everything_else(settings):
    assert settings.MIDDLEWARE[0] == f"classroom.middleware.{local_host_middleware.__name__}"
