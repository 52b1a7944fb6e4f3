"""The readiness check: all that must hold before a team may build, each with its numbers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.services.record_types import RoundRecord
from design_challenges.services.units import convert
from design_challenges.words import Words

DRAWING_DONE = ("paper", "photo", "sketch")
LATER = "later"


@dataclass(frozen=True)
class CheckItem:
    """One line of the checklist: whether it holds, and what is missing or by how much."""

    slug: str
    label: Words
    passed: bool
    detail: Words = ""


@dataclass(frozen=True)
class MaterialJudgement:
    """Which material figure a plan is judged by, and how far under (or over) the limit it is, in points."""

    figure: Decimal
    figure_from: str
    limit: Decimal

    @property
    def within(self) -> bool:
        return self.figure <= self.limit

    @property
    def gap(self) -> Decimal:
        return abs(self.limit - self.figure)


def judge_material(record: RoundRecord) -> MaterialJudgement | None:
    """Return the figure that decides, or None before the plan and its sums are complete.

    Within the limit by the team's own accepted figure or by the class figure is
    enough: nobody who was told 'right' is then told 'over the limit'.
    """
    figures = record.plan_figures
    if figures is None:
        return None
    team, klass = figures.material_team, figures.material_class
    if not record.sums_by_children:
        return MaterialJudgement(klass, "class", figures.limit)
    if team is None:
        return None
    if team > figures.limit >= klass:
        return MaterialJudgement(klass, "class", figures.limit)
    return MaterialJudgement(team, "team", figures.limit)


def check_readiness(record: RoundRecord) -> list[CheckItem]:
    """Return the checklist of a round, in the order a team works through it."""
    items = _words_and_ideas(record) if record.number == 1 else _change_and_reason(record)
    items += _sums(record)
    items.append(_limit(record))
    if record.values["drawing_required"]:
        drawing = record.notes.get("drawing")
        items.append(
            CheckItem(
                "drawing",
                _("The labelled drawing is done"),
                drawing is not None and drawing.text in DRAWING_DONE,
                _("Draw it, label it, then tick it off."),
            )
        )
    return items


def is_ready(record: RoundRecord) -> bool:
    """Return whether every line of the checklist holds."""
    return all(item.passed for item in check_readiness(record))


def _written(record: RoundRecord, prompt: str) -> bool:
    return prompt in record.notes and bool(record.notes[prompt].text.strip())


def _words_and_ideas(record: RoundRecord) -> list[CheckItem]:
    wanted = [quantity.slug for quantity in record.kind.quantities(record.values)]
    ideas = all(all(slug in record.ideas[stage] for slug in wanted) for stage in ("idea_a", "idea_b"))
    chosen = _written(record, "chosen") and _written(record, "why") and record.plan_complete
    return [
        CheckItem(
            "purpose",
            _("You wrote what it must do and may not do"),
            _written(record, "purpose"),
            _("Write one sentence."),
        ),
        CheckItem("ideas", _("You have two ideas"), ideas, _("Give each idea its sizes.")),
        CheckItem("chosen", _("You chose one and said why"), chosen, _("Choose A or B and say why.")),
    ]


def _change_and_reason(record: RoundRecord) -> list[CheckItem]:
    changed = changed_quantities(record)
    two = len(changed) > 1
    items = [
        CheckItem("sizes", _("You have new sizes"), record.plan_complete, _("Type the sizes of build 2.")),
        CheckItem(
            "change",
            _("You said what changes and why"),
            _written(record, "change") and _written(record, "change_why"),
            _("Say what changes and why."),
        ),
    ]
    if two:
        items.append(
            CheckItem(
                "change_two",
                _("You said why two things had to change"),
                _written(record, "change_two"),
                _("Two sizes changed. Say why both had to."),
            )
        )
    return items


def changed_quantities(record: RoundRecord) -> list[str]:
    """Return the planned quantities that differ from the round before (none in round 1)."""
    if record.before is None or not record.plan_complete:
        return []
    now, then = (one.kind.length_unit(one.values) for one in (record, record.before))
    before = {slug: convert(value, then, now) for slug, value in record.before.plan_sizes.items()}
    return [slug for slug, value in record.plan_sizes.items() if before.get(slug) != value]


def _sums(record: RoundRecord) -> list[CheckItem]:
    if not record.sums_by_children:
        return []
    items = []
    for step in record.kind.plan_steps(record.values):
        right = record.plan_complete and record.working(step).accepted is not None
        items.append(
            CheckItem(
                step.slug,
                format_lazy(_("{sum} is worked out"), sum=step.label),
                right,
                _("Work it out and check it."),
            )
        )
    return items


def _limit(record: RoundRecord) -> CheckItem:
    label = _("It is inside the material limit")
    judgement = judge_material(record)
    if judgement is None:
        return CheckItem("limit", label, False, _("First work out the material."))
    if judgement.within:
        detail = format_lazy(
            _("{figure} of {limit} points: {gap} to spare."),
            figure=f"{judgement.figure:f}",
            limit=f"{judgement.limit:f}",
            gap=f"{judgement.gap:f}",
        )
        return CheckItem("limit", label, True, detail)
    detail = format_lazy(
        _("{figure} of {limit} points: {gap} too many. Make something smaller."),
        figure=f"{judgement.figure:f}",
        limit=f"{judgement.limit:f}",
        gap=f"{judgement.gap:f}",
    )
    return CheckItem("limit", label, False, detail)
