"""The materials list's page and its print, and the area-table cards."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def classroom():
    return builders.make_challenge(builders.make_class(teams=3)).classroom


@pytest.fixture
def teacher(classroom):
    return builders.teacher_client(classroom)


def address(name, classroom):
    return reverse(f"design_challenges:{name}", args=[classroom.code])


def test_it_is_worked_out_at_once_from_the_settings(teacher, classroom):
    page = teacher.get(address("materials", classroom)).content.decode()
    assert "7 devices: 3 teams × 2 rounds + 1 more." in page
    assert "21 1/2\N{NO-BREAK SPACE}in across" in page


def test_staggered_rows_are_chosen_where_they_give_more(teacher, classroom):
    query = {"across": "4", "gap": "0", "width_1": "8.5", "length_1": "11", "count_1": "2"}
    page = teacher.get(address("materials", classroom), query).content.decode()
    assert "In staggered rows along the width, each moved on by half a piece: 2, 1, 2." in page
    assert page.count("<circle") == 5
    assert "That is enough." in page


def test_a_roll_in_other_units_is_read(teacher, classroom):
    page = teacher.get(address("materials", classroom), {"width_1": "1 m", "length_1": "25 ft"})
    assert "39.370079 × 300 in" in page.content.decode()


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("teams", "none", "Type a whole number from 1 to 60."),
        ("across", "wide", "wide"),
        ("across", "", "Type a length, like 12."),
        ("width_2", "20", "Type this, too"),
        ("margin", "201", "from 0 to 200"),
    ],
)
def test_what_cannot_be_read_is_said_and_kept(teacher, classroom, field, typed, said):
    response = teacher.get(address("materials", classroom), {field: typed, "line": "17 3/4"})
    page = response.content.decode()
    assert response.status_code == 422
    assert said in page
    assert 'value="17 3/4"' in page


def test_it_prints_with_the_same_numbers(teacher, classroom):
    page = teacher.get(address("materials_sheet", classroom), {"teams": "5"}).content.decode()
    assert "11 devices" in page
    assert "paper-letter.css" in page


def test_a_limit_that_allows_no_device_is_said():
    classroom = builders.make_challenge(builders.make_class(teams=1), values={"limit": "5"}).classroom
    page = builders.teacher_client(classroom).get(address("materials", classroom)).content.decode()
    assert "No device fits inside the class" in page


def test_area_tables_are_a_card_a_team_where_the_class_reads_one():
    classroom = builders.make_challenge(builders.make_class(2), values={"area_method": "table"}).classroom
    page = builders.teacher_client(classroom).get(address("paper_area_table", classroom)).content.decode()
    assert page.count('class="table-card"') == 2
    assert "154" in page  # the area of a radius of 7


def test_a_class_that_works_areas_itself_has_no_cards(teacher, classroom):
    assert "table-card" not in teacher.get(address("paper_area_table", classroom)).content.decode()
    assert "area-table" not in teacher.get(address("paper", classroom)).content.decode()


@pytest.mark.parametrize(
    ("unit_system", "asked", "paper"),
    [("us", "", "letter"), ("metric", "", "a4"), ("us", "a4", "a4"), ("us", "foolscap", "letter")],
)
def test_measuring_suggests_the_paper_and_the_teacher_chooses(unit_system, asked, paper):
    classroom = builders.make_challenge(builders.make_class(1), unit_system=unit_system).classroom
    teacher = builders.teacher_client(classroom)
    page = teacher.get(address("paper_tags", classroom), {"paper": asked}).content.decode()
    assert f"paper-{paper}.css" in page
    # A choice holds for the next sheet as well.
    assert f"paper-{paper}.css" in teacher.get(address("paper_team_cards", classroom)).content.decode()


def test_others_are_refused(classroom):
    stranger = builders.teacher_client(builders.make_class(teams=1))
    for name in ("materials", "materials_sheet", "paper_area_table"):
        assert stranger.get(address(name, classroom)).status_code == 404


def test_before_a_challenge_is_set_up_there_is_no_list():
    classroom = builders.make_class(teams=1)
    assert builders.teacher_client(classroom).get(address("materials", classroom)).status_code == 404
