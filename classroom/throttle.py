"""How often wrong codes and passwords may be tried: counted in the database, made for a school.

Thirty tablets may share one address and children mistype, so a class is never locked by wrong codes of its
own while joining is open: a team's code is long enough for that (`tests/classroom/test_guessing.py` works out
the sum). What is locked is an address from which codes of very many classes were tried; its teacher unlocks
it with one tap. Nothing readable is kept: addresses, codes and names as digests, for a day.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import F, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import salted_hmac

from classroom.codes import tidy_code
from classroom.models import Classroom, WrongTry

WINDOW = timedelta(hours=1)
MOST_CLASSES = 200
"""Class codes, right or mistyped, that one address may have failed at within the window.

A whole school behind one address, a lesson beginning in every room, stays below it.
"""

MOST_WRONG_A_SECOND = 100
"""Wrong codes after which the whole installation looks at no further code in that second, right or wrong."""

MOST_WRONG_FROM_ONE_ADDRESS = 25
"""The same for one address, so that one that floods leaves the others room; no school types so many."""

SIGN_IN_WINDOW = timedelta(minutes=15)
MOST_PASSWORDS = 10
KEPT = timedelta(days=1)
PACE_KEPT = timedelta(minutes=1)
KNOWN_FOR = timedelta(days=365)


def sender(request: HttpRequest, *more: str) -> str:
    """Return the digest of whom a request comes from; `more` narrows it, such as a user name."""
    address = str(request.META.get("REMOTE_ADDR", ""))
    return _digest("\0".join((address, *more)))


def _digest(text: str) -> str:
    return salted_hmac("classroom.throttle", text, algorithm="sha256").hexdigest()


# --- codes --------------------------------------------------------------------------------------------------


def is_locked(request: HttpRequest) -> bool:
    """Say whether codes of too many classes were tried from this address."""
    since = timezone.now() - WINDOW
    tried = WrongTry.objects.filter(door=WrongTry.Door.JOIN, who=sender(request), last_at__gt=since)
    return tried.count() >= MOST_CLASSES


def is_too_fast(request: HttpRequest) -> bool:
    """Say whether this second has seen all the wrong codes that a second may see; the next one is free.

    To be asked before a code is looked at: were a right one answered even then, guessing would have no pace.
    """
    this_second = WrongTry.objects.filter(door=WrongTry.Door.PACE, what=_second(timezone.now()))
    tried = dict(this_second.values_list("who", "tries"))
    return (
        sum(tried.values()) >= MOST_WRONG_A_SECOND
        or tried.get(sender(request), 0) >= MOST_WRONG_FROM_ONE_ADDRESS
    )


def _second(now: datetime) -> str:
    # Each second has a row of its own: machines whose clocks differ cannot begin each other's count anew.
    return str(int(now.timestamp()))


def note_wrong_code(request: HttpRequest, class_code: str) -> None:
    """Count a wrong code, under the class code that was typed with it."""
    now = timezone.now()
    who = sender(request)
    _note(WrongTry.Door.JOIN, who, _digest(tidy_code(class_code)[:40]), WINDOW)
    _note(WrongTry.Door.PACE, who, _second(now), WINDOW)
    over = Q(last_at__lt=now - KEPT) | Q(door=WrongTry.Door.PACE, last_at__lt=now - PACE_KEPT)
    WrongTry.objects.filter(over).delete()


def turn_away(request: HttpRequest, classroom: Classroom) -> bool:
    """Note that a tablet of a locked address wanted into this class; return whether that is news."""
    return _note(WrongTry.Door.AWAY, sender(request), str(classroom.pk), WINDOW)


def _away(classroom: Classroom) -> QuerySet[WrongTry]:
    since = timezone.now() - WINDOW
    return WrongTry.objects.filter(door=WrongTry.Door.AWAY, what=str(classroom.pk), last_at__gt=since)


def has_turned_away(classroom: Classroom) -> bool:
    """Say whether tablets of this class wait for their teacher to unlock their address."""
    return _away(classroom).exists()


def unlock(classroom: Classroom) -> None:
    """Unlock the addresses from which tablets wanted into this class."""
    waiting = list(_away(classroom).values_list("who", flat=True))
    if waiting:
        doors = (WrongTry.Door.JOIN, WrongTry.Door.AWAY)
        WrongTry.objects.filter(door__in=doors, who__in=waiting).delete()


# --- passwords ----------------------------------------------------------------------------------------------


def is_guessing(request: HttpRequest, username: str) -> bool:
    """Say whether too many wrong passwords were tried for this name from here."""
    since = timezone.now() - SIGN_IN_WINDOW
    return WrongTry.objects.filter(
        door=WrongTry.Door.SIGN_IN,
        who=_seat(request, username),
        last_at__gt=since,
        tries__gte=MOST_PASSWORDS,
    ).exists()


def note_wrong_password(request: HttpRequest, username: str) -> None:
    """Count a wrong password for a name."""
    _note(WrongTry.Door.SIGN_IN, _seat(request, username), "", SIGN_IN_WINDOW)


def _seat(request: HttpRequest, username: str) -> str:
    """Return whom a wrong password counts against: this address, or this browser where it is known.

    A browser in which the name was signed in before has a count of its own, so that children who try the
    teacher's name from the same address lock the teacher out of nothing.
    """
    name = username.casefold()
    known = request.get_signed_cookie(KNOWN_COOKIE, default="", salt=_salt(name), max_age=KNOWN_FOR)
    return sender(request, name, known or "")


KNOWN_COOKIE = "sb_known"


def _salt(name: str) -> str:
    return f"classroom.known:{name}"


def remember_browser(response: HttpResponse, username: str, *, secure: bool) -> None:
    """Let this browser be known as one in which this name was signed in."""
    response.set_signed_cookie(
        KNOWN_COOKIE,
        _digest(f"{username.casefold()}{timezone.now().isoformat()}")[:16],
        salt=_salt(username.casefold()),
        max_age=int(KNOWN_FOR.total_seconds()),
        httponly=True,
        samesite="Lax",
        secure=secure,
    )


# --- the count ----------------------------------------------------------------------------------------------


def _note(door: str, who: str, what: str, window: timedelta) -> bool:
    """Count one more, from one again where the last is older than `window`; return whether it is new."""
    now = timezone.now()
    rows = WrongTry.objects.filter(door=door, who=who, what=what)
    if rows.filter(last_at__gte=now - window).update(tries=F("tries") + 1, last_at=now):
        return False
    if rows.update(tries=1, last_at=now):
        return True
    try:
        with transaction.atomic():
            WrongTry.objects.create(door=door, who=who, what=what, last_at=now)
    except IntegrityError:
        # Another process counted the same one first.
        rows.update(tries=F("tries") + 1, last_at=now)
    return True
