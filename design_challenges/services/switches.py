"""What a teacher switches for a class: open steps, the pause, joining, and the class board."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from django.utils import timezone

from classroom import throttle
from classroom.models import Classroom, Team
from design_challenges.models import ClassChallenge, StepGate
from design_challenges.services.entries import teacher_change
from design_challenges.steps import Step

LONGEST_TIMER = timedelta(hours=1)


def set_gates(
    challenge: ClassChallenge, number: int, steps: Sequence[Step], is_open: bool, *, team: Team | None = None
) -> None:
    """Open or close steps of a round for the class, or for one team alone.

    A team's own gates go before the class's. Where a team is to have what the class
    has anyway, its own gate is taken away, so that it follows the class again.
    """

    def change() -> None:
        gates = StepGate.objects.filter(class_challenge=challenge, round=number, step__in=steps)
        wanted = list(steps)
        if team is not None:
            for_class = dict(gates.filter(team__isnull=True).values_list("step", "open"))
            wanted = [step for step in steps if for_class.get(step, number == 1) != is_open]
        gates.filter(team=team).delete()
        StepGate.objects.bulk_create(
            StepGate(class_challenge=challenge, team=team, round=number, step=step, open=is_open)
            for step in wanted
        )

    teacher_change(challenge.pk, change)


def set_paused(challenge: ClassChallenge, paused: bool) -> None:
    """Pause all tablets, or let them go on."""

    def change() -> None:
        rows = ClassChallenge.objects.filter(pk=challenge.pk)
        if paused:
            rows.filter(paused_at__isnull=True).update(paused_at=timezone.now())
        else:
            rows.update(paused_at=None)

    teacher_change(challenge.pk, change)


def set_joining(classroom: Classroom, challenge: ClassChallenge | None, is_open: bool) -> None:
    """Let tablets join, or no longer; opening begins a new count of wrong codes and unlocks."""

    def change() -> None:
        rows = Classroom.objects.filter(pk=classroom.pk)
        if is_open:
            throttle.unlock(classroom)
            rows.filter(joining_open=False).update(joining_open=True, wrong_codes=0)
        else:
            rows.update(joining_open=False)

    if challenge is None:
        change()
    else:
        teacher_change(challenge.pk, change)


def cover(challenge: ClassChallenge, name: str, covered: bool) -> None:
    """Cover a column, the axes or a team (see `covers`) until the children have guessed, or show it."""

    def change() -> None:
        row = ClassChallenge.objects.select_for_update().get(pk=challenge.pk)
        hidden = [other for other in row.board_hidden if other != name]
        row.board_hidden = [*hidden, name] if covered else hidden
        row.save(update_fields=["board_hidden"])

    teacher_change(challenge.pk, change)


def order_board(challenge: ClassChallenge, order: str) -> None:
    """Put the class board in team order or by the figure."""
    rows = ClassChallenge.objects.filter(pk=challenge.pk)
    teacher_change(challenge.pk, lambda: _run(rows.update(board_order=order)))


def set_timer(challenge: ClassChallenge, length: timedelta | None) -> None:
    """Start the discussion timer (at most an hour), or take it off the board."""
    ends_at = timezone.now() + min(length, LONGEST_TIMER) if length else None
    rows = ClassChallenge.objects.filter(pk=challenge.pk)
    teacher_change(challenge.pk, lambda: _run(rows.update(timer_ends_at=ends_at)))


def _run(_rows: int) -> None:
    """Take an update's count and give nothing, as a change must."""
