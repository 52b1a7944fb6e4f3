"""What a team's tablet watches while it types: pause, open steps, a clearance, an answered call for help."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from design_challenges.services.progress import ORDER
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.words import Words

PASSED = "p"
GIVEN, ASKED, TIMED = "given", "exit", "timed"


@dataclass(frozen=True)
class Watched:
    """The switches that matter to one team, short enough to travel in an address."""

    paused: bool
    helped: bool
    cleared: str
    open_steps: frozenset[str]
    given: int = 0
    asked: bool = False
    timed: int = 0

    def as_text(self) -> str:
        """Return the state as text, for the next question to carry."""
        parts = ["p" * self.paused, "h" * self.helped, self.cleared, *sorted(self.open_steps)]
        parts += [f"{GIVEN}{self.given}"] * bool(self.given) + [ASKED] * self.asked
        parts += [f"{TIMED}{self.timed}"] * bool(self.timed)
        return ".".join(parts)

    @classmethod
    def from_text(cls, text: str) -> Watched | None:
        """Return the state that the text stands for, or None where it is not such a text."""
        parts = text.split(".")
        if len(parts) < 3:
            return None
        paused, helped, cleared, *steps = parts
        open_steps = (s for s in steps if s != ASKED and not s.startswith((GIVEN, TIMED)))
        return cls(
            paused == "p",
            helped == "h",
            cleared,
            frozenset(open_steps),
            _counted(steps, GIVEN),
            ASKED in steps,
            _counted(steps, TIMED),
        )


def watch(klass: ClassRecord, team: TeamRecord) -> Watched:
    """Return what is so now."""
    current = team.current
    rounds = [current.number, current.number + 1] if current else [1]
    cleared = current is not None and current.clearance is not None
    # Over its limit as it was made, and the teacher lets it pass.
    built = current.built_figures if current else None
    passed = PASSED if built is not None and built.too_much and current and current.build_allowed else ""
    return Watched(
        paused=klass.challenge.paused_at is not None,
        helped=team.help_since is not None,
        cleared=f"c{current.number}{passed}" if current and cleared else "",
        open_steps=frozenset(
            f"{number}{step.value}"
            for number in rounds
            for step in ORDER
            if klass.is_open(team.team.pk, number, step)
        ),
        given=_steps_given(current) if current else 0,
        asked=klass.challenge.exit_question_id is not None,
        timed=_drops_timed(current) if current else 0,
    )


def _counted(parts: list[str], name: str) -> int:
    found = [part.removeprefix(name) for part in parts if part.startswith(name)]
    return int(found[0]) if found and found[0].isascii() and found[0].isdigit() else 0


def _drops_timed(record: RoundRecord) -> int:
    """Return how many of the team's drops have a time from the timing station."""
    return sum(
        1 for drop in record.drops if drop.reading is not None and drop.reading.source in ("station", "typed")
    )


def _steps_given(record: RoundRecord) -> int:
    """Return how often the teacher showed the team the steps of a sum."""
    return sum(1 for rows in record.workings.values() for row in rows if row.verdict == "given")


def what_changed(before: Watched, now: Watched) -> Words:
    """Return the change that matters most in a sentence, or "" where nothing did."""
    if now.paused != before.paused:
        return _("Your teacher paused the tablets.") if now.paused else _("You can go on now.")
    if now.cleared.endswith(PASSED) and now.cleared != before.cleared:
        return _("Your teacher lets your build pass.")
    if now.cleared and not before.cleared:
        return _("You are cleared to build!")
    if now.given > before.given:
        return _("Your teacher shows you the steps of a sum.")
    if now.timed > before.timed:
        return _("The timing station has a time for you.")
    if now.asked and not before.asked:
        return _("Your teacher has one last question for each of you.")
    if now.open_steps - before.open_steps:
        return _("Your teacher opened a step.")
    if before.open_steps - now.open_steps:
        return _("Your teacher closed a step for now.")
    if before.helped and not now.helped:
        return _("Your teacher has seen your call.")
    return ""
