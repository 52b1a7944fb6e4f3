"""The teacher's slip page: who shares which slip, every team's tries, and showing a team the steps."""

from __future__ import annotations

from typing import Any

import pytest

from classroom.models import Team
from design_challenges.models import ClassChallenge, Working
from design_challenges.services import saving, slip_board
from design_challenges.services.records import load_class
from design_challenges.services.working import check
from tests import builders
from tests.support.tablet import Tablet, words

pytestmark = pytest.mark.django_db


def dropped(teams: int, **settings: Any) -> ClassChallenge:
    """A class whose teams have dropped and worked everything but the speed."""
    challenge = builders.make_challenge(builders.make_class(teams), **settings)
    for team in challenge.classroom.teams.all():
        builders.plan_round(challenge, team)
        builders.clear_round(challenge, team)
        builders.build_round(challenge, team)
        builders.drop_round(challenge, team)
        record = builders.record_of(challenge, team)
        if record.sums_by_children:
            for step in [*record.rounding_steps.values(), record.result_steps[0]]:
                builders.answer_right(challenge, team, 1, step)
    return challenge


def answer(challenge: ClassChallenge, team: Team, slug: str, typed: str) -> None:
    """Try a sum, as the page does."""
    record = builders.record_of(challenge, team)
    steps = [*record.kind.plan_steps(record.values), *record.rounding_steps.values(), *record.result_steps]
    step = next(step for step in steps if step.slug == slug)
    verdict = check(step, record.context(), typed, 0)
    builders.enter(
        challenge,
        lambda author: saving.save_working(
            record.iteration,
            slug,
            record.basis(step),
            typed,
            verdict.outcome,
            author,
            value=verdict.value,
            slips=list(verdict.slips),
        ),
    )


def address(challenge: ClassChallenge, more: str = "") -> str:
    return f"/classes/{challenge.classroom.code}/slips/{more}"


def said(challenge: ClassChallenge) -> list[str]:
    return [one.said for one in slip_board.build_slip_board(load_class(challenge)).now]


def test_slips_are_said_in_words_with_the_most_shared_first() -> None:
    challenge = dropped(5)
    teams = list(challenge.classroom.teams.all())
    answer(challenge, teams[3], "speed", "61.5")
    for team in teams[:3]:
        answer(challenge, team, "speed", "0.3")

    page = builders.teacher_client(challenge.classroom).get(address(challenge))

    assert (
        said(challenge)
        == [
            "3 teams are dividing the other way round",
            "1 team is multiplying instead of dividing",
        ]
        or said(challenge)[0] == "3 teams are dividing the other way round"
    )
    text = words(page)
    assert text.index("3 teams are dividing") < text.index("Tries")
    assert "Gannet, Heron, Plover" in text
    assert "You divided the other way round." in text


def test_a_slip_put_right_moves_down() -> None:
    challenge = dropped(2)
    teams = list(challenge.classroom.teams.all())
    for team in teams:
        answer(challenge, team, "speed", "0.3")
    answer(challenge, teams[0], "speed", "3.7")

    board = slip_board.build_slip_board(load_class(challenge))

    assert [(one.said, [team.name for team in one.now]) for one in board.now] == [
        ("1 team is dividing the other way round", ["Heron"])
    ]
    assert [one.said_since for one in board.since] == ["1 team was dividing the other way round"]
    speed = [str(label) for label in board.columns].index("Fall speed")
    assert [(row.cells[speed].tries, row.cells[speed].state) for row in board.rows] == [
        (2, "right"),
        (1, "not_yet"),
    ]


def test_a_try_that_two_slips_explain_is_named_once_it_was_picked() -> None:
    challenge = dropped(1)
    team = challenge.classroom.teams.get()
    # 15 ÷ 4.1 is 3.65…: cut it is 3.6, and so it is where one drop's time was used.
    answer(challenge, team, "speed", "3.6")
    record = builders.record_of(challenge, team)
    step = record.result_steps[1]
    picks = check(step, record.context(), "3.6", 0).picks
    assert len(picks) > 1
    assert said(challenge) == []

    builders.enter(
        challenge,
        lambda author: saving.save_working(
            record.iteration, "speed", record.basis(step), "", "picked", author, slips=["five_down"]
        ),
    )

    assert [slug for slug, _how in picks].count("five_down") == 1
    assert said(challenge) == ["1 team is rounding a five down"]


def test_the_rounding_of_all_times_is_one_column() -> None:
    challenge = dropped(1)
    team = challenge.classroom.teams.get()
    Working._base_manager.filter(step__startswith="rounded_").delete()
    answer(challenge, team, "rounded_1", "412")
    answer(challenge, team, "rounded_3", "41")

    board = slip_board.build_slip_board(load_class(challenge))

    rounding = [str(label) for label in board.columns].index("Rounding")
    assert board.rows[0].cells[rounding].tries == 2
    assert [one.said for one in board.now] == ["1 team is losing the point"]


def test_nothing_new_is_a_204_and_a_try_is_news(django_assert_max_num_queries: Any) -> None:
    challenge = dropped(2)
    client = builders.teacher_client(challenge.classroom)
    page = client.get(address(challenge))
    token = page.context["token"]

    with django_assert_max_num_queries(4):
        assert (
            client.get(address(challenge), {"revision": token}, headers={"HX-Request": "true"}).status_code
            == 204
        )
    answer(challenge, challenge.classroom.teams.first(), "speed", "0.3")
    fresh = client.get(address(challenge), {"revision": token}, headers={"HX-Request": "true"})

    assert fresh.status_code == 200
    assert fresh.content.decode().lstrip().startswith('<div id="live"')
    assert "dividing the other way round" in fresh.content.decode()


@pytest.mark.parametrize("teams", [2, 12])
def test_the_page_asks_as_little_for_many_teams(teams: int, django_assert_max_num_queries: Any) -> None:
    challenge = builders.make_challenge(builders.make_class(teams))
    for team in challenge.classroom.teams.all():
        builders.plan_round(challenge, team)
    client = builders.teacher_client(challenge.classroom)

    with django_assert_max_num_queries(20):
        assert client.get(address(challenge)).status_code == 200


def test_where_the_software_does_the_sums_no_slip_is_looked_for() -> None:
    challenge = dropped(1, sums_by="software")

    page = builders.teacher_client(challenge.classroom).get(address(challenge))

    assert "the software do the sums" in words(page)
    assert "Tries" not in words(page)


def test_another_teacher_does_not_see_it() -> None:
    challenge = dropped(1)
    other = builders.make_class(1, name="Another")

    assert builders.teacher_client(other).get(address(challenge)).status_code == 404
    assert builders.team_client(challenge.classroom.teams.get()).get(address(challenge)).status_code == 302


def test_the_teacher_shows_a_team_the_steps_and_it_is_kept() -> None:
    challenge = dropped(1)
    team = challenge.classroom.teams.get()
    client = builders.teacher_client(challenge.classroom)
    work = f"/classes/{challenge.classroom.code}/teams/{team.pk}/work/"
    assert "Show them the steps : Fall speed" in words(client.get(work))
    tablet = Tablet(team)
    assert "15 ÷ 4.1" not in words(tablet.get("/team/1/results/"))

    page = client.post(f"{work}1/steps/speed/show/", follow=True)

    assert "The team sees the steps" in page.content.decode()
    assert "steps shown by the teacher" in words(page)
    shown = words(tablet.get("/team/1/results/"))
    assert "Your teacher shows you the steps" in shown
    assert "15 ÷ 4.1 = 3.658…" in shown
    row = Working.objects.get(verdict="given")
    assert (row.step, row.user) == ("speed", challenge.classroom.memberships.get().user)
    assert "Show them the steps : Fall speed" not in words(page)
    assert client.post(f"{work}1/steps/nothing/show/").status_code == 404
    assert client.post(f"{work}4/steps/speed/show/").status_code == 404
    assert client.get(f"{work}1/steps/speed/show/").status_code == 405


def test_a_tablet_is_told_that_the_steps_are_there() -> None:
    challenge = dropped(1)
    team = challenge.classroom.teams.get()
    tablet = Tablet(team)
    page = tablet.get("/team/1/results/")
    builders.teacher_client(challenge.classroom).post(
        f"/classes/{challenge.classroom.code}/teams/{team.pk}/work/1/steps/speed/show/"
    )

    pulse = tablet.client.get("/team/pulse/", {"revision": "0", "was": page.context["watched"]})

    assert "Your teacher shows you the steps of a sum." in pulse.content.decode()


@pytest.mark.parametrize(
    ("system", "average", "steps"),
    [
        ("us", "mean", ["diameter", "area", "total_line", "material", "time_sum", "mean", "speed", "change"]),
        ("metric", "median", ["diameter", "area", "total_line", "material", "mean", "speed", "change"]),
    ],
)
def test_a_class_that_works_every_step_gets_through_both_rounds(
    system: str, average: str, steps: list[str]
) -> None:
    challenge = builders.make_challenge(
        builders.make_class(1), unit_system=system, average=average, values={"sums_asked": "every"}
    )
    team = challenge.classroom.teams.get()
    builders.play_round(challenge, team)
    record = builders.play_round(challenge, team, 2, line="12", hundredths=(430, 440, 420))

    assert [slug for slug in record.accepted if not slug.startswith("rounded_")] == steps
    columns = slip_board.build_slip_board(load_class(challenge)).columns
    assert len(columns) == len(steps) + 1
    page = builders.teacher_client(challenge.classroom).get(address(challenge))
    assert "No team is at a known slip now." in words(page)
