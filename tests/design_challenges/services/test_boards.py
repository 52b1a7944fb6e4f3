"""The board's rows: team order, covered columns, what opened, and nobody's answer given away."""

from __future__ import annotations

import json

import pytest

from design_challenges.models import ChallengeSettings, ClassChallenge, Drop
from design_challenges.services import boards, charts, saving
from design_challenges.services.records import load_class
from tests import builders

pytestmark = pytest.mark.django_db

SLOW, MIDDLE, FAST = (420, 420, 420), (366, 366, 366), (300, 300, 300)


@pytest.fixture
def classroom():
    return builders.make_class(teams=3)


@pytest.fixture
def challenge(classroom):
    return builders.make_challenge(classroom)


def rows(challenge, number=0):
    challenge.refresh_from_db()
    return boards.board_rows(load_class(challenge), number)


def texts(row):
    return [cell.text for cell in row.cells]


def test_a_row_has_the_figure_the_sizes_and_the_round(classroom, challenge):
    builders.play_round(challenge, classroom.teams.first(), hundredths=MIDDLE)
    first, second, third = rows(challenge)
    assert (first.team, texts(first), first.round) == ("Gannet", ["4.1", "14", "13"], 1)
    assert (second.team, texts(second), second.round) == ("Heron", ["", "", ""], 0)
    assert third.team == "Plover"


def test_sizes_are_as_built_and_written_as_on_the_tape(classroom, challenge):
    builders.play_round(challenge, classroom.teams.first(), across=("13 3/4", "14"), hundredths=MIDDLE)
    # The mean of the ways lies half way between two marks of a quarter-inch tape.
    assert texts(rows(challenge)[0]) == ["4.1", "14", "13"]


def test_teams_stand_in_team_order_until_the_teacher_sorts(classroom, challenge):
    for team, times in zip(classroom.teams.all(), (FAST, SLOW, MIDDLE), strict=True):
        builders.play_round(challenge, team, hundredths=times)
    assert [row.team for row in rows(challenge)] == ["Gannet", "Heron", "Plover"]
    ClassChallenge.objects.update(board_order="figure")
    assert [row.team for row in rows(challenge)] == ["Heron", "Plover", "Gannet"]


def test_sorted_by_a_time_the_longest_is_first_and_missing_ones_last(classroom):
    challenge = builders.make_challenge(classroom, values={"compare": "time"})
    gannet, heron, _plover = classroom.teams.all()
    builders.play_round(challenge, gannet, hundredths=FAST)
    builders.play_round(challenge, heron, hundredths=SLOW)
    ClassChallenge.objects.update(board_order="figure")
    assert [row.team for row in rows(challenge)] == ["Heron", "Gannet", "Plover"]


def test_a_covered_column_carries_no_number_and_no_chart(classroom, challenge):
    builders.play_round(challenge, classroom.teams.first(), hundredths=MIDDLE)
    ClassChallenge.objects.update(board_hidden=["figure"])
    row = rows(challenge)[0]
    assert texts(row) == ["", "14", "13"]
    drawn = boards.board_charts(load_class(challenge), charts.BOARD_WHOLE)
    assert all(chart.covered and chart.figure == "" for chart in drawn)


def test_covering_the_figure_keeps_the_order_from_telling_it(classroom, challenge):
    for team, times in zip(classroom.teams.all(), (FAST, SLOW, MIDDLE), strict=True):
        builders.play_round(challenge, team, hundredths=times)
    ClassChallenge.objects.update(board_order="figure", board_hidden=["figure"])
    assert [row.team for row in rows(challenge)] == ["Gannet", "Heron", "Plover"]


def test_covering_one_size_takes_only_its_chart(classroom, challenge):
    builders.play_round(challenge, classroom.teams.first(), hundredths=MIDDLE)
    ClassChallenge.objects.update(board_hidden=["line_length"])
    challenge.refresh_from_db()
    drawn = {chart.slug: chart for chart in boards.board_charts(load_class(challenge), charts.BOARD_WHOLE)}
    assert drawn["line_length"].covered
    assert json.loads(drawn["canopy_diameter"].figure)["data"]


def test_a_figure_shows_only_once_the_team_has_worked_it_out(classroom, challenge):
    team = classroom.teams.first()
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    builders.build_round(challenge, team)
    builders.drop_round(challenge, team, hundredths=MIDDLE)
    assert (texts(rows(challenge)[0]), rows(challenge)[0].note) == (["", "14", "13"], "working it out")
    builders.work_results(challenge, team)
    assert (texts(rows(challenge)[0]), rows(challenge)[0].note) == (["4.1", "14", "13"], "")


def test_where_the_software_works_the_sums_the_figure_shows_with_the_last_drop(classroom):
    challenge = builders.make_challenge(classroom, sums_by="software")
    team = classroom.teams.first()
    builders.plan_round(challenge, team)
    builders.clear_round(challenge, team)
    builders.build_round(challenge, team)
    builders.drop_round(challenge, team, hundredths=MIDDLE)
    assert texts(rows(challenge)[0]) == ["4.1", "14", "13"]


def test_a_device_that_did_not_open_counts_and_is_said(classroom, challenge):
    team = classroom.teams.first()
    builders.play_round(challenge, team, hundredths=MIDDLE)
    drop = Drop.objects.get(trial=2)
    builders.enter(challenge, lambda author: saving.judge_drop(drop, True, "not_open", author))
    row = rows(challenge)[0]
    assert (texts(row)[0], row.note) == ("4.1", "2 of 3 opened")


def test_the_latest_round_with_a_figure_is_shown_or_the_round_asked_for(classroom, challenge):
    team = classroom.teams.first()
    builders.play_round(challenge, team, 1, hundredths=MIDDLE)
    builders.plan_round(challenge, team, 2, line="12")
    assert (rows(challenge)[0].round, texts(rows(challenge)[0])[0]) == (1, "4.1")
    assert texts(rows(challenge, 2)[0]) == ["", "", ""]
    builders.clear_round(challenge, team, 2)
    builders.build_round(challenge, team, 2)
    builders.drop_round(challenge, team, 2, hundredths=SLOW)
    builders.work_results(challenge, team, 2)
    assert (rows(challenge)[0].round, texts(rows(challenge)[0])[0]) == (2, "3.6")
    assert texts(rows(challenge, 1)[0])[0] == "4.1"


def test_rounds_in_other_units_share_no_column(classroom, challenge):
    builders.play_round(challenge, classroom.teams.first(), hundredths=MIDDLE)
    ChallengeSettings.objects.create(
        class_challenge=challenge, version=2, unit_system="metric", drawing_required=False
    )
    assert texts(rows(challenge)[0]) == ["", "", ""]
    assert all(not chart.figure for chart in boards.board_charts(load_class(challenge), charts.BOARD_HALF))


def test_the_charts_show_both_rounds_and_say_in_words_what_they_show(classroom, challenge):
    gannet, heron, _plover = classroom.teams.all()
    builders.play_round(challenge, gannet, 1, hundredths=MIDDLE)
    builders.play_round(challenge, gannet, 2, hundredths=SLOW, line="12", lines=("12", "12", "12", "12"))
    builders.play_round(challenge, heron, 1, hundredths=FAST)
    canopy, line = boards.board_charts(load_class(challenge), charts.BOARD_WHOLE)
    names = [trace.get("name") for trace in json.loads(canopy.figure)["data"] if trace["mode"] == "markers"]
    assert names == ["Round 1", "Round 2"]
    assert line.sentence == (
        "2 teams in round 1, 1 team in round 2. Fall speed: 3.6 to 5 ft/s. Line length: 12 to 13 in."
    )
    # And mark by mark, for who cannot see them.
    assert line.marks == (
        "Gannet, round 1: 4.1 ft/s, 13 in",
        "Gannet, round 2: 3.6 ft/s, 12 in",
        "Heron, round 1: 5.0 ft/s, 13 in",
    )


def test_a_page_of_the_board_draws_its_own_teams_on_the_axes_of_all(classroom, challenge):
    gannet, heron, _plover = classroom.teams.all()
    builders.play_round(challenge, gannet, hundredths=MIDDLE)
    builders.play_round(challenge, heron, across=("20", "20"), hundredths=FAST)
    klass = load_class(challenge)
    (one, *_rest) = boards.board_charts(klass, charts.BOARD_WHOLE, team_ids=[gannet.pk])
    figure = json.loads(one.figure)
    marks = [trace for trace in figure["data"] if trace["mode"] == "markers"]
    assert [trace["x"] for trace in marks] == [[14.0]]
    assert figure["layout"]["xaxis"]["range"][1] >= 20


def test_numbers_stand_at_the_marks_where_the_table_is_beside(classroom, challenge):
    builders.play_round(challenge, classroom.teams.first(), hundredths=MIDDLE)
    chart = boards.board_charts(load_class(challenge), charts.BOARD_HALF, by_number=True)[0]
    assert [name["text"] for name in json.loads(chart.figure)["layout"]["annotations"]] == ["1"]


def test_no_teams_make_an_empty_board():
    challenge = builders.make_challenge(builders.make_class(teams=0))
    klass = load_class(challenge)
    assert boards.board_rows(klass) == []
    assert [chart.sentence for chart in boards.board_charts(klass, charts.BOARD_HALF)] == [
        "No team has a figure yet."
    ] * 2
