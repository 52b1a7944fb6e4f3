"""Figures in templates."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django.template import Context, Template

from design_challenges.services.lengths import parse_length
from design_challenges.services.units import INCH


def render(source: str, **context: object) -> str:
    return Template("{% load figures %}" + source).render(Context(context))


def test_a_figure_is_rounded_half_up_and_keeps_its_zeros() -> None:
    assert render("{{ value|figure:1 }}", value=Decimal("4.25")) == "4.3"
    assert render("{{ value|figure:2 }}", value=Fraction(23, 5)) == "4.60"


def test_an_unknown_figure_is_nothing() -> None:
    assert render("{{ value|figure:1 }}|{{ missing|figure:1 }}", value=None) == "|"


def test_a_float_is_refused_and_never_quietly_rounded() -> None:
    with pytest.raises(TypeError):
        render("{{ value|figure:1 }}", value=4.25)


def test_a_length_is_written_as_the_tape_reads() -> None:
    assert render("{{ length|tape }}", length=parse_length("13½", INCH)) == "13 1/2\u00a0in"
    assert render("{% mark value 'in' division %}", value=Fraction(27, 2), division=Fraction(1, 4)) == (
        "13 1/2\u00a0in"
    )
    assert render("{{ length|tape }}{% mark value 'in' division %}", length=None, value=None) == ""
