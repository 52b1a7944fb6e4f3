"""Percent agreement and weighted kappa against published worked examples.

Sources, all with weights that fall off evenly (linear, Cicchetti and Allison):
- H. L. Kundel and M. Polansky, Measurement of observer agreement, Radiology 228 (2003) 303-308, table A1, 110
  mammograms in four grades: kappa 0.3713, weighted 0.5964, as worked in the documentation of the R package
  vcdExtra (https://friendly.github.io/vcdExtra/reference/Mammograms.html), which was read here; of the
  cells ten were read there and six are *from memory*, and the whole gives both published figures.
- N. F. Boyd and others, Journal of the National Cancer Institute 68 (1982) 357-363, 85 xeromammograms, in
  D. G. Altman, Practical Statistics for Medical Research (1991) 403-405; counts as in Pennsylvania State
  University's STAT 509 (read here); agreement 63.53 %, kappa 0.4728, weighted 0.5684 as in Stata's manual of
  `kappa`, *from memory*.
- SAS/STAT User's Guide, the FREQ procedure, 'Agreement Study': 88 skin conditions (counts read here), kappa
  0.3449 and weighted 0.5082 *from memory*.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from design_challenges.services.marking.agreement import agreement

MAMMOGRAMS = [[34, 10, 2, 0], [6, 8, 8, 2], [2, 5, 4, 12], [0, 1, 2, 14]]
XEROMAMMOGRAMS = [[21, 12, 0, 0], [4, 17, 1, 0], [3, 9, 15, 2], [0, 0, 0, 1]]
SKIN = [[10, 4, 1, 0], [5, 10, 12, 2], [2, 4, 12, 5], [0, 2, 6, 13]]


def pairs_of(table: list[list[int]]) -> list[tuple[int, int]]:
    return [
        (row, column)
        for row, counts in enumerate(table, start=1)
        for column, count in enumerate(counts, start=1)
        for _ in range(count)
    ]


def unweighted(table: list[list[int]]) -> Fraction:
    """Cohen's (1960) kappa, by the test's own arithmetic, as a check on the table itself."""
    count = sum(map(sum, table))
    observed = Fraction(sum(table[i][i] for i in range(len(table))), count)
    chance = Fraction(sum(sum(row) * sum(r[i] for r in table) for i, row in enumerate(table)), count**2)
    return (observed - chance) / (1 - chance)


@pytest.mark.parametrize(
    ("table", "count", "percent", "kappa", "weighted"),
    [
        (MAMMOGRAMS, 110, 54.55, 0.3713, 0.5964),
        (XEROMAMMOGRAMS, 85, 63.53, 0.4728, 0.5684),
        (SKIN, 88, 51.14, 0.3449, 0.5082),
    ],
    ids=["mammograms", "xeromammograms", "skin"],
)
def test_published_tables_give_their_published_figures(table, count, percent, kappa, weighted) -> None:
    found = agreement(pairs_of(table))
    assert found.pairs == count
    assert round(float(found.percent or 0), 2) == percent
    assert round(float(unweighted(table)), 4) == kappa, "the table is not the published one"
    assert round(float(found.kappa or 0), 4) == weighted


def test_two_that_always_agree_have_kappa_1_and_two_that_give_one_level_have_none() -> None:
    assert agreement([(1, 1), (4, 4), (2, 2)]).kappa == 1
    assert agreement([(3, 3), (3, 3)]).kappa is None
    assert agreement([(3, 3), (3, 3)]).percent == 100
    assert agreement([]).percent is None


def test_what_is_no_level_is_refused() -> None:
    for wrong in ([(0, 1)], [(1, 5)]):
        with pytest.raises(ValueError, match="Levels go from 1 to 4"):
            agreement(wrong)


@given(st.lists(st.tuples(st.integers(1, 4), st.integers(1, 4)), min_size=1, max_size=40))
def test_kappa_does_not_care_who_marked_first_and_is_at_most_1(pairs) -> None:
    there, back = agreement(pairs), agreement([(second, first) for first, second in pairs])
    assert there.kappa == back.kappa
    assert there.kappa is None or there.kappa <= 1
    assert (there.kappa == 1) == (there.alike == there.pairs and len(set(pairs)) > 1)
