"""Printed records, letters and the class report: whose numbers stand where, and who may see them."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from classroom.models import TeamMember
from design_challenges.models import ExitAnswer, SawIt
from design_challenges.services import evidence, saving
from design_challenges.services.lessons import save_attendance, start_lesson
from tests import builders
from tests.support import stages

pytestmark = pytest.mark.django_db


@pytest.fixture
def challenge() -> Any:
    challenge = builders.make_challenge(builders.make_class(teams=2))
    team = challenge.classroom.teams.first()
    stages.open_round(challenge, 2)
    stages.play_to(challenge, team, "finished")
    return challenge


@pytest.fixture
def classroom(challenge: Any) -> Any:
    return challenge.classroom


@pytest.fixture
def teacher(classroom: Any) -> Any:
    return builders.teacher_client(classroom)


def read(teacher: Any, name: str, classroom: Any, *more: Any) -> str:
    answer = teacher.get(reverse(f"design_challenges:{name}", args=[classroom.code, *more]))
    assert answer.status_code == 200
    return str(answer.content.decode())


def child_of(classroom: Any, place: int = 0) -> Any:
    return classroom.teams.first().members.all()[place].student


def test_a_teams_record_holds_plan_sizes_readings_working_and_noticings(teacher, classroom):
    page = read(teacher, "team_record", classroom, classroom.teams.first().pk)
    for text in (
        "It must fall slowly. It may not pass the limit.",
        "Idea B",
        "Its canopy is bigger",
        "The plan uses 310 of 375 points.",
        "13 3/4",
        "3.45",
        "did not open",
        "timing slip",
        "Teams with a wide canopy fell slower.",
        "Our canopy was small and we had points left.",
        "Ours fell slower than before. We changed two things at once.",
    ):
        assert text in page, text
    assert page.count("<h1") == 1


def test_a_reading_that_does_not_count_is_struck_out_and_says_why(teacher, classroom):
    page = read(teacher, "team_record", classroom, classroom.teams.first().pk)
    assert "no: timing slip" in page
    assert "yes: did not open" in page


def test_a_childs_record_begins_with_what_is_its_own(teacher, classroom, challenge):
    child = child_of(classroom)
    question = evidence.ask(challenge, "area") or challenge.exit_questions.get()
    ExitAnswer.objects.create(question=question, student=child, typed="153.9", value="153.9", right=True)
    SawIt.objects.create(class_challenge=challenge, student=child, step="mean", saw=True)
    SawIt.objects.create(class_challenge=challenge, student=child, step="speed", saw=True)
    SawIt.objects.create(class_challenge=challenge, student=child, step="speed", saw=False)
    save_attendance(start_lesson(classroom, None), {child_of(classroom, 1).pk})
    page = read(teacher, "child_record", classroom, child.pk)
    own = page[page.index("own-evidence") : page.index("notebook-round")]
    assert "Canopy area: 153.9 ✓" in own
    assert "Mean fall time" in own
    assert "Fall speed" not in own
    assert "Away in lesson" in own
    assert "It must fall slowly." in page


def test_a_child_who_changed_teams_has_each_round_of_its_own_team(teacher, classroom, challenge):
    first, other = classroom.teams.all()
    child = child_of(classroom)
    TeamMember.objects.create(student=child, team=other, from_round=2)
    stages.play_to(challenge, other, "finished")
    page = read(teacher, "child_record", classroom, child.pk)
    assert f"round 1: {first.name}, round 2: {other.name}" in page
    assert "Both builds:" not in page  # two builds of different teams do not compare


def test_a_letter_speaks_of_the_childs_own_team_in_plain_words(teacher, classroom):
    child = child_of(classroom)
    page = read(teacher, "letter", classroom, child.pk)
    assert f"Dear family of {child.given_name}," in page
    assert "The second build" in page
    assert "two sizes" in page
    assert "Our canopy was small and we had points left." in page
    other = classroom.teams.all()[1]
    assert other.name not in page


def test_a_letter_before_anything_was_built_says_so(teacher, classroom):
    waiting = classroom.teams.all()[1].members.first().student
    page = read(teacher, "letter", classroom, waiting.pk)
    assert "has not begun yet" in page


def test_every_child_has_a_letter_and_a_record(teacher, classroom):
    for name in ("letters", "child_records"):
        assert read(teacher, name, classroom).count('class="sheet ') == classroom.students.count()


def test_a_merged_team_keeps_its_record(teacher, classroom):
    first, other = classroom.teams.all()
    first.retired_at, first.merged_into = first.made_at, other
    first.save()
    assert "Teams with a wide canopy fell slower." in read(teacher, "records", classroom)


def test_what_children_write_is_text_and_never_markup(teacher, classroom, challenge):
    iteration = classroom.teams.first().iterations.get(number=2)
    builders.enter(
        challenge, lambda author: saving.save_note(iteration, "change_why", "<b>more</b> air", author)
    )
    for name in ("records", "child_records", "letters"):
        page = read(teacher, name, classroom)
        assert "&lt;b&gt;more&lt;/b&gt; air" in page
        assert "<b>more" not in page


def test_the_report_has_settings_results_improvement_and_measuring(teacher, classroom):
    page = read(teacher, "class_report", classroom)
    for text in (
        "Drop height",
        "15 ft",
        "3.45",
        "1 team has both rounds",
        "No size of this kind",
        "<svg",
        "3-5-ETS1-2",
    ):
        assert text in page, text


def test_records_of_other_classes_and_of_those_who_left_are_not_found(teacher, classroom):
    other = builders.make_challenge(builders.make_class(teams=1)).classroom
    child = other.students.first()
    for name, pk in (
        ("team_record", other.teams.first().pk),
        ("child_record", child.pk),
        ("letter", child.pk),
    ):
        assert teacher.get(reverse(f"design_challenges:{name}", args=[classroom.code, pk])).status_code == 404
    own = child_of(classroom)
    own.left_at = own.made_at
    own.save()
    assert teacher.get(reverse("design_challenges:letter", args=[classroom.code, own.pk])).status_code == 404


@pytest.mark.parametrize("name", ["records", "child_records", "letters", "class_report"])
def test_before_a_challenge_is_set_up_there_is_nothing_to_print(name):
    classroom = builders.make_class(teams=1)
    client = builders.teacher_client(classroom)
    assert client.get(reverse(f"design_challenges:{name}", args=[classroom.code])).status_code == 404
