"""Gathers the evidence beside a criterion from records, each piece with the place where it stands; pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from design_challenges.services.lengths import format_with_unit, is_written_in
from design_challenges.services.marking.rules import ABOUT, Rounds, on_a_mark, sums_about, written
from design_challenges.services.pairs import first_pair
from design_challenges.services.readiness import changed_quantities
from design_challenges.services.record_types import DropRecord, RoundRecord


@dataclass(frozen=True)
class Piece:
    """One piece of evidence.

    `round` is 0 for what belongs to no round; `place` is where it stands on the page of the team's work
    ("plan", "build", "drops", "sums"), "picture" for a drawing (`ref` is its id), or "alone" for what a
    child did alone (`ref` is the sum). `quote` marks a child's own words.
    """

    text: str
    round: int = 0
    place: str = ""
    quote: bool = False
    ref: str = ""


@dataclass(frozen=True)
class Alone:
    """What one child did alone at one sum: the answer to an exit question, or what the teacher saw."""

    step: str
    label: str
    typed: str = ""
    right: bool = False
    saw: bool = False


def team_pieces(evidence: str, rounds: Rounds) -> list[Piece]:
    """Return the team's evidence for what a criterion looks at; empty for a teacher's own criteria."""
    gather = _GATHER.get(evidence)
    return [piece for record in rounds for piece in gather(record)] if gather else []


def own_pieces(evidence: str, alone: Sequence[Alone], about: Callable[[str], Sequence[str]]) -> list[Piece]:
    """Return a child's own evidence; `about` gives the standards of a sum."""
    codes = set(ABOUT.get(evidence, ()))
    pieces = []
    for done in alone:
        if not codes & set(about(done.step)):
            continue
        if done.saw:
            text = _("You saw this child do it: {sum}.").format(sum=done.label)
        elif done.right:
            text = _("Exit question, right: {sum}, {typed}.").format(sum=done.label, typed=done.typed)
        else:
            text = _("Exit question, not right: {sum}, {typed}.").format(sum=done.label, typed=done.typed)
        pieces.append(Piece(text, place="alone", ref=done.step))
    return pieces


# --- one sort of evidence after another --------------------------------------------------------------


def _said(record: RoundRecord, place: str, **prompts: str) -> list[Piece]:
    return [
        Piece(f"{label}: {text}" if label else text, record.number, place, quote=True)
        for prompt, label in prompts.items()
        if (text := written(record, prompt))
    ]


def _limits(record: RoundRecord) -> list[Piece]:
    pieces = _said(record, "plan", purpose="")
    if record.clearance is not None and record.number == 1:
        told = _("Cleared to build with {figure} of {limit} points.").format(
            figure=record.clearance.figure, limit=record.clearance.limit
        )
        pieces.append(Piece(told, record.number, "plan"))
    return pieces


def _ideas(record: RoundRecord) -> list[Piece]:
    unit = record.kind.length_unit(record.values)
    pieces = []
    for stage, name in (("idea_a", _("Idea A")), ("idea_b", _("Idea B"))):
        sizes = record.ideas.get(stage, {})
        told = [
            f"{quantity.label} {sizes[quantity.slug].typed} {unit.symbol}"
            for quantity in record.kind.quantities(record.values)
            if quantity.slug in sizes
        ]
        if told:
            pieces.append(Piece(f"{name}: {', '.join(told)}", record.number, "plan"))
    chosen = written(record, "chosen")
    if chosen:
        pieces.append(Piece(_("Chosen: idea {letter}").format(letter=chosen.upper()), record.number, "plan"))
    return [*pieces, *_said(record, "plan", why=""), *_drawing(record)]


def _drawing(record: RoundRecord) -> list[Piece]:
    if record.photo is not None:
        return [Piece(_("Labelled drawing"), record.number, "picture", ref=str(record.photo))]
    return [Piece(_("Drawing on paper"), record.number, "plan")] if written(record, "drawing") else []


def _change(record: RoundRecord) -> list[Piece]:
    labels = {quantity.slug: str(quantity.label) for quantity in record.kind.quantities(record.values)}
    changed = [labels.get(slug, slug) for slug in changed_quantities(record)]
    pieces = []
    if changed:
        pieces.append(
            Piece(_("Changed: {what}").format(what=", ".join(changed)), record.number, "plan"),
        )
    return [*pieces, *_said(record, "plan", change_why="", change_two=_("Why two"))]


def _fair_test(record: RoundRecord) -> list[Piece]:
    pieces = _change(record)
    if record.drops:
        made = _("{n} of {wanted} drops count").format(n=len(record.counting), wanted=record.trials_expected)
        pieces.append(Piece(made, record.number, "drops"))
    for drop in record.drops:
        if not drop.counted or not drop.opened:
            pieces.append(Piece(_failure(drop), record.number, "drops"))
    if record.broke:
        pieces.append(Piece(_("It broke, and the team went on."), record.number, "drops"))
    return pieces


def _failure(drop: DropRecord) -> str:
    reason = str(drop.mark_label or _("no reason"))
    told = f"{reason}, “{drop.note}”" if drop.note else reason
    if drop.counted:
        return _("Drop {trial} counts: {reason}").format(trial=drop.trial, reason=told)
    return _("Drop {trial} does not count: {reason}").format(trial=drop.trial, reason=told)


def _measuring(record: RoundRecord) -> list[Piece]:
    spots = list(record.kind.spots(record.values))
    if not record.built:
        return []
    off = sum(not on_a_mark(size.value, record.tape_division) for size in record.built.values())
    told = _("{n} of {wanted} sizes measured").format(n=len(record.built), wanted=len(spots))
    if off:
        told += "; " + ngettext("{n} is not on a mark", "{n} are not on a mark", off).format(n=off)
    return [Piece(told, record.number, "build"), *_pairs(record), *_other_units(record)]


def _pairs(record: RoundRecord) -> Iterable[Piece]:
    """Yield each pair of readings that two children took apart, as they first stood."""
    for spot in record.kind.spots(record.values):
        pair = first_pair(record.turns.get((spot.quantity, spot.spot), ()))
        if pair is None:
            continue
        first, second = (one.size.typed for one in pair)
        told = _("{size}: one read {first}, one {second}").format(size=spot.label, first=first, second=second)
        agreed = record.built.get((spot.quantity, spot.spot))
        if agreed is not None:
            told += "; " + _("agreed on {size}").format(size=agreed.typed)
        yield Piece(told, record.number, "build")


def _other_units(record: RoundRecord) -> Iterable[Piece]:
    """Yield each size of the made thing that was typed in another unit than the class's, as it was taken."""
    unit = record.kind.length_unit(record.values)
    for spot in record.kind.spots(record.values):
        key = spot.quantity, spot.spot
        sizes = [row.size for row in record.turns.get(key, ())]
        if key in record.built:
            sizes.append(record.built[key])
        typed = {size.typed: size.value for size in sizes if not is_written_in(size.typed, unit)}
        for text, value in typed.items():
            became = format_with_unit(value, unit, record.tape_division)
            told = _("{size}: typed as “{typed}”, taken as {became}").format(
                size=spot.label, typed=text, became=became
            )
            yield Piece(told, record.number, "build")


def _sums(codes: Sequence[str]) -> Callable[[RoundRecord], list[Piece]]:
    def gather(record: RoundRecord) -> list[Piece]:
        if not record.sums_by_children:
            return []
        pieces = []
        for step in sums_about(record, codes):
            work = record.working(step)
            if work.accepted is not None:
                told = _("{sum}: {answer}, right").format(sum=step.label, answer=f"{work.accepted:f}")
            elif work.tries:
                told = _("{sum}: not right yet, last “{typed}”").format(sum=step.label, typed=work.last_typed)
            else:
                told = _("{sum}: not tried").format(sum=step.label)
            pieces.append(Piece(told, record.number, "sums"))
        return pieces

    return gather


def _explaining(record: RoundRecord) -> list[Piece]:
    return [
        *_said(record, "plan", why=_("Why this idea"), change_why=_("Why the change")),
        *_noticed(record),
    ]


def _noticed(record: RoundRecord) -> list[Piece]:
    return [Piece(note.text, record.number, "plan", quote=True) for note in record.noticings]


def _iterating(record: RoundRecord) -> list[Piece]:
    pieces = _change(record)
    if record.drops:
        told = _("{n} of {wanted} drops count").format(n=len(record.counting), wanted=record.trials_expected)
        pieces.append(Piece(told, record.number, "drops"))
    return pieces


_GATHER: Mapping[str, Callable[[RoundRecord], list[Piece]]] = {
    "limits": _limits,
    "ideas": _ideas,
    "fair_test": _fair_test,
    "measuring": _measuring,
    "explaining": _explaining,
    "noticed": _noticed,
    "iterating": _iterating,
    **{slug: _sums(codes) for slug, codes in ABOUT.items()},
}
