"""Answers a tablet's outbox: its form goes to its own page, and it hears in JSON what became of it."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.access import TEAM_COOKIE, known_device
from classroom.context_processors import installation_id
from classroom.entry_head import EntryHead, head_of, read_head
from classroom.models import Device
from design_challenges.models import ClassChallenge, Reading, Submission
from design_challenges.services import records, unplaced
from design_challenges.services.entries import Sender, body_hash, bump_revision
from design_challenges.views.arrivals import entry_answer, is_entry, is_foreign, sender_of, senders_of

GetResponse = Callable[[HttpRequest], HttpResponseBase]
Saved, Refused = Submission.Outcome.SAVED, Submission.Outcome.REFUSED
REASON_LENGTH = 200
# What a form carries beside what was typed.
_CARRIED = ("csrfmiddlewaretoken", "entry_id", "counter", "device_time", "installation", "sender")
# The timing station answers outboxes itself: its entries say by a ticket of their own whose they are.
_ANSWERS_ITSELF = "/station/"
_UNPLACED = {"foreign": Reading.Unplaced.FOREIGN, "gone": Reading.Unplaced.TEAM_GONE}
_SUMMARY = re.compile(r"<div[^>]* data-error-summary.*?</div>", re.DOTALL)


@never_cache
@require_safe
def entries(request: HttpRequest) -> JsonResponse:
    """Tell an outbox, before it sends, which installation this is, whom it takes it for, and a good token."""
    known = {
        "token": get_token(request),
        "installation": str(installation_id()),
        "senders": senders_of(request),
    }
    return JsonResponse(known)


class EntryMiddleware:
    """Let every form of a tablet arrive as an entry, answered by its own page.

    Comes last, so that the page's answer is read as the page gave it, and after the check of the token.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if not _is_ours(request) or isinstance(response, JsonResponse):
            return response
        told = _tell(request, response)
        told.cookies = response.cookies
        return told

    def process_view(
        self, request: HttpRequest, _view: Any, _args: Any, _kwargs: Any
    ) -> HttpResponseBase | None:
        """Give an entry that came before its first answer, without asking its page again."""
        if not _is_ours(request):
            return None
        head = read_head(request, foreign=is_foreign(request.POST))
        if head is None:
            return _not_yet(400, _("This entry has no number of its own. Open the page again."))
        request.entry = head  # type: ignore[attr-defined]
        return _answered(request, head)


def _is_ours(request: HttpRequest) -> bool:
    return request.method == "POST" and is_entry(request) and not request.path.startswith(_ANSWERS_ITSELF)


def _answered(request: HttpRequest, head: EntryHead) -> HttpResponseBase | None:
    row = Submission.objects.filter(entry_id=head.entry_id).select_related("class_challenge").first()
    # What was not sent by an outbox, or answers outboxes itself, compares bodies itself.
    if row is None or "sent" not in row.body:
        return None
    if row.body["sent"] == head.digest:
        return _told(request, row)
    reason = _("The same entry was sent before, with something else in it. Both are kept.")
    _keep(row.class_challenge, Sender(device=row.device), request, head, reason, again=True)
    return entry_answer(Refused, reason=reason)


def _told(request: HttpRequest, row: Submission, page: str = "") -> JsonResponse:
    """Answer with what stands in the entry's row: the same at the first time and at every other."""
    if row.outcome == Refused:
        return entry_answer(Refused, answer=row.body.get("went_to", ""), reason=row.answer)
    answer = row.answer if row.answer.startswith("/") else request.path
    if row.outcome == Submission.Outcome.CONFLICT:
        reason = _("Another tablet of your team saved something else first. Look at both.")
        return entry_answer(row.outcome, reason=reason, page=page)
    return entry_answer(Saved, answer=answer, page=page)


def _tell(request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
    """Say what became of an entry, from its row, or from how its page answered."""
    head = head_of(request)
    if head is None:
        return _not_yet(response.status_code, _("The page is older than this visit. Trying again."))
    row = Submission.objects.filter(entry_id=head.entry_id).first()
    page = _fragment(request, response)
    if row is not None and row.body.get("sent") == head.digest:
        return _told(request, row, page)
    device: Device | None = getattr(request, "device", None)
    status = response.status_code
    if device is None:
        return _turned_away(request, head) if status in (302, 403) else _not_yet(status, "")
    if head.stopped == "other":
        return _not_yet(409, _("It was typed for another team. It waits for that team to join here again."))
    if head.stopped == "paused":
        return _not_yet(423, _("Your teacher paused the tablets. It is sent when they go on."))
    if head.stopped == "foreign":
        return _refuse(
            request, head, device, _("It was typed into another installation. Your teacher has it.")
        )
    if status in (301, 302, 303):
        reason = _("The page had moved on. Look at what is there now.")
        return _refuse(request, head, device, reason, answer=response.headers.get("Location", ""))
    if status in (404, 405, 410):
        return _refuse(request, head, device, _("The page that it belongs to is gone."))
    if status in (200, 422):
        return entry_answer(Refused, reason=_reason(response), page=page)
    return _not_yet(status, "")


def _fragment(request: HttpRequest, response: HttpResponseBase) -> str:
    """Return what htmx would put into the page; a plain form's page is fetched by the browser itself."""
    htmx = getattr(request, "htmx", None)
    if htmx and isinstance(response, HttpResponse) and response.status_code in (200, 422):
        return response.content.decode()
    return ""


def _reason(response: HttpResponseBase) -> str:
    """Return the words of the page's error summary."""
    found = _SUMMARY.search(response.content.decode()) if isinstance(response, HttpResponse) else None
    words = html.unescape(re.sub(r"<[^>]+>", " ", found[0])) if found else _("Look at the form once more.")
    return re.sub(r"\s+", " ", words).strip()[:REASON_LENGTH]


def _turned_away(request: HttpRequest, head: EntryHead) -> HttpResponseBase:
    """Answer a tablet that is in no team: it keeps the entry, unless its team is gone for good."""
    device = known_device(request, TEAM_COOKIE)
    if device is not None and device.team is not None and device.team.retired_at is not None:
        head.stopped = "gone"
        return _refuse(request, head, device, _("This team is gone from the class. Your teacher has it."))
    return _not_yet(401, _("This tablet is in no team now. Join your team again, then it is sent."))


def _refuse(
    request: HttpRequest, head: EntryHead, device: Device, reason: str, answer: str = ""
) -> HttpResponseBase:
    """Keep an entry that its page could not use, and say so; the tablet may forget it only then."""
    challenge = records.find_challenge(device.classroom)
    if challenge is None:
        return _not_yet(409, reason)
    _keep(challenge, sender_of(request, device=device), request, head, reason, went_to=answer)
    return entry_answer(Refused, answer=answer, reason=reason)


def _keep(
    challenge: ClassChallenge,
    sender: Sender,
    request: HttpRequest,
    head: EntryHead,
    reason: str,
    *,
    again: bool = False,
    went_to: str = "",
) -> None:
    """Keep what was typed as a refused entry; with `again` its id is taken, so it gets one of its own."""
    fields = {name: " · ".join(values) for name, values in request.POST.lists() if name not in _CARRIED}
    body = {**fields, "page": request.path, "sent": head.digest} | ({"went_to": went_to} if went_to else {})
    digest = body_hash(body)
    kept = Submission.objects.filter(class_challenge=challenge, body_hash=digest, outcome=Refused)
    if kept.exists():
        return
    columns = sender.fields() | {"body": body, "body_hash": digest, "answer": reason[:REASON_LENGTH]}
    if again:
        columns |= {"counter": None}
    else:
        columns |= {"entry_id": head.entry_id}
    why = _UNPLACED.get(head.stopped, Reading.Unplaced.NO_TRIAL)
    with transaction.atomic():
        row = Submission.objects.create(class_challenge=challenge, outcome=Refused, **columns)
        # A time is never lost: the teacher finds it among the readings that fit nowhere.
        if unplaced.keep(row, why) is not None:
            bump_revision(challenge.pk)


def _not_yet(status: int, reason: str) -> JsonResponse:
    """Answer so that the outbox keeps the entry and tries again."""
    response = JsonResponse({"reason": reason}, status=status if status >= 400 else 409)
    response.headers["Cache-Control"] = "no-store"
    return response
