"""The Plan step on a team's tablet, from the first sentence to the sums."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from classroom.models import Device, Team
from design_challenges.models import ClassChallenge, Measurement, Note, StepGate, Submission
from design_challenges.services.saving import start_round
from design_challenges.steps import Step
from tests.builders import (
    build_round,
    clear_round,
    make_challenge,
    make_class,
    plan_round,
    play_round,
    record_of,
)
from tests.support.tablet import Tablet, at, hidden_fields, main_part, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> ClassChallenge:
    challenge = make_challenge(make_class(2))
    for team in challenge.classroom.teams.all():
        start_round(challenge, team, 1)
    return challenge


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    return challenge.classroom.teams.get(place=1)


@pytest.fixture
def tablet(team: Team) -> Tablet:
    return Tablet(team)


SCREENS: list[tuple[str, dict[str, str]]] = [
    ("purpose", {"purpose": "It must fall slowly. We may not pass the limit."}),
    ("idea-a", {"canopy_radius": "9", "line_length": "10"}),
    ("idea-b", {"canopy_radius": "11", "line_length": "14"}),
    ("limit", {"meets_limit": "a"}),
    ("slower", {"slower": "b", "reason": "Its canopy is bigger"}),
    ("choose", {"chosen": "a"}),
]


def plan_until(tablet: Tablet, last: str) -> Any:
    """Fill in the plan up to and with a part."""
    response = None
    for part, fields in SCREENS:
        response = tablet.fill(f"/team/1/plan/{part}/", **fields)
        if part == last:
            break
    return response


# --- the way through --------------------------------------------------------------------------


def test_a_team_plans_with_six_numbers_and_one_sentence(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    assert at(tablet.get("/team/")) == "/team/1/plan/purpose/"

    assert at(plan_until(tablet, "choose")) == "/team/1/plan/sums/"
    tablet.fill("/team/1/plan/sums/", answer="254")
    tablet.fill("/team/1/plan/sums/", answer="374")
    assert at(tablet.get("/team/")) == "/team/1/plan/drawing/"
    assert at(tablet.fill("/team/1/plan/drawing/", form=-1)) == "/team/1/ready/"
    cleared = tablet.fill("/team/1/ready/")

    assert "Cleared to build!" in words(cleared)
    clearance = record_of(challenge, team).clearance
    assert clearance is not None
    assert (clearance.by, clearance.figure, clearance.figure_from) == ("check", "374", "team")


def test_each_screen_asks_one_thing_and_leads_to_the_next(tablet: Tablet) -> None:
    order = []
    response = tablet.get("/team/")
    for part, fields in (
        ("purpose", {"purpose": "Slowly."}),
        ("idea-a", {"canopy_radius": "9", "line_length": "10"}),
        ("idea-b", {"canopy_radius": "8", "line_length": "12 1/2"}),
        ("limit", {"meets_limit": "both"}),
        ("slower", {"slower": "a", "own": "It catches more air."}),
        ("choose", {"chosen": "b"}),
    ):
        order.append(at(response))
        response = tablet.fill(f"/team/1/plan/{part}/", **fields)

    assert order == [
        f"/team/1/plan/{part}/" for part in ("purpose", "idea-a", "idea-b", "limit", "slower", "choose")
    ]
    assert at(response) == "/team/1/plan/sums/"


def test_a_later_part_waits_for_the_parts_before_it(tablet: Tablet) -> None:
    assert at(tablet.get("/team/1/plan/choose/")) == "/team/1/plan/purpose/"
    assert at(tablet.get("/team/1/plan/sums/")) == "/team/1/plan/purpose/"
    assert at(tablet.get("/team/1/plan/nonsense/")) == "/team/1/plan/purpose/"


def test_inside_or_over_the_limit_is_told_after_the_guess_and_without_numbers(tablet: Tablet) -> None:
    before = plan_until(tablet, "idea-b")
    assert "Inside the limit " not in words(before).replace("Inside the limit?", "")

    choose = words(plan_until(tablet, "slower"))

    assert "Idea A Inside the limit" in choose
    assert "Idea B Over the limit" in choose
    for figure in ("374", "375", "548", "254", "380"):
        assert figure not in choose


def test_the_chosen_idea_becomes_the_plan(tablet: Tablet, challenge: ClassChallenge, team: Team) -> None:
    plan_until(tablet, "choose")

    record = record_of(challenge, team)
    assert {slug: size.typed for slug, size in record.plan.items()} == {
        "canopy_radius": "9",
        "line_length": "10",
    }
    assert record.notes["chosen"].text == "a"


def test_ideas_and_guesses_stand_once_an_idea_is_chosen(tablet: Tablet) -> None:
    plan_until(tablet, "choose")

    assert at(tablet.get("/team/1/plan/idea-a/")) == "/team/1/plan/sums/"
    assert at(tablet.get("/team/1/plan/limit/")) == "/team/1/plan/sums/"


def test_one_and_a_half_may_be_written_with_a_comma(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    plan_until(tablet, "purpose")

    tablet.fill("/team/1/plan/idea-a/", canopy_radius="1,5", line_length="1.5")

    sizes = record_of(challenge, team).ideas["idea_a"]
    assert sizes["canopy_radius"].value == sizes["line_length"].value
    assert sizes["canopy_radius"].typed == "1,5"


def test_a_starter_helps_without_scripts_and_keeps_what_was_typed(tablet: Tablet) -> None:
    response = tablet.fill("/team/1/plan/purpose/", purpose="We think.", start="0")

    assert response.status_code == 200
    assert "We think. It must bring the load down " in main_part(response)
    assert not Note.objects.exists()


# --- what cannot be saved ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Type a length here"),
        ("abc", "I can’t read “abc”"),
        ("-3", "without plus or minus"),
        ("0", "A size of zero makes nothing"),
        ("1000", "That is very big. Type 40 in or less"),
        ("1,234", "Do you mean 1.234 or 1234?"),
        ("9" * 60, "That is too long"),
        ("9" * 300, "That is too long"),
    ],
)
def test_a_size_that_will_not_do_is_said_beside_it_and_above_and_kept(
    tablet: Tablet, typed: str, said: str
) -> None:
    plan_until(tablet, "purpose")

    response = tablet.fill("/team/1/plan/idea-a/", canopy_radius=typed, line_length="10")

    assert response.status_code == 422
    text = words(response)
    assert text.count(said) == 2, "in the summary and beside the field"
    assert "data-error-summary" in main_part(response)
    assert 'href="#id_canopy_radius"' in main_part(response)
    assert f'value="{typed}"' in main_part(response) or typed == ""
    assert 'value="10"' in main_part(response)
    assert not Measurement.objects.exists()


@pytest.mark.parametrize(
    ("part", "fields", "said"),
    [
        ("purpose", {"purpose": "  "}, "Write one sentence first."),
        ("purpose", {"purpose": "a" * 601}, "That is too long to save."),
        ("limit", {}, "Tap one of the answers."),
        ("limit", {"meets_limit": "none of your business"}, "Tap one of the answers."),
        ("slower", {"slower": "a"}, "Tap a reason, or write one of your own."),
        ("slower", {"reason": "It is lighter"}, "Tap one of the answers."),
        ("choose", {}, "Tap one of the answers."),
    ],
)
def test_an_answer_that_is_missing_is_asked_for_again(
    tablet: Tablet, part: str, fields: dict[str, str], said: str
) -> None:
    before = {"limit": "idea-b", "slower": "limit", "choose": "slower"}
    if part in before:
        plan_until(tablet, before[part])
    notes = Note.objects.count()

    response = tablet.fill(f"/team/1/plan/{part}/", **fields)

    assert response.status_code == 422
    assert said in words(response)
    assert Note.objects.count() == notes


def test_a_form_sent_twice_counts_once(tablet: Tablet, challenge: ClassChallenge) -> None:
    plan_until(tablet, "purpose")
    fields = {**hidden_fields(tablet.get("/team/1/plan/idea-a/")), "canopy_radius": "9", "line_length": "10"}

    first = tablet.post("/team/1/plan/idea-a/", **fields)
    second = tablet.post("/team/1/plan/idea-a/", **fields)

    assert (at(first), at(second)) == ("/team/1/plan/idea-b/", "/team/1/plan/idea-b/")
    assert Measurement.objects.count() == 2


def test_an_old_form_sent_with_other_answers_is_shown_again_and_saved_the_next_time(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    fields = {**hidden_fields(tablet.get("/team/1/plan/purpose/")), "purpose": "First."}
    tablet.post("/team/1/plan/purpose/", **fields)

    again = tablet.post("/team/1/plan/purpose/", **{**fields, "purpose": "Second."})

    assert again.status_code == 422
    assert "This form was sent before with other answers" in words(again)
    assert "Second." in main_part(again)
    tablet.post("/team/1/plan/purpose/", **{**hidden_fields(again), "purpose": "Second."})
    assert "Second." in [note.text for note in Note.objects.filter(prompt="purpose")]


def test_two_tablets_that_type_the_same_size_are_shown_both_and_choose(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    plan_until(tablet, "purpose")
    other = Tablet(team)
    late = hidden_fields(tablet.get("/team/1/plan/idea-a/"))
    other.fill("/team/1/plan/idea-a/", canopy_radius="8", line_length="10")

    told = tablet.post("/team/1/plan/idea-a/", **{**late, "canopy_radius": "9", "line_length": "10"})

    assert told.status_code == 422
    assert "Another tablet of your team saved first" in words(told)
    assert "Canopy radius 9 8" in words(told)
    assert "Line length 10 10" not in words(told), "where both agree there is nothing to choose"
    assert record_of(challenge, team).ideas["idea_a"]["canopy_radius"].typed == "8"
    assert Submission.objects.filter(outcome="conflict").count() == 1

    kept = tablet.post(
        "/team/1/plan/idea-a/", **{**hidden_fields(told), "canopy_radius": "9", "line_length": "10"}
    )
    assert at(kept) == "/team/1/plan/idea-b/"
    assert record_of(challenge, team).ideas["idea_a"]["canopy_radius"].typed == "9"


def test_two_tablets_that_say_different_reasons_are_shown_both(tablet: Tablet, team: Team) -> None:
    plan_until(tablet, "limit")
    late = hidden_fields(tablet.get("/team/1/plan/slower/"))
    Tablet(team).fill("/team/1/plan/slower/", slower="b", reason="It is lighter")

    told = tablet.post("/team/1/plan/slower/", **{**late, "slower": "a", "own": "More air."})

    assert told.status_code == 422
    assert "Which one should fall slower? Idea A Idea B" in words(told)
    assert "Why? More air. It is lighter" in words(told)


def test_two_tablets_that_say_the_same_need_not_choose(tablet: Tablet, team: Team) -> None:
    plan_until(tablet, "idea-b")
    late = hidden_fields(tablet.get("/team/1/plan/limit/"))
    Tablet(team).fill("/team/1/plan/limit/", meets_limit="both")

    assert at(tablet.post("/team/1/plan/limit/", **{**late, "meets_limit": "both"})) == "/team/1/plan/slower/"


# --- signed out, paused, closed ---------------------------------------------------------------


def test_what_was_typed_survives_being_signed_out(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    fields = {**hidden_fields(tablet.get("/team/1/plan/purpose/")), "purpose": "It must not be lost."}
    Device.objects.update(revoked_at=timezone.now())

    out = tablet.post("/team/1/plan/purpose/", **fields)
    assert at(out) == "/join/?next=%2Fteam%2F1%2Fplan%2Fpurpose%2F"
    assert "We kept what you typed" in words(out)
    back = tablet.post(
        "/join/", class_code=team.classroom.code, team_code=team.code, next="/team/1/plan/purpose/"
    )

    assert at(back) == "/team/1/plan/purpose/"
    assert "We kept what you typed" in words(back)
    assert "It must not be lost." in main_part(back)
    assert not tablet.client.cookies["sb_session"].value, "a session that held nothing else is gone"
    tablet.post("/team/1/plan/purpose/", **{**hidden_fields(back), "purpose": "It must not be lost."})
    assert record_of(challenge, team).notes["purpose"].text == "It must not be lost."


def test_another_team_does_not_see_what_was_held(tablet: Tablet, challenge: ClassChallenge) -> None:
    fields = {**hidden_fields(tablet.get("/team/1/plan/purpose/")), "purpose": "Ours alone."}
    Device.objects.update(revoked_at=timezone.now())
    tablet.post("/team/1/plan/purpose/", **fields)
    other = challenge.classroom.teams.get(place=2)

    back = tablet.post(
        "/join/", class_code=other.classroom.code, team_code=other.code, next="/team/1/plan/purpose/"
    )

    assert "Ours alone." not in main_part(back)


def close(challenge: ClassChallenge, step: str, *, number: int = 1, is_open: bool = False) -> None:
    StepGate.objects.update_or_create(
        class_challenge=challenge, team=None, round=number, step=step, defaults={"open": is_open}
    )


def test_a_closed_step_keeps_what_was_typed_until_it_is_open(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    fields = {**hidden_fields(tablet.get("/team/1/plan/purpose/")), "purpose": "Typed too late."}
    close(challenge, Step.PLAN)

    shut = tablet.post("/team/1/plan/purpose/", **fields)

    assert shut.status_code == 422
    assert "Not saved yet, but kept" in words(shut)
    assert "Typed too late." in words(shut)
    assert not Note.objects.exists()
    assert "Typed too late." in words(tablet.get("/team/1/plan/purpose/")), "also after looking again"
    close(challenge, Step.PLAN, is_open=True)
    assert "Typed too late." in main_part(tablet.get("/team/1/plan/purpose/"))
    tablet.post("/team/1/plan/purpose/", **{**hidden_fields(shut), "purpose": "Typed too late."})
    assert record_of(challenge, team).notes["purpose"].text == "Typed too late."


def test_a_pause_says_so_and_takes_nothing_away(tablet: Tablet, challenge: ClassChallenge) -> None:
    plan_until(tablet, "purpose")
    challenge.paused_at = timezone.now()
    challenge.save()

    assert "Your teacher paused the tablets" in words(tablet.get("/team/1/plan/idea-a/"))
    told = tablet.post("/team/1/plan/idea-a/", canopy_radius="9", line_length="10")
    assert told.status_code == 422
    assert "9 10" in words(told)


def test_what_was_held_is_forgotten_once_it_is_saved(tablet: Tablet, challenge: ClassChallenge) -> None:
    close(challenge, Step.PLAN)
    tablet.post("/team/1/plan/purpose/", purpose="Held.")
    close(challenge, Step.PLAN, is_open=True)
    tablet.fill("/team/1/plan/purpose/", purpose="Saved.")

    page = tablet.get("/team/1/plan/purpose/")

    assert "Saved." in main_part(page)
    assert "We kept what you typed" not in words(page)


def test_a_tablet_that_is_in_no_team_is_sent_to_the_door(client: Any) -> None:
    response = client.get("/team/1/plan/purpose/")

    assert response.status_code == 302
    assert response.headers["Location"] == "/join/?next=%2Fteam%2F1%2Fplan%2Fpurpose%2F"


# --- changing it later ------------------------------------------------------------------------


def test_changing_a_size_makes_the_clearance_stale(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    plan_round(challenge, team)
    clear_round(challenge, team)
    assert "When you change a size" in words(tablet.get("/team/1/plan/sizes/"))

    tablet.fill("/team/1/plan/sizes/", canopy_radius="7 1/2", line_length="13")

    record = record_of(challenge, team)
    assert record.clearance is None
    assert record.plan["canopy_radius"].typed == "7 1/2"


def test_the_plan_stands_once_the_made_thing_is_measured(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    plan_round(challenge, team)
    clear_round(challenge, team)
    build_round(challenge, team)

    assert at(tablet.get("/team/1/plan/sizes/")) == "/team/1/plan/"
    tablet.post("/team/1/plan/sizes/", canopy_radius="5", line_length="5")
    assert record_of(challenge, team).plan["canopy_radius"].typed == "7"


def test_the_plan_is_hidden_while_the_made_thing_is_being_measured(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    plan_round(challenge, team)
    clear_round(challenge, team)
    build_round(challenge, team, lines=("13", "13"))

    page = words(tablet.get("/team/1/plan/"))

    assert "The plan is hidden while you measure" in page
    assert "7 in" not in page


# --- round 2 ----------------------------------------------------------------------------------


@pytest.fixture
def second_round(challenge: ClassChallenge, team: Team) -> ClassChallenge:
    play_round(challenge, team, 1)
    close(challenge, Step.PLAN, number=2, is_open=True)
    start_round(challenge, team, 2)
    return challenge


def test_the_redesign_shows_round_one_beside_it(tablet: Tablet, second_round: ClassChallenge) -> None:
    page = tablet.get("/team/2/plan/")

    assert at(page) == "/team/2/plan/change/"
    text = words(page)
    assert "Canopy radius 7 in" in text
    assert "as built" not in text, "it was made as planned"
    assert "Material used 310 points" in text
    assert "Fall speed 3.7 ft/s" in text


def test_what_was_made_otherwise_than_planned_is_shown(
    tablet: Tablet, challenge: ClassChallenge, team: Team
) -> None:
    play_round(challenge, team, 1, across=("13", "14"))
    close(challenge, Step.PLAN, number=2, is_open=True)
    start_round(challenge, team, 2)

    text = words(tablet.get("/team/2/plan/change/")).replace("\N{NO-BREAK SPACE}", " ")

    assert "Canopy radius 7 in" in text
    assert "Canopy diameter, as built 13 1/2 in" in text


def test_one_change_and_its_reason_are_enough(
    tablet: Tablet, second_round: ClassChallenge, team: Team
) -> None:
    tablet.fill("/team/2/plan/change/", change="canopy_radius", change_why="Because there were points left.")
    done = tablet.fill("/team/2/plan/sizes/", canopy_radius="8", line_length="13")

    assert at(done) == "/team/2/plan/sums/"
    record = record_of(second_round, team, 2)
    assert record.notes["change"].text == "canopy_radius"
    assert record.plan["canopy_radius"].typed == "8"


def test_two_changes_ask_why_both_had_to(tablet: Tablet, second_round: ClassChallenge) -> None:
    tablet.fill("/team/2/plan/change/", change="two", change_why="Because of the limit.")
    asked = tablet.fill("/team/2/plan/sizes/", canopy_radius="8", line_length="12")

    assert at(asked) == "/team/2/plan/change-two/"
    refused = tablet.fill("/team/2/plan/change-two/", change_two="")
    assert refused.status_code == 422
    done = tablet.fill("/team/2/plan/change-two/", change_two="The limit pushed the lines down.")
    assert at(done) == "/team/2/plan/sums/"


def test_the_same_sizes_again_are_asked_about(tablet: Tablet, second_round: ClassChallenge) -> None:
    tablet.fill("/team/2/plan/change/", change="line_length", change_why="Longer is slower.")

    refused = tablet.fill("/team/2/plan/sizes/", canopy_radius="7", line_length="13")

    assert refused.status_code == 422
    assert "These are the sizes of the round before" in words(refused)


def test_the_same_sizes_are_fine_where_something_else_changes(
    tablet: Tablet, second_round: ClassChallenge
) -> None:
    tablet.fill("/team/2/plan/change/", change="other", change_why="We tie the lines better.")

    done = tablet.fill("/team/2/plan/sizes/", canopy_radius="7", line_length="13")

    assert at(done) == "/team/2/plan/sums/"


# --- the same number of queries, whatever the number of teams ------------------------------------


@pytest.mark.parametrize("teams", [8, 40])
def test_every_plan_page_takes_at_most_twelve_queries(teams: int, django_assert_max_num_queries: Any) -> None:
    challenge = make_challenge(make_class(teams))
    team = challenge.classroom.teams.get(place=1)
    for other in challenge.classroom.teams.all():
        start_round(challenge, other, 1)
    tablet = Tablet(team)

    def within_twelve(path: str) -> None:
        # Not seen for a while, so that noting it is counted in.
        Device.objects.update(last_seen_at=None)
        with django_assert_max_num_queries(12):
            assert tablet.client.get(path).status_code == 200

    for part, fields in SCREENS:
        within_twelve(f"/team/1/plan/{part}/")
        tablet.fill(f"/team/1/plan/{part}/", **fields)
    for answer in ("254", "374"):
        within_twelve("/team/1/plan/sums/")
        tablet.fill("/team/1/plan/sums/", answer=answer)
    within_twelve("/team/1/plan/drawing/")
    tablet.post("/team/1/plan/drawing/", how="paper")
    for path in ("/team/1/plan/", "/team/1/plan/sizes/", "/team/1/ready/"):
        within_twelve(path)
    tablet.post("/team/1/ready/")
    within_twelve("/team/1/ready/")


@pytest.mark.parametrize("teams", [8, 40])
def test_so_does_every_page_of_a_redesign(teams: int, django_assert_max_num_queries: Any) -> None:
    challenge = make_challenge(make_class(teams), drawing_required=True)
    team = challenge.classroom.teams.get(place=1)
    play_round(challenge, team, 1)
    close(challenge, Step.PLAN, number=2, is_open=True)
    close(challenge, Step.READY, number=2, is_open=True)
    tablet = Tablet(team)
    paths = ["/team/2/start/", "/team/1/plan/", "/team/1/ready/", "/team/2/plan/change/"]
    paths += ["/team/2/plan/sizes/", "/team/2/plan/sums/", "/team/2/plan/drawing/", "/team/2/ready/"]
    for path in paths:
        if path == "/team/2/plan/change/":
            tablet.post("/team/2/start/")
        if path == "/team/2/plan/sizes/":
            tablet.fill("/team/2/plan/change/", change="canopy_radius", change_why="More air.")
        if path == "/team/2/plan/sums/":
            plan_round(challenge, team, 2, radius="8")
        Device.objects.update(last_seen_at=None)
        with django_assert_max_num_queries(12):
            assert tablet.client.get(path).status_code == 200, path
