"""The rules that suggest a level, each of them one line that a teacher can read; pure, fed by records.

Every rule goes by what stands in the end: tries, hints and steps shown count nowhere. None of them looks
at a fall time, at a performance figure or at a change of one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from design_challenges.services.dashboard import due_sums
from design_challenges.services.readiness import changed_quantities
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.working import Step
from design_challenges.words import Words

Rounds = Sequence[RoundRecord]
"""The rounds that are judged, in order: of a child, those it was there for."""

DECIMALS = ("5.NBT.A.4", "5.NBT.B.7")
UNITS = ("4.MD.A.1", "5.MD.A.1")
"""Changing units: no step asks for it, so nothing can be suggested from what a team enters."""
_NUMBER = re.compile(r"\d")


@dataclass(frozen=True)
class Rule:
    """How a level is suggested: `words` are the whole rule; `judge` gives None where nothing can be said.

    `leaves` are standards of the same criterion that the rule does not look at: the teacher judges them.
    """

    slug: str
    label: Words
    words: Words
    judge: Callable[[Rounds], int | None]
    leaves: tuple[str, ...] = ()

    def left_of(self, codes: Sequence[str]) -> list[str]:
        """Return those of a criterion's standards that no suggestion goes by."""
        return [code for code in codes if code in self.leaves]


# --- words that children wrote -----------------------------------------------------------------------


def written(record: RoundRecord, prompt: str) -> str:
    """Return a team's text of a round, "" where there is none."""
    note = record.notes.get(prompt)
    return note.text.strip() if note else ""


def names_limit(text: str) -> bool:
    """Return whether a text has one of the words that name a limit."""
    words = gettext("limit limits points only most more less than under over within not cannot can't budget")
    return bool(set(words.split()) & _words(text))


def has_number(text: str) -> bool:
    return _NUMBER.search(text) is not None


def compares(text: str) -> bool:
    """Return whether a text compares or counts: a number, or a word that compares."""
    words = gettext(
        "than more less most least same different bigger smaller larger longer shorter wider slower faster "
        "higher lower heavier lighter slowest fastest biggest smallest longest shortest"
    )
    return has_number(text) or bool(set(words.split()) & _words(text))


def _words(text: str) -> set[str]:
    return set(re.findall(r"[\w']+", text.lower().replace("’", "'")))


# --- the rules ---------------------------------------------------------------------------------------


def _limits(rounds: Rounds) -> int | None:
    texts = [text for record in rounds if (text := written(record, "purpose"))]
    if not rounds or rounds[0].number > 1:
        return None
    if not texts:
        return 1
    text = texts[-1]
    return 2 + names_limit(text) + has_number(text)


def _ideas(rounds: Rounds) -> int | None:
    first = next((record for record in rounds if record.number == 1), None)
    if first is None:
        return None
    quantities = {quantity.slug for quantity in first.kind.quantities(first.values)}
    if not all(quantities <= first.ideas.get(stage, {}).keys() for stage in ("idea_a", "idea_b")):
        return 1
    if not (written(first, "chosen") and written(first, "meets_limit")):
        return 2
    return 4 if written(first, "why") else 3


def tested_fully(record: RoundRecord) -> bool:
    """Return whether all drops that the round waits for are in."""
    return record.trials_complete


def changed_fairly(record: RoundRecord) -> bool:
    """Return whether a later round changed one thing, or said why two had to change."""
    changed = changed_quantities(record)
    return len(changed) == 1 or (len(changed) > 1 and bool(written(record, "change_two")))


def _fair_test(rounds: Rounds) -> int | None:
    if not rounds:
        return None
    if not any(record.counting for record in rounds):
        return 1
    fair = [record for record in rounds if tested_fully(record) and changed_fairly(record)]
    if not fair:
        return 2
    return 4 if any(written(record, "change_why") for record in fair) else 3


def _measuring(rounds: Rounds) -> int | None:
    if not rounds:
        return None
    if not any(record.built for record in rounds):
        return 1
    begun = [record for record in rounds if record.built]
    if not all(record.build_complete for record in begun):
        return 2
    on_marks = all(
        on_a_mark(size.value, record.tape_division) for record in begun for size in record.built.values()
    )
    return 4 if on_marks else 3


def on_a_mark(size: Fraction, division: Fraction) -> bool:
    """Return whether a length stands on a mark of the tape."""
    return (size / division).denominator == 1


def sums_about(record: RoundRecord, codes: Sequence[str]) -> list[Step]:
    """Return the sums of a round that work on these standards and nothing beyond them."""
    return [
        step
        for step in due_sums(record)
        if (about := record.kind.sum_standards(record.values, step.slug)) and set(about) <= set(codes)
    ]


def _sums(codes: Sequence[str]) -> Callable[[Rounds], int | None]:
    def judge(rounds: Rounds) -> int | None:
        due = [
            (record, step)
            for record in rounds
            if record.sums_by_children
            for step in sums_about(record, codes)
        ]
        if not due:
            return None
        right = Fraction(sum(record.working(step).accepted is not None for record, step in due), len(due))
        return 4 if right == 1 else 3 if right >= Fraction(3, 4) else 2 if right >= Fraction(1, 2) else 1

    return judge


def _explaining(rounds: Rounds) -> int | None:
    if not rounds:
        return None
    noticings = [note.text for record in rounds for note in record.noticings]
    texts = [written(record, prompt) for record in rounds for prompt in ("why", "change_why")]
    reasons = [text for text in texts if text]
    if not noticings and not reasons:
        return 1
    if not (noticings and reasons):
        return 2
    return 4 if any(compares(text) for text in (*noticings, *reasons)) else 3


def _noticed(rounds: Rounds) -> int | None:
    if not rounds:
        return None
    noticed = [record for record in rounds if record.noticings]
    if not noticed:
        return 1
    comparing = [record for record in noticed if any(compares(note.text) for note in record.noticings)]
    return 2 if not comparing else 3 if len(comparing) == 1 else 4


def _iterating(rounds: Rounds) -> int | None:
    if not rounds:
        return None
    if not any(record.counting for record in rounds):
        return 1
    later = [record for record in rounds if record.number > 1]
    planned = [record for record in later if written(record, "change") and written(record, "change_why")]
    if not planned:
        return 2
    return 4 if any(tested_fully(record) for record in planned) else 3


_SUM_WORDS = _(
    "By the share of these sums that are right in the end: 4 all, 3 three quarters, 2 half, 1 fewer. "
    "Tries and hints do not count."
)
_ALL = (
    Rule(
        "limits",
        _("What it must do, in own words"),
        _("1 nothing written; 2 written; 3 with a word for a limit, or a number; 4 with both."),
        _limits,
    ),
    Rule(
        "ideas",
        _("The two ideas, the choice and the reason"),
        _("1 one idea or none; 2 two ideas; 3 checked against the limit and one chosen; 4 with a reason."),
        _ideas,
    ),
    Rule(
        "fair_test",
        _("Drops, what did not count, and what changed"),
        _(
            "1 no drop; 2 drops, no fair second build; 3 all drops of a build that changed one thing, or two "
            "with a reason; 4 and why it should help."
        ),
        _fair_test,
    ),
    Rule(
        "measuring",
        _("Sizes of the made thing, and pairs of readings"),
        _("1 nothing measured; 2 some sizes; 3 every size; 4 every size, each on a mark of the tape."),
        _measuring,
        leaves=UNITS,
    ),
    Rule("decimals", _("Sums with rounding and decimals"), _SUM_WORDS, _sums(DECIMALS)),
    Rule(
        "explaining",
        _("Reasons and noticings"),
        _(
            "1 neither a noticing nor a reason; 2 one of them; 3 both; 4 both, and one of them compares or "
            "names a number."
        ),
        _explaining,
    ),
    Rule(
        "noticed",
        _("Noticings about the class"),
        _("1 no noticing; 2 a noticing; 3 one that compares or names a number; 4 such a one in two rounds."),
        _noticed,
    ),
    Rule(
        "iterating",
        _("Builds, changes and tests"),
        _("1 no drop; 2 a first build tested; 3 a change planned, with why; 4 and tested with all drops."),
        _iterating,
    ),
    Rule("area", _("Sums with the area of a circle"), _SUM_WORDS, _sums(("7.G.B.4",))),
    Rule("mean", _("Sums with a mean"), _SUM_WORDS, _sums(("6.SP.A.3",))),
    Rule("rate", _("Sums with a rate"), _SUM_WORDS, _sums(("6.RP.A.3",))),
)
RULES = {rule.slug: rule for rule in _ALL}

ABOUT = {"decimals": DECIMALS, "area": ("7.G.B.4",), "mean": ("6.SP.A.3",), "rate": ("6.RP.A.3",)}
"""The standards whose sums are evidence, by rule."""

ROUND_1_ONLY = ("limits", "ideas")
"""What a team does in round 1 alone: a child who was away then has no part in it."""


def suggest(evidence: str, rounds: Rounds) -> int | None:
    """Return the level that the rule suggests, 1 to 4, or None where there is no rule or nothing to judge."""
    rule = RULES.get(evidence)
    return rule.judge(rounds) if rule and rounds else None
