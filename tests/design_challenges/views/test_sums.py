"""The sums on a team's page: one at a time, checked at once, helped in stages, kept with their numbers."""

from __future__ import annotations

from typing import Any

import pytest

from classroom.models import Team
from design_challenges.models import ClassChallenge, Working
from design_challenges.services import saving
from design_challenges.services.lengths import parse_length
from design_challenges.services.units import INCH
from tests.builders import enter, make_challenge, make_class, plan_round, record_of
from tests.support.tablet import Tablet, at, hidden_fields, main_part, words

pytestmark = pytest.mark.django_db
SUMS = "/team/1/plan/sums/"


def planned(radius: str = "9", line: str = "10", **settings: Any) -> tuple[ClassChallenge, Team]:
    """A team with a plan whose sums are not worked out yet."""
    challenge = make_challenge(make_class(1), **settings)
    team = challenge.classroom.teams.get()
    plan_round(challenge, team, radius=radius, line=line)
    Working._base_manager.all().delete()
    return challenge, team


@pytest.fixture
def plan() -> tuple[ClassChallenge, Team]:
    return planned()


@pytest.fixture
def tablet(plan: tuple[ClassChallenge, Team]) -> Tablet:
    return Tablet(plan[1])


def test_the_first_sum_is_asked_with_its_numbers_and_the_next_one_waits(tablet: Tablet) -> None:
    page = tablet.get(SUMS)

    assert "Canopy radius 9 in" in words(page).replace("\N{NO-BREAK SPACE}", " ")
    assert "Area = π × radius × radius" in words(page)
    assert 'inputmode="decimal"' in main_part(page)
    assert "Material used" not in words(page).split("Our plan so far")[0]


@pytest.mark.parametrize("answer", ["254", "254 in²", "255", " 254 "])
def test_a_right_answer_by_any_accepted_pi_is_right(
    tablet: Tablet, plan: tuple[ClassChallenge, Team], answer: str
) -> None:
    page = tablet.fill(SUMS, answer=answer)

    assert "Right." in words(page)
    assert "Material used" in words(page)
    row = Working.objects.get()
    assert (row.step, row.verdict, row.basis) == ("area", "right", "9")
    assert row.value in ("254", "255")


def test_the_next_sum_goes_on_from_the_team_s_own_answer(
    tablet: Tablet, plan: tuple[ClassChallenge, Team]
) -> None:
    tablet.fill(SUMS, answer="255")

    page = tablet.get(SUMS)
    assert "255 in²" in words(page)
    done = tablet.fill(SUMS, answer="375")

    assert "Inside the limit. 375 of 375 points: 0 to spare." in words(done)
    assert record_of(*plan).accepted == {"area": 255, "material": 375}


def test_an_answer_that_is_not_yet_right_gets_a_next_step_and_stays(tablet: Tablet) -> None:
    page = tablet.fill(SUMS, answer="57")

    assert page.status_code == 200
    assert "57: not yet." in words(page)
    assert "That is the way around the edge." in words(page)
    assert 'value="57"' in main_part(page)
    assert "wrong" not in words(page).lower()


@pytest.mark.parametrize(
    ("typed", "said"),
    [("", "Type a number here."), ("x", "I can’t read “x”"), ("-4", "plus or minus"), ("9" * 60, "too long")],
)
def test_an_answer_that_cannot_be_read_is_no_try(tablet: Tablet, typed: str, said: str) -> None:
    page = tablet.fill(SUMS, answer=typed)

    assert page.status_code == 422
    assert words(page).count(said) == 2
    assert 'href="#sum-area-answer"' in main_part(page)
    assert not Working.objects.exists()


def test_after_three_tries_the_steps_are_offered_and_showing_them_is_kept(
    tablet: Tablet, plan: tuple[ClassChallenge, Team]
) -> None:
    for answer in ("1", "2"):
        assert "Show us the steps" not in words(tablet.fill(SUMS, answer=answer))
    third = tablet.fill(SUMS, answer="3")
    assert "Show us the steps" in words(third)
    assert "254" not in words(third)

    shown = tablet.fill(SUMS, show="yes")

    assert "The steps, with your numbers" in words(shown)
    assert "Rounded: 254 in²" in words(shown)
    assert [row.verdict for row in Working.objects.all()] == ["not_yet", "not_yet", "not_yet", "shown"]
    assert "Right." in words(tablet.fill(SUMS, answer="254"))


def test_the_steps_are_not_shown_before_they_are_offered(tablet: Tablet) -> None:
    page = tablet.fill(SUMS, show="yes")

    assert "The steps, with your numbers" not in words(page)
    assert not Working.objects.exists()


def test_a_sum_sent_twice_counts_once(tablet: Tablet) -> None:
    fields = {**hidden_fields(tablet.get(SUMS)), "answer": "57"}

    tablet.post(SUMS, **fields)
    tablet.post(SUMS, **fields)

    assert Working.objects.count() == 1


def test_an_answer_to_numbers_that_have_changed_since_is_handed_back(
    tablet: Tablet, plan: tuple[ClassChallenge, Team]
) -> None:
    fields = {**hidden_fields(tablet.get(SUMS)), "answer": "254"}
    iteration = record_of(*plan).iteration
    enter(
        plan[0],
        lambda author: saving.save_size(
            iteration, "planned", "canopy_radius", parse_length("8", INCH), author
        ),
    )

    told = tablet.post(SUMS, **fields)

    assert told.status_code == 422
    assert "The numbers changed on another tablet" in words(told)
    assert 'value="254"' in main_part(told)
    assert not Working.objects.exists()


def test_a_later_tablet_with_another_right_answer_is_shown_both(
    tablet: Tablet, plan: tuple[ClassChallenge, Team]
) -> None:
    late = {**hidden_fields(tablet.get(SUMS)), "answer": "255"}
    Tablet(plan[1]).fill(SUMS, answer="254")

    told = tablet.post(SUMS, **late)

    assert told.status_code == 422
    assert "Another tablet of your team has 254 in²" in words(told)
    assert "You typed 255." in words(told)
    assert record_of(*plan).accepted["area"] == 254
    tablet.post(SUMS, **{**hidden_fields(told), "answer": "255"})
    assert record_of(*plan).accepted["area"] == 255


def test_a_later_tablet_with_the_same_answer_just_goes_on(
    tablet: Tablet, plan: tuple[ClassChallenge, Team]
) -> None:
    late = {**hidden_fields(tablet.get(SUMS)), "answer": "254"}
    Tablet(plan[1]).fill(SUMS, answer="254")

    assert "Right." in words(tablet.post(SUMS, **late))
    assert Working.objects.count() == 1


def test_htmx_gets_the_sums_alone(tablet: Tablet) -> None:
    fields = {**hidden_fields(tablet.get(SUMS)), "answer": "254"}

    response = tablet.client.post(SUMS, fields, headers={"HX-Request": "true"})

    assert response.status_code == 200
    text = response.content.decode()
    assert text.lstrip().startswith('<section id="sums"')
    assert 'id="sum-material"' in text
    unreadable = tablet.client.post(SUMS, {"sum": "material", "answer": "?"}, headers={"HX-Request": "true"})
    assert unreadable.status_code == 422
    assert "data-error-summary" in unreadable.content.decode()


def test_an_answer_survives_being_signed_out(tablet: Tablet, plan: tuple[ClassChallenge, Team]) -> None:
    fields = {**hidden_fields(tablet.get(SUMS)), "answer": "254"}
    tablet.post("/leave/")
    tablet.post(SUMS, **fields)

    back = tablet.post("/join/", class_code=plan[1].classroom.code, team_code=plan[1].code, next=SUMS)

    assert at(back) == SUMS
    assert 'value="254"' not in main_part(back), "a tablet that left its team is nobody's"


def test_over_the_limit_leads_back_to_the_sizes() -> None:
    _challenge, team = planned("11", "14")
    tablet = Tablet(team)
    tablet.fill(SUMS, answer="380")

    page = tablet.fill(SUMS, answer="548")

    assert "Over the limit. 548 of 375 points: 173 too many." in words(page)
    assert 'href="/team/1/plan/sizes/"' in main_part(page)


def test_where_the_software_does_the_sums_nothing_is_asked() -> None:
    challenge, team = planned(sums_by="software")
    tablet = Tablet(team)

    page = tablet.get(SUMS)

    assert "π × 81 = 254.46…" in words(page)
    assert "Together: 254 + 120 = 374 points" in words(page)
    assert 'name="answer"' not in main_part(page)
    tablet.post(SUMS, sum="area", answer="254")
    assert not Working.objects.exists()
    assert at(tablet.get("/team/1/ready/")) == "/team/1/ready/"
    assert record_of(challenge, team).clearance is None


def test_where_the_area_comes_from_a_table_the_table_is_there() -> None:
    _challenge, team = planned(values={"area_method": "table"})

    page = tablet_page = Tablet(team).get(SUMS)

    assert 'aria-label="Table to read from"' in main_part(page)
    text = words(tablet_page)
    assert " 8 3/4 241 9 254 9 1/4 269 " in text
    assert "Right." in words(Tablet(team).fill(SUMS, answer="254"))


def asked_how() -> tuple[Team, Tablet]:
    """A team whose answer two slips explain."""
    _challenge, team = planned("4", "3", values={"sums_asked": "every", "line_count": "3"})
    tablet = Tablet(team)
    tablet.fill(SUMS, answer="8")
    tablet.fill(SUMS, answer="50")
    # Three lines of 3 in are 9: lines + length is 6, and so are two lines.
    assert "Which buttons did you press?" in words(tablet.fill(SUMS, answer="6"))
    return team, tablet


def test_where_two_slips_fit_the_pick_brings_its_hint_and_is_kept() -> None:
    _team, tablet = asked_how()
    page = tablet.get(SUMS)
    assert "Lines + length" in words(page)
    assert "I took more lines, or fewer" in words(page)

    picked = tablet.fill(SUMS, form=1, how="added")

    assert "You added. Each line is as long as the first." in words(picked)
    assert "Which buttons" not in words(picked)
    rows = [(row.verdict, row.typed, row.slips) for row in Working.objects.filter(step="total_line")]
    assert rows == [("not_yet", "6", ["added", "miscounted"]), ("picked", "", ["added"])]
    assert "Right." in words(tablet.fill(SUMS, answer="9"))


def test_another_way_is_kept_too_and_gets_the_first_hint() -> None:
    _team, tablet = asked_how()

    picked = tablet.fill(SUMS, form=1, how="otherwise")

    assert "Think of all your lines, end to end" in words(picked)
    assert Working.objects.get(verdict="picked").slips == ["otherwise"]


def test_a_way_that_was_not_asked_about_is_not_taken() -> None:
    _team, tablet = asked_how()

    tablet.fill(SUMS, form=1, how="digits_swapped")
    tablet.post(SUMS, sum="area", how="added")

    assert not Working.objects.filter(verdict="picked").exists()


def test_a_new_try_is_asked_about_anew() -> None:
    _team, tablet = asked_how()
    tablet.fill(SUMS, form=1, how="added")

    again = tablet.fill(SUMS, answer="6")

    assert "Which buttons did you press?" in words(again)
