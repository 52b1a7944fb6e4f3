"""Numbers of a soft landing that cannot all be right, and the one that is named."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from design_challenges.kinds.soft_landing.doubts import LEAST_DRAG, MOST_DRAG, find_doubt, implied_drag
from design_challenges.kinds.soft_landing.expected import DRAG_COEFFICIENT, device_time_s, open_share

INCHES: dict[str, Any] = {
    "unit_system": "us",
    "drop_height": Decimal(15),
    "load_mass": Decimal(6),
    "line_count": 4,
    "film_mass": Decimal(20),
    "line_mass": Decimal("0.5"),
    "tape_division": "1/4",
}
CENTIMETRES: dict[str, Any] = {
    **INCHES,
    "unit_system": "metric",
    "drop_height": Decimal("4.5"),
    "tape_division": "1/2",
}


def sizes(*across: str, line: str = "16") -> dict[tuple[str, int], Fraction]:
    ways = {("canopy_diameter", spot): Fraction(size) for spot, size in enumerate(across, start=1)}
    return ways | {("line_length", spot): Fraction(line) for spot in range(1, 5)}


def times(*seconds: str) -> list[tuple[int, Decimal]]:
    return [(trial, Decimal(text)) for trial, text in enumerate(seconds, start=1)]


def asked(values: dict[str, Any], built: dict[tuple[str, int], Fraction], *seconds: str) -> str:
    doubt = find_doubt(values, built, times(*seconds))
    return str(doubt.ask).replace("\N{NO-BREAK SPACE}", " ") if doubt else ""


@pytest.mark.parametrize("inches", [8, 14, 24])
@pytest.mark.parametrize("ratio", [0.6, 1.0, 1.5])
def test_what_physics_expects_of_a_device_is_its_own_drag(inches: int, ratio: float) -> None:
    area = 3.141592653589793 * (inches * 0.0254) ** 2 / 4
    seconds = device_time_s(INCHES, area, ratio)
    line = str(Fraction(str(round(inches * ratio, 3))))

    drag = implied_drag(INCHES, sizes(str(inches), line=line), [Decimal(repr(seconds))])

    assert drag == pytest.approx(DRAG_COEFFICIENT * open_share(ratio), rel=1e-6)


def test_a_heavier_film_means_more_drag() -> None:
    heavy = {**INCHES, "film_mass": Decimal(60)}
    light, more = (implied_drag(values, sizes("14"), [Decimal("3.5")]) for values in (INCHES, heavy))
    assert light is not None
    assert more is not None
    assert more > 1.3 * light


@pytest.mark.parametrize(
    ("values", "built", "seconds", "words"),
    [
        (INCHES, sizes("14", "14"), ("3.42", "3.51", "3.39"), ""),
        (INCHES, sizes("7", "7"), ("3.42", "3.51", "3.39"), "was the radius measured? About 14 in"),
        (INCHES, sizes("7", "14"), ("4.42", "4.51", "4.39"), ""),
        (INCHES, sizes("35", "35", line="40"), ("2.3", "2.4"), "is it in centimetres?"),
        (
            CENTIMETRES,
            sizes("14", "14", line="40"),
            ("3.42", "3.51", "3.39"),
            "is it in inches? About 35.5 cm",
        ),
        (
            INCHES,
            sizes("14", "14"),
            ("3.42", "35.1", "3.39"),
            "Drop 2 has 35.1 s: was the point lost? 3.51 s",
        ),
        (INCHES, sizes("14", "14"), ("34.2", "35.1", "33.9"), "was the point lost in all of them?"),
        (INCHES, sizes("14", "14"), ("0.34", "0.35"), "one place too early in all of them?"),
        (INCHES, sizes("14", "14"), ("200", "210"), "No single number explains it."),
    ],
)
def test_the_number_whose_change_mends_it_most_simply_is_named(
    values: dict[str, Any], built: dict[tuple[str, int], Fraction], seconds: tuple[str, ...], words: str
) -> None:
    said = asked(values, built, *seconds)
    assert words in said
    assert bool(said) == bool(words)


def test_what_cannot_be_is_said_first() -> None:
    slow = find_doubt(INCHES, sizes("7", "7"), times("5.2", "5.1"))
    stone = find_doubt(INCHES, sizes("14", "14"), times("0.9", "0.8"))
    assert slow is not None
    assert "too slowly for its size: a drag coefficient of" in str(slow.what)
    assert stone is not None
    assert "as fast as a dropped stone" in str(stone.what)


def test_the_edges_of_what_can_be_ask_nothing() -> None:
    for seconds in (Decimal(hundredths).scaleb(-2) for hundredths in range(100, 900, 7)):
        drag = implied_drag(INCHES, sizes("14"), [seconds])
        doubt = find_doubt(INCHES, sizes("14"), [(1, seconds)])
        assert (doubt is None) == (drag is not None and LEAST_DRAG <= drag <= MOST_DRAG)


def test_without_a_drop_that_opened_there_is_nothing_to_ask() -> None:
    assert find_doubt(INCHES, sizes("14", "14"), []) is None
