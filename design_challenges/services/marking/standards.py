"""The standards that criteria cite: each code, the grade it belongs to, and what it is about in our words.

Sources: Next Generation Science Standards (NGSS Lead States, 2013), engineering design of grades 3-5 and of
middle school; Common Core State Standards for Mathematics (NGA Center and CCSSO, 2010). The wording is our
own; `tests/outside/test_standards.py` holds codes and grades against what was published.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from design_challenges.words import Words

NGSS, CCSS = "NGSS", "CCSS"
GRADES = (3, 4, 5, 6)


@dataclass(frozen=True)
class Standard:
    """A published standard: the first grade it is for, and what it asks in our own words."""

    code: str
    framework: str
    grade: int
    about: Words
    note: Words = ""


_ALL = (
    Standard("3-5-ETS1-1", NGSS, 3, _("say what a design must achieve and what limits it has")),
    Standard("3-5-ETS1-2", NGSS, 3, _("think of several solutions and weigh them against needs and limits")),
    Standard(
        "3-5-ETS1-3", NGSS, 3, _("test fairly, one thing at a time, and learn from what fails how to improve")
    ),
    Standard("MS-ETS1-1", NGSS, 6, _("pin down needs and limits exactly, with the science behind them")),
    Standard("MS-ETS1-2", NGSS, 6, _("judge rival solutions in an orderly way against needs and limits")),
    Standard("MS-ETS1-3", NGSS, 6, _("find in test data what the best designs share, and combine it")),
    Standard("MS-ETS1-4", NGSS, 6, _("model, test and change a design again and again towards the best one")),
    Standard("3.MD.B.4", CCSS, 3, _("measure lengths to the half and the quarter of an inch")),
    Standard("4.MD.A.1", CCSS, 4, _("know how large units are, and turn larger ones into smaller ones")),
    Standard("5.MD.A.1", CCSS, 5, _("change units within one system, both ways, in problems")),
    Standard("5.NBT.A.4", CCSS, 5, _("bring a decimal to the nearest whole, tenth or hundredth")),
    Standard(
        "5.NBT.B.7",
        CCSS,
        5,
        _("add, subtract, multiply and divide decimals to hundredths"),
        _("where worked by hand"),
    ),
    Standard("6.SP.A.3", CCSS, 6, _("one number, such as the mean, can stand for all values")),
    Standard("6.RP.A.3", CCSS, 6, _("solve problems with ratios and rates, speed among them")),
    Standard("7.G.B.4", CCSS, 7, _("use the formulas for the area and the circumference of a circle")),
    Standard("8.SP.A.1", CCSS, 8, _("read what goes with what in a scatter of points")),
)
STANDARDS = {standard.code: standard for standard in _ALL}


def known(codes: Iterable[str]) -> list[Standard]:
    """Return the standards of these codes, in their order; codes that are a teacher's own are passed over."""
    return [STANDARDS[code] for code in codes if code in STANDARDS]


def within(codes: Iterable[str], grade: int) -> list[str]:
    """Return the codes that a class of a grade has reached."""
    return [standard.code for standard in known(codes) if standard.grade <= grade]


def is_beyond(codes: Iterable[str], grade: int) -> bool:
    """Return whether every standard that is cited lies beyond the grade; False where none is known."""
    found = known(codes)
    return bool(found) and all(standard.grade > grade for standard in found)
