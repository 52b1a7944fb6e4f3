"""A team's work as its teacher sees it, and the pages that set an entry right by hand."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import TeacherRequest, teacher_of_class
from classroom.models import Team
from design_challenges.forms.corrections import ClearForm, CountsForm, TextForm, TimeForm
from design_challenges.forms.lengths import LengthField
from design_challenges.kinds.base import Quantity, Spot
from design_challenges.models import ClassChallenge, Clearance, Drop, Judgement, Measurement, Note, Reading
from design_challenges.services import readiness, saving
from design_challenges.services.dashboard import missing_words
from design_challenges.services.doubts import team_doubts
from design_challenges.services.entries import Author, Sender, save_entry
from design_challenges.services.record_types import DropRecord, RoundRecord, TeamRecord
from design_challenges.services.records import find_challenge, load_team
from design_challenges.services.team_history import load_history
from design_challenges.services.turns import meetings
from design_challenges.views.seats import read_entry_id

WORDS = (
    Note.Prompt.PURPOSE,
    Note.Prompt.WHY,
    Note.Prompt.CHANGE_WHY,
    Note.Prompt.CHANGE_TWO,
    Note.Prompt.NOTICING,
)
SIZES = (Measurement.Stage.PLANNED, Measurement.Stage.BUILT)


@require_GET
@never_cache
@teacher_of_class(substitute=True)
def team_work(request: TeacherRequest, team_id: int) -> HttpResponse:
    """Everything a team entered, in all its rounds, with what it replaced."""
    challenge, team = _team(request, team_id)
    context = {
        "history": load_history(challenge, team),
        "words": [str(prompt) for prompt in WORDS],
        "doubts": team_doubts(team),
    }
    return render(request, "teacher/team_work.html", _context(request, challenge, team, **context))


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def correct_size(
    request: TeacherRequest, team_id: int, number: int, stage: str, quantity: str, spot: int
) -> HttpResponse:
    """Set a planned or a measured size right."""
    opened = _open_round(request, team_id, number)
    record = opened.record
    about = _size_asked(record, stage, quantity, spot)
    if about is None:
        raise Http404
    standing = (
        record.built.get((quantity, spot)) if stage == Measurement.Stage.BUILT else record.plan.get(quantity)
    )
    form = _size_form(request, record, about, standing.typed if standing else "")

    read = _waiting_readings(record, about)

    def save(author: Author) -> None:
        length = form.cleaned_data["length"]
        saving.save_size(record.iteration, stage, quantity, length, author, spot=spot)

    return opened.correct(
        form,
        save,
        title=_("Correct: {label}").format(label=about.label),
        sentence=_("The old value is kept. Sums that were worked from it have to be worked again.")
        if stage == Measurement.Stage.PLANNED
        else _("Two children read {one} and {other}. Both readings are kept; what you type counts.").format(
            one=read[0], other=read[1]
        )
        if read
        else _("The old value is kept."),
    )


def _waiting_readings(record: RoundRecord, about: Quantity | Spot) -> tuple[str, str] | None:
    """Return the two readings of a spot that wait for somebody to choose, or None."""
    found = meetings(record, [about]) if isinstance(about, Spot) else []
    return found[0].readings if found else None


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def correct_note(request: TeacherRequest, team_id: int, number: int, prompt: str) -> HttpResponse:
    """Set a text that a team wrote right."""
    opened = _open_round(request, team_id, number)
    record = opened.record
    if prompt not in WORDS:
        raise Http404
    standing = record.notes.get(prompt)
    form = TextForm(_typed(request), initial={"text": standing.text if standing else ""})
    return opened.correct(
        form,
        lambda author: saving.save_note(record.iteration, prompt, form.cleaned_data["text"], author),
        title=_("Correct: {label}").format(label=Note.Prompt(prompt).label),
        sentence=_("The old text is kept."),
    )


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def correct_drop(request: TeacherRequest, team_id: int, number: int, drop_id: int) -> HttpResponse:
    """Put another time on a drop; the old one is kept, set aside."""
    opened = _open_round(request, team_id, number)
    record = opened.record
    drop = _drop(record, drop_id)
    initial = {"time": f"{drop.reading.seconds:f}" if drop.reading else ""}
    form = TimeForm(_typed(request), initial=initial)

    def save(author: Author) -> None:
        saving.correct_reading(
            Drop.objects.select_related("iteration").get(pk=drop.row_id),
            form.cleaned_data["time"],
            form.cleaned_data["reason"],
            author,
        )

    return opened.correct(
        form,
        save,
        title=_("Correct the time of drop {trial}").format(trial=drop.trial),
        sentence=_("The old time is kept beside it. Sums that were worked from it have to be worked again."),
    )


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def judge_drop(request: TeacherRequest, team_id: int, number: int, drop_id: int) -> HttpResponse:
    """Mark a drop as not counting, or as counting again, with a reason."""
    opened = _open_round(request, team_id, number)
    record = opened.record
    drop = _drop(record, drop_id)
    if not drop.counts and _newer_attempt(record, drop):
        messages.warning(request, _("That drop was done again, so the newer attempt is the one that counts."))
        return redirect("design_challenges:team_work", request.classroom.code, team_id)
    form = CountsForm(_typed(request))

    def save(author: Author) -> None:
        row, reason = Drop.objects.get(pk=drop.row_id), form.cleaned_data["reason"]
        if drop.counts:
            saving.judge_drop(row, False, Judgement.Reason.TEACHER, author, note=reason)
        else:
            saving.count_again(row, reason, author)

    counts = drop.counts
    return opened.correct(
        form,
        save,
        title=_("Drop {trial} does not count").format(trial=drop.trial)
        if counts
        else _("Drop {trial} counts again").format(trial=drop.trial),
        sentence=_("Its reading and your reason are kept. The team can drop again.")
        if counts
        else _("Its reading goes into the mean again."),
        button=_("It does not count") if counts else _("It counts again"),
    )


@require_POST
@teacher_of_class(substitute=True)
def settle_reading(request: TeacherRequest, team_id: int, reading_id: int) -> HttpResponse:
    """Say which of several readings of one drop stands; the others are kept."""
    challenge, team = _team(request, team_id)
    reading = get_object_or_404(
        Reading, pk=reading_id, drop__iteration__team=team.team, class_challenge=challenge
    )
    _save(request, challenge, {"settle": reading_id}, lambda author: saving.settle_reading(reading, author))
    messages.success(request, _("That time stands now. The other one is kept."))
    return redirect("design_challenges:team_work", request.classroom.code, team.team.pk)


@require_http_methods(["GET", "POST"])
@teacher_of_class(substitute=True)
def clear_by_hand(request: TeacherRequest, team_id: int, number: int) -> HttpResponse:
    """Clear a team to build by hand, with a reason; what is missing is said first."""
    opened = _open_round(request, team_id, number)
    record = opened.record
    form = ClearForm(_typed(request))
    judged = readiness.judge_material(record)

    def save(author: Author) -> None:
        saving.clear_team(
            record,
            Clearance.By.TEACHER,
            author,
            figure=judged.figure if judged else None,
            figure_from=judged.figure_from if judged else "",
            reason=form.cleaned_data["reason"],
        )

    missing = [missing_words(record, item) for item in readiness.check_readiness(record) if not item.passed]
    built = record.built_figures
    if built is not None and built.too_much:
        missing.append(_("the made thing is {n} % over the limit").format(n=f"{built.over_per_cent:f}"))
    return opened.correct(
        form,
        save,
        title=_("Clear {team} to build").format(team=opened.team.team.name),
        sentence=_("Still missing: {things}.").format(things=", ".join(missing))
        if missing
        else _("The checklist is complete."),
        button=_("Clear to build"),
    )


# --- shared ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class OpenRound:
    """A team's round as a teacher has it open to set something right."""

    request: TeacherRequest
    challenge: ClassChallenge
    team: TeamRecord
    record: RoundRecord

    def correct(
        self,
        form: forms.Form,
        save: Callable[[Author], object],
        *,
        title: str,
        sentence: str,
        button: str = "",
    ) -> HttpResponse:
        """Show the form, or save what it says as one entry and go back to the team's work."""
        request = self.request
        if request.method == "POST" and form.is_valid():
            body = {name: request.POST.get(name, "") for name in form.fields}
            _save(request, self.challenge, body, save)
            messages.success(request, _("Saved. The old value is kept in the team’s work."))
            return redirect("design_challenges:team_work", request.classroom.code, self.team.team.pk)
        context = _context(
            request,
            self.challenge,
            self.team,
            round=self.record,
            form=form,
            title=title,
            sentence=sentence,
            button=button or _("Save"),
            entry_id=read_entry_id(request) if request.method == "POST" else uuid.uuid4(),
            held=request.held is not None,
        )
        status = 422 if request.method == "POST" else 200
        return render(request, "teacher/team_correct.html", context, status=status)


def _open_round(request: TeacherRequest, team_id: int, number: int) -> OpenRound:
    challenge, team = _team(request, team_id)
    if number not in team.rounds:
        raise Http404
    return OpenRound(request, challenge, team, team.rounds[number])


def _save(
    request: TeacherRequest,
    challenge: ClassChallenge,
    body: dict[str, Any],
    save: Callable[[Author], object],
) -> None:
    def effect(author: Author) -> str:
        save(author)
        return ""

    sender = Sender(device=request.substitute, user=request.by_user)
    save_entry(challenge, sender, read_entry_id(request), {**body, "page": request.path}, effect)


def _typed(request: TeacherRequest) -> Any:
    """Return what the form is filled from: what was sent, or what was kept while signed out."""
    return request.POST if request.method == "POST" else request.held


def _context(
    request: TeacherRequest, challenge: ClassChallenge, team: TeamRecord, **more: Any
) -> dict[str, Any]:
    return {
        "classroom": request.classroom,
        "substitute": request.substitute,
        "challenge": challenge,
        "team": team,
        **more,
    }


def _team(request: TeacherRequest, team_id: int) -> tuple[ClassChallenge, TeamRecord]:
    challenge = find_challenge(request.classroom)
    if challenge is None:
        raise Http404
    team = get_object_or_404(Team, pk=team_id, classroom_id=request.classroom.pk)
    return challenge, load_team(challenge, team).teams[0]


def _drop(record: RoundRecord, drop_id: int) -> DropRecord:
    for drop in record.drops:
        if drop.row_id == drop_id:
            return drop
    raise Http404


def _newer_attempt(record: RoundRecord, drop: DropRecord) -> bool:
    return any(other.trial == drop.trial and other.attempt > drop.attempt for other in record.drops)


def _size_asked(record: RoundRecord, stage: str, quantity: str, spot: int) -> Quantity | Spot | None:
    """Return the quantity or the spot that a correction is about, or None for what nobody asks."""
    if stage == Measurement.Stage.PLANNED and spot == 1:
        return next((one for one in record.kind.quantities(record.values) if one.slug == quantity), None)
    if stage == Measurement.Stage.BUILT:
        spots = record.kind.spots(record.values)
        return next((one for one in spots if (one.quantity, one.spot) == (quantity, spot)), None)
    return None


def _size_form(
    request: TeacherRequest, record: RoundRecord, about: Quantity | Spot, standing: str
) -> forms.Form:
    form = forms.Form(_typed(request), initial={"length": standing})
    form.fields["length"] = LengthField(
        label=about.label,
        help_text=about.hint,
        unit=record.kind.length_unit(record.values),
        division=Fraction(record.values["tape_division"]),
        least=about.least,
        most=about.most,
    )
    return form
