"""The Build page where sizes are measured twice: two children apart, what their readings say, one mark."""

from __future__ import annotations

import re
import uuid
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client

from classroom.models import Team
from design_challenges.models import ClassChallenge, Measurement, Submission
from design_challenges.services.progress import is_done
from design_challenges.steps import Step
from tests import builders

pytestmark = pytest.mark.django_db

URL = "/team/1/build/"
TWICE = {"measure_canopy": "twice", "measure_lines": "twice"}
CANOPY = ("canopy_diameter_1", "canopy_diameter_2")
LINES = tuple(f"line_length_{number}" for number in range(1, 5))


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(teams=2), values=TWICE)


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    return challenge.classroom.teams.first()


@pytest.fixture
def tablet(challenge: ClassChallenge, team: Team) -> Client:
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    return builders.team_client(team)


@pytest.fixture
def children(team: Team) -> list[Any]:
    return [place.student for place in team.members.order_by("student__given_name")]


def text(response: Any) -> str:
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\N{NO-BREAK SPACE}", " ").split())


def fields_of(tablet: Client, path: str = URL) -> dict[str, Any]:
    """The form's hidden fields as the page sends them."""
    page = tablet.get(path).content.decode()
    form = page[page.index('class="card card-next"') :]
    found: dict[str, Any] = {"asks": re.findall(r'name="asks" value="(\w+)"', form)}
    found |= dict(re.findall(r'name="((?:seen_\w+|part|turn|entry_id))" value="([\w-]*)"', form))
    return found


def read(tablet: Client, who: Any, *typed: str, path: str = URL) -> Any:
    """Send one child's readings of what the page asks for."""
    fields = fields_of(tablet, path)
    return tablet.post(URL, {**fields, "who": who, **dict(zip(fields["asks"], typed, strict=True))})


def agree(tablet: Client, *typed: str) -> Any:
    fields = fields_of(tablet)
    return tablet.post(URL, {**fields, **dict(zip(fields["asks"], typed, strict=True))})


def measure_apart(tablet: Client, children: list[Any], first: list[str], second: list[str]) -> Any:
    """Let two children measure the canopy, and the lines alike."""
    read(tablet, children[0].pk, *first)
    read(tablet, children[0].pk, *["13"] * 4)
    read(tablet, children[1].pk, *second)
    return read(tablet, children[1].pk, *["13"] * 4)


def built(challenge: Any, team: Any) -> dict[tuple[str, int], Any]:
    return dict(builders.record_of(challenge, team).built)


def test_the_first_child_is_named_and_measures_everything(tablet: Client, children: list[Any]) -> None:
    words = text(tablet.get(URL))
    assert f"Give the tablet to {children[0]}" in words
    assert "Measure alone" in words
    assert read(tablet, children[0].pk, "14", "13 1/2").headers["Location"] == URL
    assert "Line 4" in text(tablet.get(URL))
    assert fields_of(tablet)["turn"] == "1"


def test_the_second_child_sees_neither_the_first_readings_nor_the_plan(
    tablet: Client, children: list[Any]
) -> None:
    read(tablet, children[0].pk, "14 3/4", "13 1/2")
    read(tablet, children[0].pk, "12 1/4", "13", "13", "13")
    response = tablet.get(URL)
    page = response.content.decode()
    assert f"Give the tablet to {children[1]}" in text(response)
    assert "14 3/4" not in page
    assert "13 1/2" not in page
    typed = re.findall(r'<input type="text"[^>]*>', page)
    assert len(typed) == 2
    assert not any(" value=" in field for field in typed)
    assert "no-store" in response.headers["Cache-Control"]
    assert "hidden while you measure" in text(tablet.get("/team/1/plan/"))
    assert tablet.get("/team/1/plan/sums/").status_code == 302
    cleared = text(tablet.get("/team/1/ready/"))
    assert "Cleared to build!" in cleared
    assert "hidden while you measure" in cleared
    assert "points." not in cleared
    assert "Look at our plan" not in cleared
    assert tablet.get("/team/1/plan/drawing/").headers["Location"] == "/team/1/plan/"
    # A photo that cannot be read is said so, without the plan beside it.
    refused = tablet.post("/team/1/plan/drawing/", {"entry_id": str(uuid.uuid4()), "how": "photo"})
    assert refused.status_code == 422
    assert "Our plan so far" not in text(refused)


def test_readings_that_say_the_same_are_agreed_on_at_once(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    measure_apart(tablet, children, ["14", "13 1/2"], ["14", "13.5"])
    record = builders.record_of(challenge, team)
    assert record.build_complete
    assert record.variable("canopy_diameter") == Fraction(55, 4)
    assert is_done(record, Step.BUILD)
    assert "beside your plan" in text(tablet.get(URL))
    assert Measurement.objects.filter(stage="built", turn=1).count() == 6
    assert Measurement.objects.filter(stage="built", turn=2, student=children[1]).count() == 6


@pytest.mark.parametrize(
    ("first", "second", "asks"),
    [
        ("14", "15", "Did both tapes start at 0?"),
        ("14", "14 3/4", "small marks between the numbers"),
        ("14", "35 1/2", "one of you read inches and one centimetres"),
        ("14", "7", "Did one of you stop in the middle?"),
        ("14", "18", "Pull it flat and straight."),
        ("14", "14 1/2", "Nearly the same!"),
    ],
)
def test_readings_that_differ_are_asked_about(
    tablet: Client, challenge: Any, team: Any, children: list[Any], first: str, second: str, asks: str
) -> None:
    measure_apart(tablet, children, [first, "14"], [second, "14"])
    words = text(tablet.get(URL))
    assert asks in words
    assert f"One of you read {first} in , the other {second} in ." in words
    assert str(children[0]) not in words.split("Look at the tape together")[1]
    assert ("canopy_diameter", 1) not in built(challenge, team)
    assert ("canopy_diameter", 2) in built(challenge, team)
    assert not is_done(builders.record_of(challenge, team), Step.BUILD)


def test_the_pair_agrees_on_one_mark_and_all_readings_stay(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    measure_apart(tablet, children, ["13", "14"], ["14", "14"])
    assert agree(tablet, "14.2").status_code == 422  # no mark of the tape
    assert agree(tablet, "14").headers["Location"] == URL
    assert built(challenge, team)["canopy_diameter", 1].typed == "14"
    rows = Measurement.objects.filter(quantity="canopy_diameter", spot=1, stage="built").order_by("pk")
    assert [(row.turn, row.typed) for row in rows] == [(1, "13"), (2, "14"), (0, "14")]
    assert "beside your plan" in text(tablet.get(URL))


def test_readings_within_the_tolerance_choose_one_of_the_marks_between(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    measure_apart(tablet, children, ["14", "14"], ["14 1/2", "14"])
    words = text(tablet.get(URL))
    assert "14 in 14 1/4 in 14 1/2 in" in words
    assert agree(tablet, "").status_code == 422
    assert agree(tablet, "15").status_code == 422
    agree(tablet, "14 1/4")
    assert built(challenge, team)["canopy_diameter", 1].value == Fraction("14.25")


def test_both_may_measure_again_alone(tablet: Client, challenge: Any, team: Any, children: list[Any]) -> None:
    measure_apart(tablet, children, ["13", "14"], ["18", "14"])
    again = f"{URL}?part=1&again=yes"
    assert fields_of(tablet, again)["asks"] == ["canopy_diameter_1"]
    read(tablet, children[0].pk, "14", path=again)
    assert fields_of(tablet)["turn"] == "2"
    read(tablet, children[1].pk, "14")
    assert built(challenge, team)["canopy_diameter", 1].value == 14
    assert Measurement.objects.filter(quantity="canopy_diameter", spot=1, stage="built").count() == 5


def test_the_same_child_may_measure_again_and_it_is_recorded_so(tablet: Client, children: list[Any]) -> None:
    read(tablet, children[0].pk, "14", "14")
    read(tablet, children[0].pk, *["13"] * 4)
    assert f"{children[0]} again (nobody else can)" in text(tablet.get(URL))
    read(tablet, children[0].pk, "14", "14")
    rows = Measurement.objects.filter(turn=2)
    assert {(row.student, row.reader) for row in rows} == {(children[0], "again")}


def test_a_neighbour_may_measure_and_has_no_name(tablet: Client, children: list[Any]) -> None:
    read(tablet, children[0].pk, "14", "14")
    read(tablet, children[0].pk, *["13"] * 4)
    read(tablet, "neighbour", "14", "14")
    rows = Measurement.objects.filter(turn=2)
    assert {(row.student, row.reader) for row in rows} == {(None, "neighbour")}


def test_who_measures_must_be_said_and_only_the_teams_own_children_are_taken(
    tablet: Client, challenge: Any, children: list[Any]
) -> None:
    stranger = challenge.classroom.teams.last().members.first().student
    for who in ("", stranger.pk, "nobody"):
        response = read(tablet, who, "14", "13 1/4")
        assert response.status_code == 422
        assert "Say who holds the tape now." in text(response)
        assert 'value="13 1/4"' in response.content.decode()
    assert not Measurement.objects.filter(stage="built").exists()


@pytest.mark.parametrize("typed", ["", "abc", "0", "1000", "13.2"])
def test_a_reading_that_cannot_be_is_asked_about(tablet: Client, children: list[Any], typed: str) -> None:
    assert read(tablet, children[0].pk, typed, "14").status_code == 422
    assert not Measurement.objects.filter(stage="built").exists()


def test_a_form_sent_twice_counts_once(tablet: Client, children: list[Any]) -> None:
    fields = {**fields_of(tablet), "who": children[0].pk, CANOPY[0]: "14", CANOPY[1]: "14"}
    assert tablet.post(URL, fields).headers["Location"] == tablet.post(URL, fields).headers["Location"] == URL
    assert Measurement.objects.filter(stage="built").count() == 2


def test_a_second_tablet_that_was_too_late_is_told_and_what_it_sent_is_kept(
    tablet: Client, team: Any, children: list[Any]
) -> None:
    other = builders.team_client(team)
    late = {**fields_of(other), "who": children[1].pk, CANOPY[0]: "14 3/4", CANOPY[1]: "14"}
    read(tablet, children[0].pk, "14", "14")
    response = other.post(URL, late)
    assert response.status_code == 422
    assert "Another tablet of your team saved this first. You typed 14 3/4, 14." in text(response)
    assert Submission.objects.filter(outcome="conflict").count() == 1
    assert Measurement.objects.filter(stage="built").count() == 2
    # The page now asks for the second reading, and takes it.
    assert 'name="turn" value="2"' in response.content.decode()


def test_a_late_agreement_does_not_overrule_the_first(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    measure_apart(tablet, children, ["13", "14"], ["14", "14"])
    late = {**fields_of(tablet), "entry_id": str(uuid.uuid4()), CANOPY[0]: "13"}
    agree(tablet, "14")
    assert tablet.post(URL, late).status_code in (302, 422)
    assert built(challenge, team)["canopy_diameter", 1].typed == "14"
    assert Submission.objects.filter(outcome="conflict").count() == 1


def test_what_the_first_child_typed_while_signed_out_is_not_shown_to_the_second(
    tablet: Client, team: Any, children: list[Any]
) -> None:
    device = team.devices.get()
    fields = {**fields_of(tablet), "who": children[0].pk, CANOPY[0]: "14 3/4", CANOPY[1]: "14"}
    device.revoked_at = device.made_at
    device.save()
    assert "/join/" in tablet.post(URL, fields).headers["Location"]
    read(builders.team_client(team), children[0].pk, "14", "14")
    device.revoked_at = None
    device.save()
    tablet.get(URL)  # lines, first child
    assert "14 3/4" not in tablet.get(URL).content.decode()


def test_one_quantity_may_be_measured_twice_and_the_other_once() -> None:
    challenge = builders.make_challenge(builders.make_class(teams=1), values={"measure_canopy": "twice"})
    team = challenge.classroom.teams.get()
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    tablet = builders.team_client(team)
    one, two = (place.student.pk for place in team.members.all()[:2])
    read(tablet, one, "14", "14")
    tablet.post(URL, {"entry_id": str(uuid.uuid4()), "part": 2, **dict.fromkeys(LINES, "13")})
    read(tablet, two, "14", "14")
    assert builders.record_of(challenge, team).build_complete
    assert "Who measured?" not in text(tablet.get(f"{URL}?part=1"))
    assert "Who measured?" in text(tablet.get(f"{URL}?part=2"))


def test_trimmed_it_is_measured_twice_again(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    measure_apart(tablet, children, ["18", "18"], ["18", "18"])
    assert "Trim it, then measure again" in text(tablet.get(URL))
    read(tablet, children[0].pk, "16", "16", path=f"{URL}?part=1")
    assert not is_done(builders.record_of(challenge, team), Step.BUILD)
    read(tablet, children[1].pk, "16", "16")
    assert is_done(builders.record_of(challenge, team), Step.BUILD)


def test_the_teacher_sees_both_readings_and_may_choose(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    measure_apart(tablet, children, ["13", "14"], ["14", "14"])
    teacher = builders.teacher_client(challenge.classroom)
    code = challenge.classroom.code
    work = text(teacher.get(f"/classes/{code}/teams/{team.pk}/work/"))
    assert f"13 in {children[0]}" in work
    assert f"14 in {children[1]}" in work
    path = f"/classes/{code}/teams/{team.pk}/work/1/sizes/built/canopy_diameter/1/"
    assert "Two children read 13 in and 14 in." in text(teacher.get(path))
    assert teacher.post(path, {"length": "14"}).status_code == 302
    assert builders.record_of(challenge, team).build_complete
    assert Measurement.objects.filter(stage="built", turn__in=[1, 2]).count() == 12
    assert "beside your plan" in text(tablet.get(URL))


def test_the_teacher_is_told_of_a_pair_that_differs_and_of_one_that_is_stuck(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    teacher, code = builders.teacher_client(challenge.classroom), challenge.classroom.code
    measure_apart(tablet, children, ["13", "14"], ["14", "14"])
    pages = (f"/classes/{code}/dashboard/", f"/classes/{code}/measuring/")
    for page in pages:
        response = teacher.get(page)
        assert "13 in and 14 in , one whole unit apart." in text(response)
        assert f"teams/{team.pk}/work/1/sizes/built/canopy_diameter/1/" in response.content.decode()
        assert "pill-stuck" not in response.content.decode()
    again = f"{URL}?part=1&again=yes"
    read(tablet, children[0].pk, "13", path=again)
    read(tablet, children[1].pk, "14")
    for page in pages:
        response = teacher.get(page)
        assert "pill-stuck" in response.content.decode()
        assert "measured 2 times" in text(response)
    agree(tablet, "14")
    for page in pages:
        assert "whole unit apart" not in text(teacher.get(page))


def test_readings_that_agree_closely_are_not_told_to_the_teacher(
    tablet: Client, challenge: Any, children: list[Any]
) -> None:
    measure_apart(tablet, children, ["14", "14"], ["14 1/2", "14"])
    teacher, code = builders.teacher_client(challenge.classroom), challenge.classroom.code
    assert "waits for a mark" not in text(teacher.get(f"/classes/{code}/measuring/"))
    assert "Choose the mark" not in text(teacher.get(f"/classes/{code}/dashboard/"))


def test_a_build_done_again_after_it_broke_is_measured_twice_anew(
    tablet: Client, challenge: Any, team: Any, children: list[Any]
) -> None:
    from design_challenges.services import saving

    measure_apart(tablet, children, ["14", "14"], ["14", "14"])
    record = builders.record_of(challenge, team)
    builders.enter(challenge, lambda author: saving.save_breakage(record, "new", author))
    fields = fields_of(tablet)
    assert fields["turn"] == "1"
    assert fields["asks"] == list(CANOPY)


@pytest.mark.parametrize("teams", [8, 40])
def test_it_takes_no_more_than_12_queries(teams: int, django_assert_max_num_queries: Any) -> None:
    challenge = builders.make_challenge(builders.make_class(teams=teams), values=TWICE)
    team = challenge.classroom.teams.first()
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    tablet = builders.team_client(team)
    with django_assert_max_num_queries(12):
        assert tablet.get(URL).status_code == 200
    one, two = [place.student for place in team.members.all()[:2]]
    measure_apart(tablet, [one, two], ["13", "14"], ["14", "14"])
    with django_assert_max_num_queries(12):
        assert "Look at the tape together" in text(tablet.get(URL))


# --- the tape beside a field ---------------------------------------------------------------------------


def test_the_tape_follows_what_is_typed_and_tapped(tablet: Client) -> None:
    ask = {"name": "canopy_diameter_1", "unit": "in", "division": "1/4"}
    drawn = tablet.get("/team/tape/", {**ask, "canopy_diameter_1": "13 1/2"}).content.decode()
    assert "is 2 marks past the 13." in drawn
    assert "style=" not in drawn
    tapped = tablet.get("/team/tape/", {**ask, "canopy_diameter_1": "13", "canopy_diameter_1_part": "1/2"})
    assert tapped.content.decode() == drawn


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"name": "x", "unit": "yd", "division": "1/4", "x": "13"},
        {"name": "x", "unit": "in", "division": "0", "x": "13"},
        {"name": "x", "unit": "in", "division": "1/0", "x": "13"},
        {"name": "x", "unit": "in", "division": "nan", "x": "13"},
    ],
)
def test_what_is_no_tape_draws_nothing(tablet: Client, asked: dict[str, str]) -> None:
    response = tablet.get("/team/tape/", asked)
    assert response.status_code == 200
    assert response.content.strip() == b""


@pytest.mark.parametrize("typed", ["", "lots", "0", "2000", "9" * 4000])
def test_what_is_no_length_is_not_marked_on_the_tape(tablet: Client, typed: str) -> None:
    asked = {"name": "x", "unit": "in", "division": "1/4"}
    text = tablet.get("/team/tape/", {**asked, "x": typed}).content.decode()
    assert 'aria-label="A tape from 0 with a mark every 1/4' in text
    assert "tape-length" not in text
    assert "tape-length" in tablet.get("/team/tape/", {**asked, "x": "13"}).content.decode()


def test_the_tape_is_for_the_teams_tablets(client: Client) -> None:
    assert client.get("/team/tape/").status_code == 302


# --- a whole number and a part of an inch -----------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "part", "value"),
    [
        ("14", "1/2", "14.5"),
        ("14", "0", "14"),
        ("14 1/2", "1/2", "14.5"),
        ("14-1/2", "1/2", "14.5"),
        ("14 1/4", "", "14.25"),
    ],
)
def test_the_form_reads_the_box_with_the_button(
    tablet: Client, challenge: Any, team: Any, children: list[Any], typed: str, part: str, value: str
) -> None:
    fields = fields_of(tablet)
    tablet.post(
        URL,
        {**fields, "who": children[0].pk, CANOPY[0]: typed, f"{CANOPY[0]}_part": part, CANOPY[1]: "14"},
    )
    row = Measurement.objects.get(quantity="canopy_diameter", spot=1, stage="built")
    assert Fraction(row.numerator, row.denominator) == Fraction(value)


def test_a_button_that_says_something_else_than_the_box_is_asked_about(
    tablet: Client, children: list[Any]
) -> None:
    fields = {**fields_of(tablet), "who": children[0].pk, CANOPY[0]: "14 1/4", CANOPY[1]: "14"}
    response = tablet.post(URL, {**fields, f"{CANOPY[0]}_part": "1/2"})
    assert response.status_code == 422
    assert "14 1/4 1/2" in text(response) or "“1/2”" in text(response)


@pytest.mark.parametrize(
    ("division", "parts"),
    [
        ("1/8", ["0", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"]),
        ("1/4", ["0", "1/4", "1/2", "3/4"]),
        ("1/2", ["0", "1/2"]),
        ("1", []),
    ],
)
def test_the_buttons_are_the_marks_of_the_classs_tape(division: str, parts: list[str]) -> None:
    challenge = builders.make_challenge(
        builders.make_class(teams=1), values={**TWICE, "tape_division": division}
    )
    team = challenge.classroom.teams.get()
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    page = builders.team_client(team).get(URL).content.decode()
    assert re.findall(r'name="canopy_diameter_1_part" id="\w+" value="([^"]+)"', page) == parts


def test_a_metric_class_has_the_decimal_keypad_and_no_buttons() -> None:
    challenge = builders.make_challenge(builders.make_class(teams=1), unit_system="metric", values=TWICE)
    team = challenge.classroom.teams.get()
    builders.plan_round(challenge, team, radius="17", line="30")
    builders.clear_round(challenge, team)
    page = builders.team_client(team).get(URL).content.decode()
    assert "_part" not in page
    assert page.count('inputmode="decimal"') == 2
