"""Who may come in: every team page and every teacher's page stands behind one of these decorators."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import wraps
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, cast
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django_htmx.middleware import HtmxDetails

from classroom import held
from classroom.codes import hash_token, make_token
from classroom.entry_head import head_of
from classroom.models import Classroom, Device, Membership, StationPass, SubstitutePass, Team
from classroom.models.entrance import STATION_HAND_IN
from classroom.prepared import Prepared, columns_of, instance_of

if TYPE_CHECKING:
    from django.contrib.auth.models import User

# Cookies ignore ports: the demo beside a real server must not sign its tablets out.
TEAM_COOKIE = settings.TEAM_COOKIE_NAME
SUBSTITUTE_COOKIE = settings.SUBSTITUTE_COOKIE_NAME
STATION_COOKIE = settings.STATION_COOKIE_NAME
# A lesson's end signs tablets out; this is only for a lesson that nobody ended.
TEAM_STAY = timedelta(hours=10)

Rest = ParamSpec("Rest")


class HtmxRequest(HttpRequest):
    """A request with django-htmx's details."""

    htmx: HtmxDetails


class TeamRequest(HtmxRequest):
    """A request from a tablet that joined a team; `held` is what it typed before it was signed out.

    `revision` is the class challenge's revision number, None where there is no challenge yet.
    """

    device: Device
    revision: int | None
    team: Team
    classroom: Classroom
    held: QueryDict | None


class StationRequest(HtmxRequest):
    """A request from a timing station; `live` is False for one that was withdrawn or has run out.

    `station` is its pass; what it timed before may still come in for a while.
    """

    device: Device
    station: StationPass
    classroom: Classroom
    live: bool


class AdultRequest(HtmxRequest):
    """A request from a signed-in adult, on a page that belongs to no class."""

    user: User
    held: QueryDict | None


class TeacherRequest(HtmxRequest):
    """A request from an adult who may run this class; `by_user` is None for a substitute's card."""

    classroom: Classroom
    by_user: User | None
    substitute: Device | None
    held: QueryDict | None


StationView = Callable[Concatenate[StationRequest, Rest], HttpResponseBase]
TeamView = Callable[Concatenate[TeamRequest, Rest], HttpResponseBase]
TeacherView = Callable[Concatenate[TeacherRequest, Rest], HttpResponseBase]


# What comes along with a device, each as the columns of one model.
_DEVICE = columns_of(Device)
_WITH_DEVICE = {
    "classroom": (Classroom, columns_of(Classroom, "classroom__")),
    "team": (Team, columns_of(Team, "team__")),
    "substitute_pass": (SubstitutePass, columns_of(SubstitutePass, "substitute_pass__")),
}
# The revision comes along, so that a tablet's poll that finds nothing new is one query.
_REVISION = "classroom__challenges__revision__number"

_live_device = Prepared(
    lambda token_hash: (
        Device.objects.filter(token_hash=token_hash, revoked_at__isnull=True)
        .order_by("classroom__challenges__pk")
        .values_list(
            *_DEVICE, *(name for _model, names in _WITH_DEVICE.values() for name in names), _REVISION
        )[:1]
    ),
    str,
)


def _read_device(token: str) -> Device | None:
    """Return the device of a token that was not withdrawn, with its team and class, in one query."""
    row = _live_device.row(hash_token(token))
    if row is None:
        return None
    device: Device = instance_of(Device, row[: len(_DEVICE)])
    start = len(_DEVICE)
    for name, (model, columns) in _WITH_DEVICE.items():
        values = row[start : start + len(columns)]
        start += len(columns)
        if values[0] is not None:
            setattr(device, name, instance_of(model, values))
    device.challenge_revision = row[-1]
    return device


def find_device(request: HttpRequest, cookie: str) -> Device | None:
    """Return the live device behind a cookie, or None: unknown, withdrawn or too old."""
    token = request.COOKIES.get(cookie)
    if not token:
        return None
    device = _read_device(token)
    if device is None or device.expires_at <= timezone.now() or device.classroom.archived_at is not None:
        return None
    if device.team is not None and device.team.retired_at is not None:
        return None
    if device.substitute_pass is not None and not device.substitute_pass.works:
        return None
    return device


def known_device(request: HttpRequest, cookie: str) -> Device | None:
    """Return the device whose cookie this is, whether or not it may still come in."""
    token = request.COOKIES.get(cookie)
    if not token:
        return None
    return Device.objects.filter(token_hash=hash_token(token)).select_related("team", "classroom").first()


def let_team_in(response: HttpResponse, team: Team) -> Device:
    """Make a device for the team and give this browser its cookie."""
    token = make_token()
    device = Device.objects.create(
        token_hash=hash_token(token),
        classroom=team.classroom,
        role=Device.Role.TEAM,
        team=team,
        expires_at=timezone.now() + TEAM_STAY,
        last_seen_at=timezone.now(),
    )
    _set_cookie(response, TEAM_COOKIE, token, device.expires_at)
    return device


def let_substitute_in(response: HttpResponse, card: SubstitutePass) -> Device:
    """Make a device for a substitute's card and give this browser its cookie."""
    token = make_token()
    device = Device.objects.create(
        token_hash=hash_token(token),
        classroom=card.classroom,
        role=Device.Role.SUBSTITUTE,
        substitute_pass=card,
        expires_at=card.expires_at,
        last_seen_at=timezone.now(),
    )
    _set_cookie(response, SUBSTITUTE_COOKIE, token, device.expires_at)
    return device


def let_station_in(response: HttpResponse, card: StationPass) -> Device:
    """Make a device for a station's link and give this browser its cookie."""
    token = make_token()
    device = Device.objects.create(
        token_hash=hash_token(token),
        classroom=card.classroom,
        role=Device.Role.STATION,
        station_pass=card,
        expires_at=card.expires_at,
        last_seen_at=timezone.now(),
    )
    # The page must still open when its time is over: readings may be waiting on it.
    _set_cookie(response, STATION_COOKIE, token, card.expires_at + STATION_HAND_IN)
    return device


def find_station(request: HttpRequest) -> Device | None:
    """Return the station behind a browser's cookie, also one that is over but may still hand in."""
    token = request.COOKIES.get(STATION_COOKIE)
    device = _stations().filter(token_hash=hash_token(token)).first() if token else None
    return device if device is not None and pass_of(device).may_hand_in else None


def find_station_by_id(device_id: int) -> Device | None:
    """Return a station by its row; whoever asks has made sure that it is that station."""
    device = _stations().filter(pk=device_id).first()
    return device if device is not None and pass_of(device).may_hand_in else None


def _stations() -> QuerySet[Device]:
    stations = Device.objects.filter(role=Device.Role.STATION)
    return stations.select_related("classroom", "station_pass")


def pass_of(device: Device) -> StationPass:
    """Return a station's pass, which every station has by the database's constraint."""
    if device.station_pass is None:
        raise TypeError("This device is no station.")
    return device.station_pass


def is_live_station(device: Device) -> bool:
    """Return whether a station may still time drops."""
    return pass_of(device).works and device.classroom.archived_at is None


def timing_station(view: StationView[Rest]) -> Callable[Concatenate[HttpRequest, Rest], HttpResponseBase]:
    """Let a timing station in, also one that is over and may still hand in; tell any other how to come in."""

    @wraps(view)
    def inner(request: Any, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
        device = find_station(request)
        if device is None:
            return render(request, "station/not_in.html", status=403)
        device.touch()
        request.device, request.station, request.classroom = device, pass_of(device), device.classroom
        request.live = is_live_station(device)
        return view(request, *args, **kwargs)

    return cast("Callable[Concatenate[HttpRequest, Rest], HttpResponseBase]", inner)


def _set_cookie(response: HttpResponse, name: str, token: str, expires: datetime) -> None:
    response.set_cookie(
        name,
        token,
        expires=expires,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def team_tablet(view: TeamView[Rest]) -> Callable[Concatenate[HttpRequest, Rest], HttpResponseBase]:
    """Let a tablet of a team in; send any other to the join page, holding what it typed."""

    @wraps(view)
    def inner(request: Any, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
        device, entry = find_device(request, TEAM_COOKIE), head_of(request)
        if device is None or device.team is None:
            if entry is None:  # an entry stays in the tablet's own outbox
                held.hold(request, owner=_last_team(request))
            return redirect(f"{reverse('classroom:join')}?{urlencode({'next': _way_back(request)})}")
        device.touch()
        request.revision = device.challenge_revision
        request.device, request.team, request.classroom = device, device.team, device.classroom
        request.held = held.take(request, owner=f"team {device.team_id}")
        if entry is not None and not entry.may_enter(f"team-{device.team_id}"):
            return HttpResponse(status=409)
        return view(request, *args, **kwargs)

    return cast("Callable[Concatenate[HttpRequest, Rest], HttpResponseBase]", inner)


def _last_team(request: HttpRequest) -> str:
    """Return whose entry this was, from the cookie of a device that no longer lets in."""
    token = request.COOKIES.get(TEAM_COOKIE, "")
    team_id = Device.objects.filter(token_hash=hash_token(token)).values_list("team_id", flat=True).first()
    return f"team {team_id}"


def _way_back(request: HttpRequest) -> str:
    """Return the page to come back to: for htmx the page it stands on, never a fragment's address."""
    htmx: HtmxDetails | None = getattr(request, "htmx", None)
    if htmx and htmx.current_url_abs_path:
        return htmx.current_url_abs_path
    return request.get_full_path() if request.method == "GET" else request.path


def signed_in(view: Callable[Concatenate[AdultRequest, Rest], HttpResponseBase]) -> Any:
    """Let a signed-in adult in, for the pages that belong to no class; hold what anybody else typed."""

    @wraps(view)
    def inner(request: Any, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
        if not request.user.is_authenticated:
            held.hold(request, owner="")
            return redirect_to_login(_way_back(request))
        request.held = held.take(request, owner="")
        return view(request, *args, **kwargs)

    return inner


def technician(view: Callable[Concatenate[AdultRequest, Rest], HttpResponseBase]) -> Any:
    """Let a staff account in; for any other adult the page does not exist."""

    @wraps(view)
    def inner(request: Any, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
        if not request.user.is_staff:
            raise Http404
        return view(request, *args, **kwargs)

    return signed_in(cast("Callable[Concatenate[AdultRequest, Rest], HttpResponseBase]", inner))


def teacher_of_class(
    view: TeacherView[Rest] | None = None, *, substitute: bool = False, archived: bool = False
) -> Any:
    """Let a teacher of the class named by `code` in; with `substitute`, a substitute's card as well.

    Somebody else's class answers 404, as one that does not exist would. An archived
    class can be read; a POST to it is refused, except where `archived` is set.
    """

    def decorate(view: TeacherView[Rest]) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def inner(request: Any, code: str, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
            request.by_user, request.substitute = None, None
            if request.user.is_authenticated:
                classroom = _own_classroom(request.user, code)
                if classroom is not None:
                    request.by_user, request.classroom = request.user, classroom
            if request.by_user is None:
                device = find_device(request, SUBSTITUTE_COOKIE)
                if device is not None and substitute and device.classroom.code == code.upper():
                    request.substitute, request.classroom = device, device.classroom
                elif request.user.is_authenticated:
                    raise Http404
                else:
                    held.hold(request, owner="")
                    return redirect_to_login(_way_back(request))
            if request.classroom.archived_at is not None and request.method == "POST" and not archived:
                # 422, so that htmx shows it, too.
                return render(request, "teacher/archived.html", {"classroom": request.classroom}, status=422)
            request.held = held.take(request, owner="")
            return view(request, *args, **kwargs)

        return inner

    return decorate if view is None else decorate(view)


_CLASSROOM = columns_of(Classroom)

_classroom_of = Prepared(
    lambda user, code: (
        Classroom.objects.filter(code=code, memberships__user=user)
        .order_by("challenges__pk")
        # The revision comes with the class, so that a poll that finds nothing new needs no query for it.
        .values_list(*_CLASSROOM, "memberships__until", "challenges__revision__number")
    ),
    int,
    str,
)


def owner_of_class(view: TeacherView[Rest]) -> Any:
    """Let in only who is the class's teacher, not a colleague: for what cannot be undone or gives it away.

    The class may be in the archive.
    """

    @wraps(view)
    def inner(request: Any, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
        own = request.classroom.memberships.filter(user=request.by_user, role=Membership.Role.TEACHER)
        if not own.exists():
            raise PermissionDenied
        return view(request, *args, **kwargs)

    return teacher_of_class(cast("TeacherView[Rest]", inner), archived=True)


def _own_classroom(user: User, code: str) -> Classroom | None:
    now = timezone.now()
    for row in _classroom_of.rows(user.pk, code.upper()):
        if row.memberships__until is None or row.memberships__until > now:
            classroom: Classroom = instance_of(Classroom, row[: len(_CLASSROOM)])
            classroom.challenge_revision = row[-1]
            return classroom
    return None


def classrooms_of(user: User, *, archived: bool = False) -> Any:
    """Return the classes a signed-in adult may run, by name."""
    still = Q(memberships__until__isnull=True) | Q(memberships__until__gt=timezone.now())
    return Classroom.objects.filter(still, memberships__user=user, archived_at__isnull=not archived).order_by(
        "name", "pk"
    )
