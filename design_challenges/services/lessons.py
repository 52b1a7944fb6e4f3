"""A lesson's start and end: where each team is, who drops first next time, and what each did last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from classroom.models import Attendance, Classroom, Device, Lesson
from design_challenges.models import ClassChallenge
from design_challenges.services.entries import bump_revision
from design_challenges.services.progress import next_step
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.steps import Step
from design_challenges.words import Words

# By the step a team stands at: what it finished last and what it does next, after "you …".
LAST: Mapping[Step, Words] = {
    Step.PLAN: _("began your plan"),
    Step.READY: _("made your plan"),
    Step.BUILD: _("were cleared to build"),
    Step.TEST: _("built it and measured it"),
    Step.RESULTS: _("timed your drops"),
    Step.COMPARE: _("worked out your results"),
}
NEXT: Mapping[Step, Words] = {
    Step.PLAN: _("finish your plan"),
    Step.READY: _("check that you are ready"),
    Step.BUILD: _("build it and measure it"),
    Step.TEST: _("time your drops"),
    Step.RESULTS: _("work out your results"),
    Step.COMPARE: _("look at the class's numbers"),
}


@dataclass(frozen=True)
class TeamPlace:
    """Where a team is: the round and step it stands at (None when all is done), in words after "you …"."""

    team_id: int
    team: str
    round: int
    step: str
    last: Words
    next: Words
    drops_in: int
    drops_wanted: int


def place_of(team: TeamRecord, rounds: int) -> TeamPlace:
    """Return where a team is, of a class challenge with this many rounds."""
    record = team.current
    if record is None:
        return TeamPlace(
            team.team.pk, team.team.name, 1, Step.PLAN, _("got your team"), _("start your plan"), 0, 0
        )
    step = next_step(record)
    last, following = _words(record, step, rounds)
    return TeamPlace(
        team_id=team.team.pk,
        team=team.team.name,
        round=record.number,
        step=step or "",
        last=last,
        next=following,
        drops_in=len(record.counting),
        drops_wanted=record.trials_expected,
    )


def _words(record: RoundRecord, step: Step | None, rounds: int) -> tuple[Words, Words]:
    if step is None:
        if record.number < rounds:
            return _("finished the round"), format_lazy(_("start round {number}"), number=record.number + 1)
        return _("finished the last round"), _("tell others what you found out")
    if step is Step.TEST and record.counting:
        said = format_lazy(
            _("timed {done} of {wanted} drops"), done=len(record.counting), wanted=record.trials_wanted
        )
        return said, format_lazy(_("time drop {trial}"), trial=record.next_trial)
    return LAST[step], NEXT[step]


def places(klass: ClassRecord) -> list[TeamPlace]:
    """Return where each team is, in team order."""
    return [place_of(team, klass.challenge.rounds) for team in klass.teams]


def drop_order(now: Sequence[TeamPlace], last_first: int | None) -> list[TeamPlace]:
    """Return who still has drops to do, in the order for next time.

    Teams in the middle of their drops go first; then team order, beginning after
    `last_first` (the team that went first last time), so that it is not always the
    same one.
    """
    waiting = [place for place in now if place.step == Step.TEST]
    ids = [place.team_id for place in now]
    start = ids.index(last_first) + 1 if last_first in ids else 0
    turn = {team_id: (index - start) % len(ids) for index, team_id in enumerate(ids)}
    return sorted(waiting, key=lambda place: (place.drops_in == 0, turn[place.team_id]))


def open_lesson(classroom: Classroom) -> Lesson | None:
    """Return the lesson that is on, or None."""
    return classroom.lessons.filter(ended_at__isnull=True).first()


def start_lesson(classroom: Classroom, user: User | None) -> Lesson:
    """Start a lesson and open joining; one that is on already goes on."""
    with transaction.atomic():
        Classroom.objects.select_for_update().get(pk=classroom.pk)
        found = open_lesson(classroom)
        if found is not None:
            return found
        newest = classroom.lessons.order_by("-number").first()
        lesson = Lesson.objects.create(
            classroom=classroom,
            number=newest.number + 1 if newest else 1,
            started_at=timezone.now(),
            started_by=user,
        )
        Classroom.objects.filter(pk=classroom.pk).update(joining_open=True, wrong_codes=0)
        _tell_watchers(classroom)
    return lesson


def _tell_watchers(classroom: Classroom) -> None:
    """Raise the class's revision: a lesson is a day of drops, and says who is there."""
    for challenge_id in ClassChallenge.objects.filter(classroom=classroom).values_list("pk", flat=True):
        bump_revision(challenge_id)


def end_lesson(lesson: Lesson) -> dict[str, Any]:
    """End a lesson: note where each team is, close joining, sign every team's tablets out.

    What was saved stays as it is; what a tablet was still typing is held for it
    until the team joins again.
    """
    classroom = lesson.classroom
    challenge = find_challenge(classroom)
    now = places(load_class(challenge)) if challenge is not None else []
    before = classroom.lessons.filter(number__lt=lesson.number).order_by("-number").first()
    last_first = (before.report.get("first") if before is not None else None) or None
    order = drop_order(now, last_first)
    report = {
        "places": [
            {
                "team_id": place.team_id,
                "team": place.team,
                "round": place.round,
                "step": str(place.step),
                "last": str(place.last),
                "next": str(place.next),
            }
            for place in now
        ],
        "order": [place.team for place in order],
        "first": order[0].team_id if order else last_first,
    }
    # A clock that was set back meanwhile must not keep a lesson from ending.
    ended = max(timezone.now(), lesson.started_at)
    with transaction.atomic():
        changed = Lesson.objects.filter(pk=lesson.pk, ended_at__isnull=True).update(
            ended_at=ended, report=report
        )
        if changed:
            Classroom.objects.filter(pk=classroom.pk).update(joining_open=False)
            Device.objects.filter(classroom=classroom, role=Device.Role.TEAM, revoked_at__isnull=True).update(
                revoked_at=ended
            )
            _tell_watchers(classroom)
    return report


def last_report(classroom: Classroom) -> Mapping[str, Any]:
    """Return the newest ended lesson's report, or an empty one."""
    ended = classroom.lessons.filter(ended_at__isnull=False).order_by("-number").first()
    return ended.report if ended is not None else {}


def has_ended_one(classroom: Classroom) -> bool:
    """Return whether the class has had a lesson before the one that is on."""
    return classroom.lessons.filter(ended_at__isnull=False).exists()


def save_attendance(lesson: Lesson, present: set[int]) -> None:
    """Note for every child of the class whether it is there; ids of other classes are passed over."""
    with transaction.atomic():
        for student in lesson.classroom.students.filter(left_at__isnull=True):
            Attendance.objects.update_or_create(
                lesson=lesson, student=student, defaults={"present": student.pk in present}
            )
        _tell_watchers(lesson.classroom)


def absent_students(classroom: Classroom) -> set[int]:
    """Return the ids of the children who were said to be away in the lesson that is on."""
    return set(
        Attendance.objects.filter(
            lesson__classroom=classroom, lesson__ended_at__isnull=True, present=False
        ).values_list("student_id", flat=True)
    )
