"""What every answer carries, whatever the page: the policy, the secure headers, a token on every change."""

from __future__ import annotations

import re

import pytest
from django.conf import settings
from django.test import Client

from tests.classroom.test_access import address, body
from tests.support import access
from tests.support.access import IN, ROWS, Row
from tests.support.two_classes import TwoClasses

# The headers that the OWASP Secure Headers Project lists; what is left out stands below, with the reason.
WANTED = {
    "X-Frame-Options": r"DENY",
    "X-Content-Type-Options": r"nosniff",
    "Content-Security-Policy": r"default-src 'self'; script-src 'self'; .*",
    "Referrer-Policy": r"same-origin|no-referrer|strict-origin-when-cross-origin",
    "Cross-Origin-Opener-Policy": r"same-origin",
    "Cross-Origin-Resource-Policy": r"same-origin",
    "Permissions-Policy": r".*geolocation=\(\).*microphone=\(\).*",
    "X-Permitted-Cross-Domain-Policies": r"none",
    "Cache-Control": r".*(no-cache|no-store|private).*",
}
LEFT_OUT = {
    "Strict-Transport-Security": "sent with HTTPS only, see below",
    "Cross-Origin-Embedder-Policy": "isolates a page that shares memory between threads; ours share none",
    "Clear-Site-Data": "signing out takes the session away; it would also wipe what is not saved yet",
}
TELLING = ("Server", "X-Powered-By", "X-AspNet-Version", "X-AspNetMvc-Version")
POLICY = {
    "default-src": "'self'",
    "script-src": "'self'",
    "style-src": "'self'",
    "object-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
}
INLINE = re.compile(
    r"<script(?![^>]*\bsrc=)(?![^>]*type=\"application/json\")|<style|\sstyle=\"|\son\w+=\"|\bhx-on"
)


@pytest.fixture
def school(db: None) -> TwoClasses:
    return TwoClasses()


def visitor_of(row: Row, method: str) -> str:
    """Return somebody whom the address lets in by this method; nobody where it lets in nobody."""
    door = row.get if method == "GET" else row.post
    return next(
        (visitor for visitor in (access.TABLET, access.TEACHER) if door[visitor] == IN), access.NOBODY
    )


def test_every_page_carries_the_secure_headers_and_nothing_inline(school: TwoClasses) -> None:
    wrong = []
    for row in ROWS:
        answer = school.visitors[visitor_of(row, "GET")].get(
            address(row, school.this), headers={"host": "localhost"}
        )
        missing = [
            name for name, shape in WANTED.items() if not re.fullmatch(shape, answer.headers.get(name, ""))
        ]
        policy = dict(part.split(" ", 1) for part in answer.headers["Content-Security-Policy"].split("; "))
        if missing or any(policy.get(name) != value for name, value in POLICY.items()):
            wrong.append(f"{row.name}: {missing or policy}")
        if "unsafe" in str(policy) or any(name in answer.headers for name in (*TELLING, *LEFT_OUT)):
            wrong.append(f"{row.name}: {policy} {dict(answer.headers)}")
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            wrong += [f"{row.name}: {found}" for found in INLINE.findall(answer.content.decode())]
        answer.close()
    assert not wrong, "\n".join(wrong)


def test_with_https_browsers_are_told_to_keep_to_it_and_cookies_go_over_it_alone(settings_of_https) -> None:
    found = settings_of_https
    assert found["SECURE_HSTS_SECONDS"] >= 30 * 24 * 60 * 60
    assert found["SECURE_SSL_REDIRECT"]
    assert found["SESSION_COOKIE_SECURE"]
    assert found["CSRF_COOKIE_SECURE"]


@pytest.fixture
def settings_of_https(tmp_path):
    """The settings as a process has them that was started for HTTPS."""
    import json
    import subprocess
    import sys

    from tests.support.server import ROOT, program_environment

    code = (
        "import json; from classroom import settings as s;"
        "print(json.dumps({name: getattr(s, name) for name in dir(s)"
        " if name.startswith(('SECURE_', 'SESSION_COOKIE', 'CSRF_COOKIE'))}))"
    )
    environ = program_environment(tmp_path, {"SECOND_BUILD_HTTPS": "1"})
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environ, capture_output=True, check=True
    )
    return json.loads(done.stdout)


def test_every_cookie_is_kept_from_scripts_and_from_other_sites(school: TwoClasses) -> None:
    client = Client()
    client.get("/join/")
    sent = {"class_code": school.this.classroom.code, "team_code": school.this.team.code}
    client.post("/join/", sent)
    client.post("/sign-in/", {"username": "this-teacher", "password": "a long pass phrase"})
    client.post(f"/substitute/{school.this.ids['card_token']}/")
    names = {settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME, settings.TEAM_COOKIE_NAME}
    assert names | {settings.SUBSTITUTE_COOKIE_NAME, "sb_known"} <= set(client.cookies)
    for name, cookie in client.cookies.items():
        assert cookie["httponly"], name
        assert cookie["samesite"] == "Lax", name
        assert not cookie["domain"], name


@pytest.mark.parametrize("htmx", [False, True], ids=["plain", "htmx"])
def test_every_change_needs_the_token_of_its_own_page(school: TwoClasses, htmx: bool) -> None:
    headers = {"hx-request": "true"} if htmx else {}
    wrong, refused = [], 0
    for row in ROWS:
        visitor = visitor_of(row, "POST")
        client = Client(enforce_csrf_checks=True, headers=headers)
        client.cookies = school.visitors[visitor].cookies.copy()
        answer = client.post(address(row, school.this), body(row, school.this))
        if answer.status_code == 403 and "403_csrf.html" in [one.name for one in answer.templates]:
            refused += 1
        elif row.post[visitor] != access.NO_METHOD and row.post[visitor] != access.NOT_FOUND:
            wrong.append(f"{row.name}: {answer.status_code}")
    assert not wrong, "\n".join(wrong)
    assert refused >= sum(IN in row.post.values() for row in ROWS)
