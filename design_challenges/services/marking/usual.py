"""The usual rubrics: what a class of a grade is marked on unless its teacher says otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from design_challenges.services.marking.standards import is_beyond, within
from design_challenges.words import Words

FIRST_GRADE_OF_MIDDLE_SCHOOL = 6


@dataclass(frozen=True)
class Draft:
    """A criterion before it is saved: `levels` from the lowest to the highest, weight 0 for not graded."""

    key: str
    title: Words
    short: Words
    levels: tuple[Words, Words, Words, Words]
    codes: tuple[str, ...] = ()
    evidence: str = ""
    weight: int = 1


_SUMS = (
    _("Fewer than half of these sums are right in the end."),
    _("At least half of these sums are right in the end."),
    _("At least three quarters of these sums are right in the end."),
    _("All of these sums are right in the end."),
)

_LIMITS = Draft(
    "limits",
    _("Says what it must do and within what limits"),
    _("Limits"),
    (
        _("Has not said yet what the device must do."),
        _("Says what the device must do, but names no limit."),
        _("Says what the device must do and names a limit."),
        _("Says what the device must do and names a limit with its number."),
    ),
    ("3-5-ETS1-1",),
    "limits",
)
_IDEAS = Draft(
    "ideas",
    _("Compares two ideas against the limits"),
    _("Two ideas"),
    (
        _("Has one idea or none."),
        _("Has two ideas and has not compared them."),
        _("Compares two ideas against the limit and chooses one."),
        _("Compares, chooses, and gives a reason in own words."),
    ),
    ("3-5-ETS1-2",),
    "ideas",
)
_FAIR_TEST = Draft(
    "fair-test",
    _("Tests fairly and learns from what fails"),
    _("Fair test"),
    (
        _("Has not tested yet."),
        _("Tests, but stops early or does not go on to a second build."),
        _("Tests fully, then changes one thing, or says why two had to change."),
        _("Does that, and says why the change should help."),
    ),
    ("3-5-ETS1-3",),
    "fair_test",
)
_MEASURING = Draft(
    "measuring",
    _("Measures with care"),
    _("Measuring"),
    (
        _("Has measured nothing of the made thing yet."),
        _("Has measured some of it."),
        _("Has measured all of it."),
        _("Has measured all of it, every size read to a mark of the tape."),
    ),
    ("3.MD.B.4", "4.MD.A.1", "5.MD.A.1"),
    "measuring",
)
_DECIMALS = Draft(
    "decimals",
    _("Rounds and reckons with decimals"),
    _("Decimals"),
    _SUMS,
    ("5.NBT.A.4", "5.NBT.B.7"),
    "decimals",
)
_EXPLAINING = Draft(
    "explaining",
    _("Explains from evidence"),
    _("Explaining"),
    (
        _("Has not explained anything yet."),
        _("Has noticed something, or gives a reason."),
        _("Has noticed something and gives a reason."),
        _("Does both, and backs them with a number or a comparison."),
    ),
    (),
    "explaining",
)
_BEYOND = (
    Draft("circle-area", _("Area of a circle"), _("Circle"), _SUMS, ("7.G.B.4",), "area", 0),
    Draft("mean", _("Mean of several readings"), _("Mean"), _SUMS, ("6.SP.A.3",), "mean", 0),
    Draft("rate", _("Speed as a rate"), _("Rate"), _SUMS, ("6.RP.A.3",), "rate", 0),
    Draft(
        "scatter",
        _("What goes with what in a scatter of points"),
        _("Scatter"),
        (
            _("Has not noticed anything yet."),
            _("Has noticed something about one team."),
            _("Compares teams, or names a number."),
            _("Compares teams in both rounds."),
        ),
        ("8.SP.A.1",),
        "noticed",
        0,
    ),
)

_MIDDLE_SCHOOL = (
    Draft(
        "limits",
        _("Pins down what it must do and its limits"),
        _("Limits"),
        _LIMITS.levels,
        ("MS-ETS1-1",),
        "limits",
    ),
    Draft(
        "ideas",
        _("Judges two ideas in an orderly way"),
        _("Two ideas"),
        _IDEAS.levels,
        ("MS-ETS1-2",),
        "ideas",
    ),
    Draft(
        "data",
        _("Reads in the class’s data what good designs share"),
        _("Class data"),
        (
            _("Has not noticed anything yet."),
            _("Has noticed something in one round."),
            _("Compares teams, or names a number."),
            _("Compares teams in both rounds."),
        ),
        ("MS-ETS1-3",),
        "noticed",
    ),
    Draft(
        "again",
        _("Tests, changes and tests again"),
        _("Again"),
        (
            _("Has not tested yet."),
            _("Has tested the first build."),
            _("Plans a change for the next build and says why."),
            _("Has tested the changed build as often as the first."),
        ),
        ("MS-ETS1-4",),
        "iterating",
    ),
)


def usual_rubric(grade: int) -> Sequence[Draft]:
    """Return the usual criteria of a grade, 3 to 6.

    A criterion of which every standard lies beyond the grade is shown and not graded; of the others
    only those codes are cited that the grade has reached. Circle, mean, rate and scatter are never graded.
    """
    design = _MIDDLE_SCHOOL if grade >= FIRST_GRADE_OF_MIDDLE_SCHOOL else (_LIMITS, _IDEAS, _FAIR_TEST)
    drafts = (*design, _MEASURING, _DECIMALS, _EXPLAINING, *_BEYOND)
    graded = [draft for draft in drafts if draft.weight and not is_beyond(draft.codes, grade)]
    shown = [draft for draft in drafts if draft not in graded]
    return [
        *(_at(draft, tuple(within(draft.codes, grade)), draft.weight) for draft in graded),
        *(_at(draft, draft.codes, 0) for draft in shown),
    ]


def _at(draft: Draft, codes: tuple[str, ...], weight: int) -> Draft:
    return Draft(draft.key, draft.title, draft.short, draft.levels, codes, draft.evidence, weight)
