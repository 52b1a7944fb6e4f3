"""The set-up of a challenge: usual values, presets, versions, warnings, and that nothing old alters."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client

from classroom.models import Classroom
from design_challenges.kinds import get_kind
from design_challenges.kinds.soft_landing.advice import longest_line
from design_challenges.models import (
    ChallengeSettings,
    ClassChallenge,
    Clearance,
    DesignIteration,
    Reading,
    StepGate,
    Working,
)
from design_challenges.services import setup
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.saving import start_round
from design_challenges.steps import Step
from tests.builders import make_challenge, make_class, play_round, record_of, teacher_client

pytestmark = pytest.mark.django_db
KIND = get_kind("soft-landing")


def _page(classroom: Classroom, rest: str = "") -> str:
    return f"/classes/{classroom.code}/settings/{rest}"


def _form(unit_system: str = "us", preset: str = "older", **changes: Any) -> dict[str, Any]:
    """Return the set-up form as a teacher sends it, with the usual values but for `changes`."""
    texts = {**setup.usual_texts(KIND, unit_system, preset), **changes}
    steps = list(Step.values)
    start = {"kind": "soft-landing", "preset": preset, "filled_for": f"{unit_system} {preset}"}
    return {"open_steps": steps, **start, **texts}


def _first(classroom: Classroom, **changes: Any) -> Any:
    return teacher_client(classroom).post(_page(classroom), {"save": "1", **_form(**changes)})


def _change(classroom: Classroom, *, seen: int = 1, button: str = "confirm", **changes: Any) -> Any:
    data = {button: "1", "seen": str(seen), **_form(**changes)}
    return teacher_client(classroom).post(_page(classroom, "change/"), data)


def _newest(classroom: Classroom) -> ChallengeSettings:
    return ChallengeSettings.objects.filter(class_challenge__classroom=classroom).order_by("-version")[0]


# --- the first version -----------------------------------------------------------------------


def test_two_taps_set_a_class_up_with_the_usual_values() -> None:
    classroom = make_class(1)
    client = teacher_client(classroom)
    assert "Use the usual values" in client.get(_page(classroom)).content.decode()
    start = {"kind": "soft-landing", "unit_system": "us", "preset": "older", "usual": "1"}
    client.post(_page(classroom), start)
    settings = _newest(classroom)
    assert (settings.version, settings.trials_per_round, settings.sums_by) == (1, 3, "children")
    assert settings.values["limit"] == "375"
    assert settings.values["drop_height"] == "15"
    assert settings.made_by == classroom.memberships.get().user
    assert find_challenge(classroom).rounds == 2


@pytest.mark.parametrize(
    ("unit_system", "typed", "stored"),
    [
        ("us", "14 ft 6 in", "14.5"),
        ("us", "14 1/2", "14.5"),
        ("us", "14' 6\"", "14.5"),
        ("metric", "450 cm", "4.5"),
        ("metric", "4,5 m", "4.5"),
    ],
)
def test_the_drop_height_is_typed_like_every_length(unit_system: str, typed: str, stored: str) -> None:
    classroom = make_class(1)
    _first(classroom, unit_system=unit_system, preset="older", drop_height=typed)
    assert _newest(classroom).values["drop_height"] == stored


def test_the_younger_preset_reads_a_table_takes_the_middle_time_and_compares_seconds() -> None:
    classroom = make_class(1)
    start = {"kind": "soft-landing", "unit_system": "metric", "preset": "younger", "usual": "1"}
    teacher_client(classroom).post(_page(classroom), start)
    settings = _newest(classroom)
    assert settings.unit_system == "metric"
    assert (settings.average, settings.trials_per_round) == ("median", 3)
    assert settings.values["area_method"] == "table"
    assert settings.values["compare"] == "time"
    assert settings.values["limit"] == "2400"


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"unit_system": ""}, "Choose the units"),
        ({"unit_system": "cubits"}, "Choose one of these units"),
        ({"preset": ""}, "Choose a preset"),
        ({"preset": "oldest"}, "one of these presets"),
    ],
)
def test_a_start_that_cannot_be_is_explained(changed, message) -> None:
    classroom = make_class(1)
    start = {"kind": "soft-landing", "unit_system": "us", "preset": "older", "usual": "1", **changed}
    answer = teacher_client(classroom).post(_page(classroom), start)
    assert answer.status_code == 422
    assert message in answer.content.decode()
    assert not ClassChallenge.objects.exists()


def test_every_setting_of_the_kind_is_in_the_form_with_its_line() -> None:
    classroom = make_class(1)
    answer = teacher_client(classroom).post(
        _page(classroom), {"kind": "soft-landing", "unit_system": "us", "preset": "older", "refill": "1"}
    )
    page = answer.content.decode()
    for setting in setup.setting_fields(KIND):
        assert f'name="{setting.slug}"' in page
        assert setting.help
    assert page.count('class="hint"') >= len(setup.setting_fields(KIND))
    assert not ClassChallenge.objects.exists()


def test_numbers_are_saved_as_typed_with_a_comma_or_a_point() -> None:
    classroom = make_class(1)
    _first(classroom, unit_system="metric", drop_height="4,25", price_line="7.50", rounds="3")
    settings = _newest(classroom)
    assert settings.values["drop_height"] == "4.25"
    assert settings.values["price_line"] == "7.5"
    assert find_challenge(classroom).rounds == 3
    assert load_class(find_challenge(classroom)).values["drop_height"] == Decimal("4.25")


@pytest.mark.parametrize(
    ("field", "typed", "message"),
    [
        ("drop_height", "", "Type a number here"),
        ("drop_height", "high", "I can’t read"),
        ("drop_height", "-15", "without plus or minus"),
        ("drop_height", "0", "Type 1 or more"),
        ("drop_height", "1000", "Type 100 or less"),
        ("drop_height", "14 ft 7 in", "about 14.583 ft"),
        ("drop_height", "14 yd", "“yd”"),
        ("drop_height", "1.2345", "Type 3 at most"),
        ("trials_per_round", "1", "Type 2 or more"),
        ("trials_per_round", "11", "Type 10 or less"),
        ("trials_per_round", "2.5", "whole number"),
        ("line_count", "1", "Type 2 or more"),
        ("limit", "1e3", "without an e"),
        ("limit", "1,500", "Do you mean"),
        ("places_time", "3", "Choose one of these"),
        ("tape_division", "1/3", "Choose one of these"),
        ("area_method", "", "Choose one of these"),
        ("sums_by", "nobody", "Choose one of these"),
        ("rounds", "10", "Type 9 or less"),
        ("rounds", "", "Type a number here"),
    ],
)
def test_a_setting_that_cannot_be_is_explained_and_everything_typed_stays(field, typed, message) -> None:
    classroom = make_class(1)
    answer = _first(classroom, **{"load_mass": "7.5", field: typed})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert message in page
    assert 'id="error-summary"' in page
    assert f'href="#id_{field}' in page
    assert 'value="7.5"' in page
    assert not ClassChallenge.objects.exists()


def test_steps_without_a_tick_are_closed_from_the_start() -> None:
    classroom = make_class(1)
    _first(classroom, open_steps=["plan", "ready"])
    klass = load_class(find_challenge(classroom))
    team = classroom.teams.get().pk
    opened = [step for step in Step if klass.is_open(team, 1, step)]
    assert opened == [Step.PLAN, Step.READY]


def test_with_every_step_ticked_there_is_no_gate() -> None:
    classroom = make_class(1)
    _first(classroom)
    assert not StepGate.objects.exists()


def test_a_first_set_up_that_is_sent_twice_counts_once() -> None:
    classroom = make_class(1)
    for limit in ("375", "999"):
        _first(classroom, limit=limit)
    assert ClassChallenge.objects.count() == ChallengeSettings.objects.count() == 1
    assert _newest(classroom).values["limit"] == "375"


# --- switching units and presets -------------------------------------------------------------


def test_switching_units_refills_what_depends_on_them_and_keeps_the_rest() -> None:
    classroom = make_class(1)
    data = {**_form(load_mass="8", drop_height="20"), "unit_system": "metric", "refill": "1"}
    answer = teacher_client(classroom).post(_page(classroom), data)
    form = answer.context["form"]
    assert form["drop_height"].value() == "4.5"
    assert form["limit"].value() == "2400"
    assert form["load_mass"].value() == "8"
    assert "cm²" in answer.content.decode()


def test_units_that_were_switched_are_never_saved_with_the_old_numbers() -> None:
    classroom = make_class(1)
    data = {**_form(), "unit_system": "metric", "save": "1"}
    answer = teacher_client(classroom).post(_page(classroom), data)
    assert "Nothing is saved yet" in answer.content.decode()
    assert answer.context["form"]["drop_height"].value() == "4.5"
    assert not ClassChallenge.objects.exists()


def test_going_back_to_older_undoes_what_younger_set() -> None:
    texts = setup.refill(KIND, setup.usual_texts(KIND, "us", "younger"), "us", "older")
    assert texts == setup.usual_texts(KIND, "us", "older")


@pytest.mark.parametrize("preset", ["older", "younger"])
@pytest.mark.parametrize("unit_system", ["us", "metric"])
def test_usual_values_are_known_as_their_preset_and_need_no_caution(unit_system, preset) -> None:
    texts = setup.usual_texts(KIND, unit_system, preset)
    assert setup.preset_of(KIND, texts) == preset
    assert list(KIND.advice(setup.values_of(KIND, texts))) == []


# --- warnings and what a limit allows --------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"drop_height": "9.9"}, ["under 10 ft", "five drops"]),
        ({"unit_system": "metric", "drop_height": "2.9"}, ["under 3 m", "five drops"]),
        ({"load_mass": "10.1"}, ["over 10 g", "five drops"]),
        ({"limit": "2"}, ["No plan fits"]),
    ],
)
def test_what_is_hard_to_time_is_warned_about_and_saved_all_the_same(changes, words) -> None:
    classroom = make_class(1)
    answer = _first(classroom, **changes)
    page = teacher_client(classroom).get(answer.headers["Location"]).content.decode()
    for word in words:
        assert word in page
    assert _newest(classroom).version == 1


@pytest.mark.parametrize(
    "changes", [{"drop_height": "10"}, {"unit_system": "metric", "drop_height": "3"}, {"load_mass": "10"}]
)
def test_at_the_edge_nothing_is_warned_about(changes) -> None:
    texts = {**setup.usual_texts(KIND, changes.get("unit_system", "us"), "older"), **changes}
    assert list(KIND.advice(setup.values_of(KIND, texts))) == []


def test_five_drops_are_not_suggested_to_a_class_that_makes_them() -> None:
    texts = {**setup.usual_texts(KIND, "us", "older"), "load_mass": "20", "trials_per_round": "5"}
    assert not any("try five" in str(say) for say in KIND.advice(setup.values_of(KIND, texts)))


def test_the_longest_line_is_on_the_tape_and_the_next_mark_is_over_the_limit() -> None:
    for unit_system in ("us", "metric"):
        values = setup.values_of(KIND, setup.usual_texts(KIND, unit_system, "older"))
        division = Fraction(values["tape_division"])
        for radius in range(1, 20):
            line = longest_line(values, Fraction(radius))
            if line < 1:
                continue
            for longer, allowed in ((Fraction(0), True), (division, False)):
                sizes = {"canopy_radius": Fraction(radius), "line_length": line + longer}
                used = KIND.plan_figures(values, sizes, {}).material_class
                assert (used <= values["limit"]) is allowed, (unit_system, radius)


def test_what_the_limit_allows_stands_in_the_form_and_follows_what_is_typed() -> None:
    classroom = make_class(1)
    client = teacher_client(classroom)
    # By hand: 375 − 154 (π·7² rounded) is 221; ÷ (3 × 4) is 18.4, on a quarter-inch tape 18 1/4.
    answer = client.post(_page(classroom), {**_form(), "look": "1"})
    assert ("7", "154", "154", "18 1/4") in answer.context["allowance"].rows
    typed = {"look": "1", **_form(limit="250")}
    live = client.post(_page(classroom), typed, headers={"HX-Request": "true"})
    assert ("7", "154", "154", "8") in live.context["allowance"].rows
    assert "<html" not in live.content.decode()
    bad = client.post(_page(classroom), {**typed, "limit": "much"}, headers={"HX-Request": "true"})
    assert bad.status_code == 204
    assert not ClassChallenge.objects.exists()


# --- later versions --------------------------------------------------------------------------


@pytest.fixture
def played() -> tuple[Classroom, ClassChallenge]:
    """A class whose first team has played round 1, and whose second has not begun."""
    classroom = make_class(2)
    _first(classroom, drawing_required="no")
    challenge = find_challenge(classroom)
    play_round(challenge, classroom.teams.first())
    return classroom, challenge


def test_a_change_says_what_changes_and_for_whom_before_it_is_saved(played) -> None:
    classroom, _challenge = played
    answer = _change(classroom, button="save", limit="300", area_method="table", drawing_required="no")
    page = answer.content.decode()
    for words in ("Material limit", "375 points", "300 points", "the formula", "a table"):
        assert words in page
    assert "Round 1 of 1 team has begun: it keeps version 1" in page
    assert "No accepted answer, clearance or reading changes" in page
    assert "Drop height" not in page
    assert ChallengeSettings.objects.count() == 1


def test_a_confirmed_change_is_a_version_and_rounds_that_began_keep_theirs(played) -> None:
    classroom, challenge = played
    first, second = classroom.teams.order_by("place")
    revision = challenge.revision.number
    _change(classroom, limit="300", drawing_required="no")
    assert _newest(classroom).version == 2
    challenge = find_challenge(classroom)
    assert challenge.revision.number > revision
    assert record_of(challenge, first).values["limit"] == 375
    start_round(challenge, second, 1)
    start_round(challenge, first, 2)
    assert record_of(challenge, second).values["limit"] == 300
    assert record_of(challenge, first, 2).values["limit"] == 300


def test_a_later_change_alters_no_accepted_answer_no_clearance_and_no_reading(played) -> None:
    classroom, _challenge = played
    team = classroom.teams.first()

    def stored() -> list[Any]:
        return [list(model.objects.order_by("pk").values()) for model in (Working, Clearance, Reading)]

    def seen() -> tuple[Any, ...]:
        record = record_of(find_challenge(classroom), team)
        assert record.clearance is not None
        return (record.accepted, record.clearance, record.figure, record.exact_figure, record.material_used)

    rows, figures = stored(), seen()
    _change(
        classroom,
        unit_system="metric",
        preset="younger",
        limit="100",
        places_time="2",
        price_line="9",
        trials_per_round="7",
        sums_by="software",
    )
    assert _newest(classroom).version == 2
    assert stored() == rows
    assert seen() == figures
    assert DesignIteration.objects.get(team=team).settings.version == 1


def test_a_version_is_never_changed_in_place(played) -> None:
    classroom, _challenge = played
    before = ChallengeSettings.objects.values().get(version=1)
    for seen, limit in ((1, "300"), (2, "310"), (3, "320")):
        _change(classroom, seen=seen, limit=limit, drawing_required="no")
    assert ChallengeSettings.objects.values().get(version=1) == before
    assert list(ChallengeSettings.objects.values_list("version", flat=True)) == [1, 2, 3, 4]


def test_saving_what_stands_already_makes_no_version(played) -> None:
    classroom, _challenge = played
    answer = _change(classroom, button="save", limit="375.0", drawing_required="no")
    assert answer.status_code == 302
    page = teacher_client(classroom).get(answer.headers["Location"])
    assert page.status_code == 200
    assert ChallengeSettings.objects.count() == 1


def test_a_change_that_is_sent_twice_counts_once(played) -> None:
    classroom, _challenge = played
    for _turn in range(2):
        _change(classroom, limit="300", drawing_required="no")
    assert ChallengeSettings.objects.count() == 2


def test_two_who_change_at_the_same_time_are_told_and_nothing_is_overwritten(played) -> None:
    classroom, _challenge = played
    _change(classroom, limit="300", drawing_required="no")
    answer = _change(classroom, seen=1, limit="310", drawing_required="no")
    page = answer.content.decode()
    assert "Somebody saved version 2" in page
    assert "300 points" in page
    assert "310 points" in page
    assert _newest(classroom).version == 2
    _change(classroom, seen=2, limit="310", drawing_required="no")
    assert _newest(classroom).values["limit"] == "310"


def test_the_number_of_rounds_is_changed_without_a_version_and_not_below_what_has_begun(played) -> None:
    classroom, challenge = played
    start_round(challenge, classroom.teams.first(), 2)
    answer = _change(classroom, rounds="1", drawing_required="no")
    assert answer.status_code == 422
    assert "begun round 2" in answer.content.decode()
    _change(classroom, rounds="4", drawing_required="no")
    assert find_challenge(classroom).rounds == 4
    assert ChallengeSettings.objects.count() == 1


def test_a_wrong_number_in_a_change_is_explained_and_kept(played) -> None:
    classroom, _challenge = played
    answer = _change(classroom, button="save", limit="much", drawing_required="no")
    assert answer.status_code == 422
    assert 'value="much"' in answer.content.decode()
    assert ChallengeSettings.objects.count() == 1


def test_every_version_is_listed_with_what_it_changed_and_the_rounds_it_holds_for(played) -> None:
    classroom, _challenge = played
    _change(classroom, limit="300", drawing_required="no")
    start_round(find_challenge(classroom), classroom.teams.last(), 1)
    history = teacher_client(classroom).get(_page(classroom)).context["history"]
    assert [note.settings.version for note in history] == [2, 1]
    assert [(change.old, change.new) for change in history[0].changes] == [("375 points", "300 points")]
    assert [(row.number, row.teams) for note in history for row in note.rounds] == [(1, 1), (1, 1)]


def test_settings_that_older_rows_never_stored_take_their_usual_value() -> None:
    classroom = make_class(1)
    challenge = make_challenge(classroom, unit_system="metric")
    texts = setup.texts_of(challenge, challenge.settings_versions.get())
    assert texts["limit"] == "2400"
    assert teacher_client(classroom).get(_page(classroom)).status_code == 200
    assert teacher_client(classroom).get(_page(classroom, "change/")).status_code == 200


def test_a_change_before_a_challenge_is_set_up_leads_to_the_set_up() -> None:
    classroom = make_class(1)
    answer = teacher_client(classroom).get(_page(classroom, "change/"))
    assert answer.headers["Location"] == _page(classroom)


def test_settings_typed_while_signed_out_come_back(played) -> None:
    classroom, _challenge = played
    client = Client()
    data = {"save": "1", "seen": "1", **_form(limit="333", drawing_required="no")}
    assert client.post(_page(classroom, "change/"), data).headers["Location"].startswith("/sign-in/")
    teacher = classroom.memberships.get().user
    teacher.set_password("a long pass phrase")
    teacher.save()
    client.post("/sign-in/", {"username": teacher.username, "password": "a long pass phrase"})
    page = client.get(_page(classroom, "change/")).content.decode()
    assert "We kept what you typed" in page
    assert 'value="333"' in page
    assert ChallengeSettings.objects.count() == 1
