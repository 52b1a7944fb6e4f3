"""The standards that rubrics cite, held against what was published: the code, its grade, what it is about.

Sources:
- NGSS Lead States, Next Generation Science Standards (2013), engineering design. MS-ETS1-1 was read at
  https://www.nextgenscience.org/pe/ms-ets1-1-engineering-design; all of 3-5-ETS1 and MS-ETS1 in the National
  Science Teaching Association's copy, https://my.nsta.org/ngss/ (DCI 51, topic 39).
- NGA Center for Best Practices and CCSSO, Common Core State Standards for Mathematics (2010). The standards'
  own pages could not be opened here; the words were read in public transcriptions: 3.MD.B.4 (Tennessee),
  4.MD.A.1, 5.MD.A.1, 5.NBT.A.4, 6.SP.A.3, 6.RP.A.3 and 3.b, 7.G.B.4, 8.SP.A.1.
  *From memory*: the words of 5.NBT.B.7 (its code and its grade were seen).
"""

from __future__ import annotations

import re

import pytest

from design_challenges.services.marking.standards import STANDARDS
from design_challenges.services.marking.usual import usual_rubric

# Code: the grades it is published for, and words that stand in the published statement.
PUBLISHED = {
    "3-5-ETS1-1": ((3, 5), ["criteria for success", "constraints", "problem"]),
    "3-5-ETS1-2": ((3, 5), ["compare", "multiple possible solutions"]),
    "3-5-ETS1-3": ((3, 5), ["fair tests", "failure points"]),
    "MS-ETS1-1": ((6, 8), ["criteria and constraints", "sufficient precision"]),
    "MS-ETS1-2": ((6, 8), ["competing design solutions", "systematic process"]),
    "MS-ETS1-3": ((6, 8), ["data from tests", "best characteristics"]),
    "MS-ETS1-4": ((6, 8), ["model", "iterative testing"]),
    "3.MD.B.4": ((3, 3), ["halves and fourths of an inch"]),
    "4.MD.A.1": ((4, 4), ["relative sizes", "larger unit in terms of a smaller unit"]),
    "5.MD.A.1": ((5, 5), ["convert", "given measurement system"]),
    "5.NBT.A.4": ((5, 5), ["round decimals to any place"]),
    "5.NBT.B.7": ((5, 5), ["decimals to hundredths"]),
    "6.SP.A.3": ((6, 6), ["measure of center"]),
    "6.RP.A.3": ((6, 6), ["ratio and rate reasoning"]),
    "7.G.B.4": ((7, 7), ["area and circumference of a circle"]),
    "8.SP.A.1": ((8, 8), ["scatter plots"]),
}
BEYOND = {"7.G.B.4", "6.SP.A.3", "6.RP.A.3", "8.SP.A.1"}


def test_every_code_is_a_published_one_at_its_own_grade() -> None:
    assert STANDARDS.keys() == PUBLISHED.keys()
    for code, standard in STANDARDS.items():
        first, _last = PUBLISHED[code][0]
        assert standard.grade == first, code
        assert standard.framework == ("NGSS" if "ETS1" in code else "CCSS")
        # A code of mathematics begins with its grade.
        if standard.framework == "CCSS":
            assert int(code.partition(".")[0]) == standard.grade


@pytest.mark.parametrize("grade", [3, 4, 5, 6])
def test_no_graded_criterion_cites_what_lies_beyond_the_grade_or_behind_its_band(grade) -> None:
    cited = [code for draft in usual_rubric(grade) if draft.weight for code in draft.codes]
    assert cited
    for code in cited:
        first, last = PUBLISHED[code][0]
        assert first <= grade, code
        assert last >= grade or "ETS1" not in code, code
        assert code not in BEYOND


@pytest.mark.parametrize("grade", [3, 4, 5, 6])
def test_what_lies_beyond_is_cited_and_not_graded(grade) -> None:
    shown = {code for draft in usual_rubric(grade) if not draft.weight for code in draft.codes}
    assert shown >= BEYOND
    if grade < 5:
        assert shown >= {"5.NBT.A.4", "5.NBT.B.7"}


def test_the_band_sets_are_whole() -> None:
    for grade, band in ((3, "3-5-ETS1"), (4, "3-5-ETS1"), (5, "3-5-ETS1"), (6, "MS-ETS1")):
        graded = {code for draft in usual_rubric(grade) if draft.weight for code in draft.codes}
        assert {code for code in PUBLISHED if code.startswith(band)} == {c for c in graded if "ETS1" in c}


def test_the_wording_is_our_own() -> None:
    for code, (_grades, phrases) in PUBLISHED.items():
        ours = " ".join(re.findall(r"\w+", str(STANDARDS[code].about).lower()))
        long_ones = [phrase for phrase in phrases if len(phrase.split()) > 4]
        assert not any(phrase in ours for phrase in long_ones), code
