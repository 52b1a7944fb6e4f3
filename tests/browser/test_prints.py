"""Everything that is printed, printed by Chromium: sizes, page counts, heads and numbers, nothing cut."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import Page
from pypdf import PageObject, PdfReader

from tests.support.browser import PageMaker
from tests.support.print_classes import LONGEST_CHILD, TEAM_NAMES

A4, LETTER = (210.0, 297.0), (215.9, 279.4)
MARGINS_MM = 28.0
TOP_MM, FOOT_MM = 12.0, 15.0
TOLERANCE_PX = 1.0
LEAST_FILLED = 0.25
"""How far down its page the last text must stand: less is a scrap that the page before should have held."""
LONGEST_UNBROKEN = 24
"""Letters of the longest name of a team: no word of so many or fewer may be broken without a hyphen."""

CUT = (Path(__file__).parents[1] / "support" / "cut_on_paper.js").read_text(encoding="utf-8")
BUILD = "from tests.support.print_classes import build\nprint(json.dumps(build()))"


@pytest.fixture(scope="module")
def school(served: Any) -> dict[str, Any]:
    return dict(served.ask_python(BUILD))


@pytest.fixture
def paper(served: Any, school: dict[str, Any], new_page: PageMaker) -> Any:
    """Return a function that opens a sheet's address for a size of paper, laid out as it prints.

    With `button` the sheet is what that button of the page answers.
    """
    page = new_page((1280, 900))
    cookie = {"name": settings.SESSION_COOKIE_NAME, "value": school["session"], "url": served.base_url}
    page.context.add_cookies([cookie])  # type: ignore[list-item]

    def open_sheet(path: str, size: tuple[float, float], button: str = "") -> Printed:
        name = "a4" if size == A4 else "letter"
        answer = page.goto(f"{served.base_url}/classes/{path}{'&' if '?' in path else '?'}paper={name}")
        assert answer is not None
        assert answer.status == 200, path
        if button:
            with page.expect_navigation():
                page.get_by_role("button", name=button).click()
        return Printed(page, size)

    return open_sheet


class Printed:
    """A page as a PDF, and as it is laid out in the width that a sheet of paper leaves."""

    def __init__(self, page: Page, size: tuple[float, float]) -> None:
        self.page = page
        page.emulate_media(media="print")
        width = round((size[0] - MARGINS_MM) / 25.4 * 96)
        page.set_viewport_size({"width": width, "height": 1000})
        self.cut = page.evaluate(CUT, [TOLERANCE_PX, LONGEST_UNBROKEN])
        self.words = page.evaluate(WORDS_SHOWN)
        self.pdf = PdfReader(BytesIO(page.pdf(prefer_css_page_size=True, print_background=False)))
        page.emulate_media(media="screen")
        self.size = size
        self.filled: list[float] = []
        self.texts = [self._read(sheet) for sheet in self.pdf.pages]

    def _read(self, sheet: PageObject) -> str:
        """Return a page's text, and note how far down its text goes (0 the top margin, 1 the foot's)."""
        foot, lowest = FOOT_MM / 25.4 * 72, [float(sheet.mediabox.height)]

        def place(text: str, user: Any, letter: Any, *_font: Any) -> None:
            height = letter[4] * user[1] + letter[5] * user[3] + user[5]
            if text.strip() and height > foot:
                lowest.append(height)

        text = sheet.extract_text(visitor_text=place)
        room = (self.size[1] - TOP_MM - FOOT_MM) / 25.4 * 72
        self.filled.append(1 - (min(lowest) - foot) / room)
        return str(text)

    def __len__(self) -> int:
        return len(self.pdf.pages)

    def check(self, heads: list[str] | None = None) -> None:
        """Hold every page to its size, number, head and some content, and the whole to losing no word."""
        assert self.cut == []
        whole = _bare("".join(self.texts))
        missing = [text for text in self.words if _bare(text) not in whole]
        assert missing == []
        for number, (sheet, text) in enumerate(zip(self.pdf.pages, self.texts, strict=True), start=1):
            box = sheet.mediabox
            found = float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4
            assert found == pytest.approx(self.size, abs=0.5)
            assert f"{number}/{len(self)}" in _bare(text)
            if heads is not None:
                assert any(_bare(head) in _bare(text) for head in heads), (number, text[:200])
            # No sheet goes out empty, or with a scrap at its top.
            assert len(_bare(text)) > 60, (number, text)
            assert self.filled[number - 1] >= LEAST_FILLED, (number, self.filled, text[-200:])


def _bare(text: str) -> str:
    return re.sub(r"\s|\N{ZERO WIDTH SPACE}", "", text)


# Every text on the sheets; what reads from right to left is drawn in another order than it is written.
WORDS_SHOWN = r"""() => {
    const walker = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);
    const found = [];
    while (walker.nextNode()) {
        const text = walker.currentNode.textContent.trim(), parent = walker.currentNode.parentElement;
        if (text && parent.closest('.sheet') && !parent.closest('.sr-only, svg')
            && !/[\u0590-\u08ff]/.test(text)) found.push(text);
    }
    return found;
}"""


SIZES = pytest.mark.parametrize("size", [A4, LETTER], ids=["A4", "letter"])


@SIZES
def test_a_record_is_a_page_a_round_with_its_team_on_each(paper: Any, school: Any, size: Any) -> None:
    printed = paper(f"{school['plain']}/paper/records/", size)
    printed.check(school["plain_teams"])
    assert len(printed) == 2 * len(school["plain_teams"])


@SIZES
def test_a_childs_record_is_a_page_a_round_with_its_name_on_each(paper: Any, school: Any, size: Any) -> None:
    printed = paper(f"{school['plain']}/paper/children/", size)
    printed.check(school["plain_children"])
    assert len(printed) == 2 * len(school["plain_children"])
    one = paper(f"{school['plain']}/paper/children/{school['child']}/", size)
    one.check([school["child_name"]])
    assert len(one) == 2


@SIZES
def test_a_letter_is_one_page_however_long_the_words(paper: Any, school: Any, size: Any) -> None:
    printed = paper(f"{school['plain']}/paper/letters/", size)
    printed.check(school["plain_children"])
    assert len(printed) == len(school["plain_children"])
    longest = paper(f"{school['full']}/paper/letters/", size)
    longest.check([LONGEST_CHILD])
    assert len(longest) == 18


@SIZES
def test_the_fullest_records_lose_nothing(paper: Any, school: Any, size: Any) -> None:
    printed = paper(f"{school['full']}/paper/records/{school['team']}/", size)
    printed.check(TEAM_NAMES[:1])
    # A page of plans and one of what came of them, a round.
    assert len(printed) == 4


@SIZES
def test_the_class_report_is_a_sheet_a_subject(paper: Any, school: Any, size: Any) -> None:
    subjects = ["Settings", "Results", "Improvement", "Measuring", "Standards"]
    printed = paper(f"{school['plain']}/paper/report/", size)
    printed.check(subjects)
    assert len(printed) == len(subjects)
    fullest = paper(f"{school['full']}/paper/report/", size)
    fullest.check(subjects)
    assert len(fullest) <= len(subjects) + 2


@SIZES
@pytest.mark.parametrize("number", [1, 2])
def test_steps_on_paper_are_two_sheets_a_team(paper: Any, school: Any, size: Any, number: int) -> None:
    printed = paper(f"{school['plain']}/paper/steps/{number}/", size)
    printed.check(school["plain_teams"])
    assert len(printed) == 2 * len(school["plain_teams"])


@SIZES
@pytest.mark.parametrize(
    ("sheet", "most", "heads"),
    [
        ("paper/team-cards/", 1, ["Team cards"]),
        ("paper/tags/", 1, ["Tags for the bags"]),
        ("paper/tally/1/", 1, ["Tally sheet"]),
        ("paper/materials/sheet/", 1, ["Materials"]),
        ("slips/children/area/paper/", 4, ["Exit question", "Answers"]),
    ],
)
def test_the_rest_of_the_kit(
    paper: Any, school: Any, size: Any, sheet: str, most: int, heads: list[str]
) -> None:
    printed = paper(f"{school['plain']}/{sheet}", size)
    printed.check(heads)
    assert len(printed) <= most, len(printed)


@SIZES
@pytest.mark.parametrize(
    ("sheet", "most"),
    [
        ("paper/team-cards/", 2),
        ("paper/tags/", 3),
        ("paper/tally/1/", 1),
        ("paper/area-table/", 2),
        ("paper/steps/1/", 9),
        ("paper/steps/2/", 9),
        ("paper/materials/sheet/", 1),
        ("slips/children/area/paper/", 6),
    ],
)
def test_the_kit_of_the_fullest_class_loses_nothing(
    paper: Any, school: Any, size: Any, sheet: str, most: int
) -> None:
    printed = paper(f"{school['full']}/{sheet}", size)
    printed.check()
    assert len(printed) <= most, len(printed)


@SIZES
@pytest.mark.parametrize("which", ["plain", "full"])
def test_a_substitutes_card_is_one_page(paper: Any, school: Any, size: Any, which: str) -> None:
    paper(f"{school[which]}/paper/tags/", size)  # the paper that is chosen once holds for what a form answers
    card = paper(f"{school[which]}/substitute/", size, "Make a card")
    card.check(["Running a lesson with"])
    assert len(card) == 1


@pytest.mark.parametrize(
    "sheet", ["records", "children", "letters", "report", "team-cards", "tags", "tally/1", "steps/1"]
)
def test_a_class_without_teams_prints_what_there_is_and_no_more(paper: Any, school: Any, sheet: str) -> None:
    printed = paper(f"{school['empty']}/paper/{sheet}/", LETTER)
    assert printed.cut == []
    assert len(printed) <= 6
