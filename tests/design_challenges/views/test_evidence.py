"""Single children: an exit question with numbers of their own, on tablet and paper, and what was seen."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from classroom.models import Student, Team
from design_challenges.models import ClassChallenge, ExitAnswer, ExitQuestion, SawIt
from design_challenges.services import evidence
from design_challenges.services.records import load_class
from tests import builders
from tests.support.tablet import Tablet, main_part, words

pytestmark = pytest.mark.django_db
EXIT = "/team/exit/"


@pytest.fixture
def challenge() -> ClassChallenge:
    return builders.make_challenge(builders.make_class(2))


@pytest.fixture
def team(challenge: ClassChallenge) -> Team:
    return challenge.classroom.teams.all()[0]


def here(challenge: ClassChallenge, step: str = "area", more: str = "") -> str:
    return f"/classes/{challenge.classroom.code}/slips/children/{step}/{more}"


def child_of(team: Team, place: int = 0) -> Student:
    return [member.student for member in team.members.select_related("student").order_by("pk")][place]


def right_of(challenge: ClassChallenge, child: Student, step: str = "area") -> Decimal:
    klass = load_class(challenge)
    found = evidence.find_step(klass.kind, klass.values, step)
    assert found is not None
    question = ExitQuestion.objects.get(closed_at__isnull=True)
    return found.right(evidence.child_context(klass.kind, klass.values, step, child, question.pk)).highest


def ask(challenge: ClassChallenge, step: str = "area") -> None:
    builders.teacher_client(challenge.classroom).post(here(challenge, step, "exit/"), {"ask": "yes"})


def test_without_a_question_the_tablet_says_so(team: Team) -> None:
    assert "There is no question now." in words(Tablet(team).get(EXIT))


def test_each_child_answers_alone_with_other_numbers(challenge: ClassChallenge, team: Team) -> None:
    ask(challenge)
    tablet = Tablet(team)
    one, two = child_of(team), child_of(team, 1)

    page = tablet.get(EXIT)
    assert str(one) in words(page)
    assert str(two) in words(page)
    mine, other = (words(tablet.get(f"{EXIT}?child={child.pk}")) for child in (one, two))
    assert "Area = π × radius × radius" in mine
    assert re.search(r"Canopy radius ([\d /]+)", mine) != re.search(r"Canopy radius ([\d /]+)", other)

    done = tablet.fill(f"{EXIT}?child={one.pk}", answer=str(right_of(challenge, one)))

    assert f"Thank you, {one}. Your answer is kept. Right." in words(done)
    row = ExitAnswer.objects.get()
    assert (row.student, row.right, row.submission is not None) == (one, True, True)
    assert str(one) not in words(tablet.get(EXIT))


def test_an_answer_not_yet_right_is_kept_with_its_slip(challenge: ClassChallenge, team: Team) -> None:
    ask(challenge, "speed")
    one = child_of(team)
    klass = load_class(challenge)
    step = evidence.find_step(klass.kind, klass.values, "speed")
    assert step is not None
    context = evidence.child_context(klass.kind, klass.values, "speed", one, ExitQuestion.objects.get().pk)
    slip = step.slip("multiplied")
    assert slip is not None
    (typed,) = slip.wrong(context)

    done = Tablet(team).fill(f"{EXIT}?child={one.pk}", answer=f"{float(typed):.1f}")  # type: ignore[arg-type]

    assert "Not yet. You multiplied." in words(done)
    assert ExitAnswer.objects.get().slips == ["multiplied"]
    page = builders.teacher_client(challenge.classroom).get(here(challenge, "speed"))
    assert "multiplying instead of dividing" in words(page)
    assert "1 child answered, 0 of them right." in words(page)


def test_an_answer_counts_once_and_an_unreadable_one_is_handed_back(
    challenge: ClassChallenge, team: Team
) -> None:
    ask(challenge)
    one, tablet = child_of(team), Tablet(team)

    told = tablet.fill(f"{EXIT}?child={one.pk}", answer="lots")
    assert told.status_code == 422
    assert 'value="lots"' in main_part(told)
    assert not ExitAnswer.objects.exists()
    tablet.fill(f"{EXIT}?child={one.pk}", answer="1")
    tablet.post(EXIT, child=str(one.pk), answer="2")
    assert [row.typed for row in ExitAnswer.objects.all()] == ["1"]


def test_a_child_of_another_team_is_not_asked_here(challenge: ClassChallenge, team: Team) -> None:
    ask(challenge)
    stranger = child_of(challenge.classroom.teams.all()[1])

    Tablet(team).post(EXIT, child=str(stranger.pk), answer="12")

    assert not ExitAnswer.objects.exists()


def test_tablets_hear_of_a_question_and_lead_to_it(challenge: ClassChallenge, team: Team) -> None:
    tablet = Tablet(team)
    before = tablet.post("/team/1/start/")
    was = before.context["watched"]
    assert "Answer it" not in before.content.decode()

    ask(challenge)

    pulse = tablet.client.get("/team/pulse/", {"revision": "0", "was": was})
    assert "one last question" in pulse.content.decode()
    assert 'href="/team/exit/"' in tablet.get("/team/").content.decode()


def test_a_new_question_closes_the_one_before_it(challenge: ClassChallenge, team: Team) -> None:
    ask(challenge, "area")
    ask(challenge, "mean")
    assert ExitQuestion.objects.filter(closed_at__isnull=True).get().step == "mean"

    teacher = builders.teacher_client(challenge.classroom)
    assert "open on the tablets" in words(teacher.get(here(challenge, "mean")))
    teacher.post(here(challenge, "mean", "exit/"), {"ask": "no"})

    assert "closed" in words(teacher.get(here(challenge, "mean")))
    assert "There is no question now." in words(Tablet(team).get(EXIT))
    assert teacher.get(here(challenge, "flying")).status_code == 404


def test_what_a_teacher_saw_is_one_tap_and_can_be_taken_back(challenge: ClassChallenge, team: Team) -> None:
    teacher, one = builders.teacher_client(challenge.classroom), child_of(team)

    page = teacher.post(here(challenge, "mean", "saw/"), {"saw": one.pk}, follow=True)
    assert words(page).count("Take back") == 1
    page = teacher.post(here(challenge, "mean", "saw/"), {"not": one.pk}, follow=True)

    assert words(page).count("Take back") == 0
    assert [row.saw for row in SawIt.objects.filter(student=one)] == [True, False]
    stranger = Student.objects.create(classroom=builders.make_class(1, name="Other"), given_name="Zoe")
    assert teacher.post(here(challenge, "mean", "saw/"), {"saw": stranger.pk}).status_code == 404
    assert teacher.post(here(challenge, "mean", "saw/"), {"saw": "x"}).status_code == 404


@pytest.mark.parametrize("step", ["area", "material", "rounded_1", "mean", "speed", "change"])
def test_it_prints_a_strip_a_child_and_the_answers_apart(challenge: ClassChallenge, step: str) -> None:
    page = builders.teacher_client(challenge.classroom).get(here(challenge, step, "paper/"))

    text = words(page)
    questions, answers = text.split("Answers, for the teacher")
    for student in challenge.classroom.students.all():
        assert str(student) in questions
        assert str(student) in answers


def test_a_poll_with_nothing_new_is_a_204(challenge: ClassChallenge) -> None:
    teacher = builders.teacher_client(challenge.classroom)
    token = teacher.get(here(challenge)).context["token"]

    same = teacher.get(here(challenge), {"revision": token}, headers={"HX-Request": "true"})
    assert same.status_code == 204
    ask(challenge)
    fresh = teacher.get(here(challenge), {"revision": token}, headers={"HX-Request": "true"})
    assert "open on the tablets" in fresh.content.decode()
