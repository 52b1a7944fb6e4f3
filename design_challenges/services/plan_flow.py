"""The parts of the Plan step in order, and which one is next."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from design_challenges.services.readiness import changed_quantities
from design_challenges.services.record_types import RoundRecord
from design_challenges.words import Words

IDEAS = {"a": "idea_a", "b": "idea_b"}


@dataclass(frozen=True)
class PlanPart:
    """One screen of the plan: its name in the address, its name in words, whether it is done."""

    slug: str
    label: Words
    done: bool


def plan_parts(record: RoundRecord) -> list[PlanPart]:
    """Return the parts of a round's plan, in order."""
    parts = _first_plan(record) if record.number == 1 else _redesign(record)
    parts.append(PlanPart("sums", _("The sums"), sums_done(record)))
    if record.number == 1 or record.values["drawing_required"] or "drawing" in record.notes:
        parts.append(PlanPart("drawing", _("The drawing"), "drawing" in record.notes))
    return parts


def next_part(record: RoundRecord) -> PlanPart | None:
    """Return the first part that is not done, or None."""
    return next((part for part in plan_parts(record) if not part.done), None)


def sums_done(record: RoundRecord) -> bool:
    """Return whether the sums of the plan are worked out, by whoever does them."""
    if not record.plan_complete or not record.sums_by_children:
        return record.plan_complete
    return all(record.working(step).accepted is not None for step in record.kind.plan_steps(record.values))


def idea_complete(record: RoundRecord, letter: str) -> bool:
    """Return whether idea "a" or "b" has all its sizes."""
    sizes = record.ideas[IDEAS[letter]]
    return all(quantity.slug in sizes for quantity in record.kind.quantities(record.values))


def idea_inside(record: RoundRecord, letter: str) -> bool | None:
    """Return whether an idea is inside the material limit by the class figure; None before it has sizes."""
    if not idea_complete(record, letter):
        return None
    sizes = {slug: size.value for slug, size in record.ideas[IDEAS[letter]].items()}
    figures = record.kind.plan_figures(record.values, sizes, {})
    return figures.material_class <= figures.limit


def _first_plan(record: RoundRecord) -> list[PlanPart]:
    notes = record.notes
    # A guess is of no use once it is known: whoever chose without one goes on.
    known = "chosen" in notes
    return [
        PlanPart("purpose", _("What it must do"), "purpose" in notes),
        PlanPart("idea-a", _("Idea A"), idea_complete(record, "a")),
        PlanPart("idea-b", _("Idea B"), idea_complete(record, "b")),
        PlanPart("limit", _("Inside the limit?"), known or "meets_limit" in notes),
        PlanPart("slower", _("Which is better?"), (known or "slower" in notes) and "why" in notes),
        PlanPart("choose", _("Choose one"), "chosen" in notes and record.plan_complete),
    ]


def _redesign(record: RoundRecord) -> list[PlanPart]:
    notes = record.notes
    parts = [
        PlanPart("change", _("What changes"), "change" in notes and "change_why" in notes),
        PlanPart("sizes", _("New sizes"), record.plan_complete),
    ]
    if len(changed_quantities(record)) > 1:
        parts.append(PlanPart("change-two", _("Why both"), "change_two" in notes))
    return parts
