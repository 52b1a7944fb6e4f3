"""The page of marks and the rubric's pages: who gets in, plain forms, mistakes, evidence, second marking."""

from __future__ import annotations

import re
import uuid

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from classroom.models import Classroom, Membership
from design_challenges.models import ClassChallenge, Mark, Remark, Rubric
from design_challenges.services import evidence
from tests.builders import make_challenge, make_class, make_teacher, play_round, teacher_client
from tests.support.marked_classes import WORDS, give, levels, make_marked_class, teacher_of, write


@pytest.fixture
def challenge(db: None) -> ClassChallenge:
    return make_marked_class(2)


@pytest.fixture
def classroom(challenge: ClassChallenge) -> Classroom:
    return challenge.classroom


@pytest.fixture
def team(classroom):
    return classroom.teams.get(place=1)


@pytest.fixture
def client(classroom) -> Client:
    return teacher_client(classroom)


def url(classroom: Classroom, name: str = "marking", query: str = "") -> str:
    return reverse(f"design_challenges:{name}", args=[classroom.code]) + query


def told(response) -> list[str]:
    return [str(message) for message in get_messages(response.wsgi_request)]


PAGES = ["marking", "marking_evidence", "rubric", "rubric_change", "marking_agreement"]


@pytest.mark.parametrize("name", PAGES)
def test_it_is_for_the_teachers_of_the_class_alone(classroom, name) -> None:
    address = url(classroom, name)
    assert Client().get(address).status_code == 302
    stranger = teacher_client(make_class(1, name="Room 6"))
    assert stranger.get(address).status_code == 404
    for post in ("marking", "marking_remark", "rubric_begin", "rubric_change", "rubric_keep"):
        assert stranger.post(url(classroom, post), {"do": "give", "mark": "t1:limits 4"}).status_code == 404
    assert Mark.objects.count() == 0


def test_a_class_without_a_challenge_is_told_what_to_do_first(db) -> None:
    classroom = make_class(1)
    page = teacher_client(classroom).get(url(classroom))
    assert "Set up the challenge" in page.text


def test_a_class_begins_with_the_usual_rubric_of_a_grade(db) -> None:
    classroom = make_class(1)
    challenge = make_challenge(classroom)
    client = teacher_client(classroom)
    assert "grade 4" in client.get(url(classroom)).text
    refused = client.post(url(classroom, "rubric_begin"), {})
    assert refused.status_code == 422
    assert "Choose a rubric to begin with." in refused.text
    assert client.post(url(classroom, "rubric_begin"), {"start": "kept-1"}).status_code == 422
    assert client.post(url(classroom, "rubric_begin"), {"start": "grade-4"}).status_code == 302
    assert challenge.rubrics.get().grade == 4
    page = client.get(url(classroom, "rubric"))
    assert "3.MD.B.4" in page.text
    assert "Beyond the grade, not graded" in page.text


def test_the_page_shows_suggestions_and_gives_nothing_by_itself(challenge, classroom, team, client) -> None:
    play_round(challenge, team)
    page = client.get(url(classroom))
    assert 'data-suggested="4"' in page.text
    assert Mark.objects.count() == 0


def test_a_whole_form_saves_what_was_changed_and_nothing_else(challenge, classroom, team, client) -> None:
    give(challenge, teacher_of(classroom), **{f"t{team.pk}__ideas": "2"})
    page = client.get(url(classroom))
    seen = re.search(r'name="seen" value="(\d+)"', page.text)
    assert seen is not None
    # While the form is open, a colleague marks another place.
    give(challenge, teacher_of(classroom), **{f"t{team.pk}__measuring": "1"})
    names = re.findall(r'name="([ts]\d+:[a-z-]+)"', page.text)
    assert len(names) == (2 + 6) * 6
    form = dict.fromkeys(names, "") | {f"t{team.pk}:ideas": "2", f"t{team.pk}:limits": " 3 "}
    answer = client.post(
        url(classroom), {**form, "seen": seen[1], "entry_id": str(uuid.uuid4())}, follow=True
    )
    assert "1 mark is saved." in answer.text
    assert levels(challenge, "Ana") | {} == {
        "limits": "3",
        "ideas": "2",
        "fair-test": "",
        "measuring": "1",
        "decimals": "",
        "explaining": "",
    }


def test_what_is_no_mark_is_named_and_what_was_typed_stays(challenge, classroom, team, client) -> None:
    form = {f"t{team.pk}:limits": "7", f"t{team.pk}:ideas": "3", "seen": "0"}
    answer = client.post(url(classroom), form)
    assert answer.status_code == 422
    assert f"{team.name}, Limits: “7” is no mark." in answer.text
    assert f'href="#t{team.pk}:limits"' in answer.text
    assert 'value="7"' in answer.text
    assert 'value="3"' in answer.text
    assert Mark.objects.count() == 0


def test_marks_sent_by_the_script_are_answered_with_totals(challenge, classroom, team, client) -> None:
    student = team.members.first().student
    body = {
        "do": "give",
        "live": "yes",
        "entry_id": str(uuid.uuid4()),
        "mark": [f"t{team.pk}:limits 2", f"t{team.pk}:limits 3", f"s{student.pk}:ideas x"],
    }
    for _ in range(2):
        answer = client.post(url(classroom), body).json()
    assert answer["totals"][f"s{student.pk}"] == "75.0"
    assert answer["takenOver"][f"s{student.pk}:limits"] == "3"
    assert answer["seen"] == Mark.objects.latest("pk").pk
    assert Mark.objects.count() == 3, "sent twice it counts once"
    refused = client.post(url(classroom), {"do": "give", "mark": "t1:limits 9"})
    assert refused.status_code == 422
    assert "out of date" in refused.json()["said"]


def test_undo_by_the_script_and_by_a_plain_button(challenge, classroom, team, client) -> None:
    for text in ("2", "3"):
        give(challenge, teacher_of(classroom), **{f"t{team.pk}__limits": text})
    live = client.post(url(classroom), {"do": "undo", "live": "yes", "entry_id": str(uuid.uuid4())}).json()
    assert (live["place"], live["text"]) == (f"t{team.pk}:limits", "2")
    plain = client.post(url(classroom), {"do": "undo", "entry_id": ""})
    assert told(plain)[-1] == "The last mark is taken back."
    plain = client.post(url(classroom), {"do": "undo", "entry_id": ""})
    assert told(plain)[-1] == "There is nothing of yours left to take back."
    assert levels(challenge, "Ana")["limits"] == ""


def test_what_was_typed_while_signed_out_comes_back(challenge, classroom, team) -> None:
    client = Client()
    client.post(url(classroom), {f"t{team.pk}:limits": "3", "seen": "0"})
    client.force_login(teacher_of(classroom))
    page = client.get(url(classroom))
    assert re.search(rf'name="t{team.pk}:limits" value="3"', page.text)
    assert "We kept what you typed" in page.text


def test_an_archived_class_can_be_read_and_not_marked(challenge, classroom, team, client) -> None:
    Classroom.objects.filter(pk=classroom.pk).update(archived_at=timezone.now())
    assert "marking.js" not in client.get(url(classroom)).text
    assert client.post(url(classroom), {"do": "give", "mark": f"t{team.pk}:limits 3"}).status_code == 422
    assert Mark.objects.count() == 0


# --- evidence ----------------------------------------------------------------------------------------


def test_evidence_stands_beside_each_criterion_with_the_place_it_is_from(
    challenge, classroom, team, client
) -> None:
    first = play_round(challenge, team)
    write(challenge, first.iteration, WORDS)
    play_round(
        challenge, team, 2, radius="7 1/2", across=("15", "15"), noticing="Ours took longer than before."
    )
    page = client.get(url(classroom, query=f"?at=t{team.pk}")).text
    for words in (
        WORDS["purpose"],
        "Idea A",
        WORDS["why"],
        "Changed: Canopy radius",
        "3 of 3 drops count",
        "6 of 6 sizes measured",
        "Ours took longer than before.",
        "Beyond the grade, not graded",
    ):
        assert words in page, words
    work = reverse("design_challenges:team_work", args=[classroom.code, team.pk])
    for anchor in ("plan-1", "drops-2", "build-1", "sums-1"):
        assert f"{work}#{anchor}" in page
        assert f'id="{anchor}"' in client.get(work).text


def test_a_childs_own_evidence_is_the_exit_question_and_what_its_teacher_saw(
    challenge, classroom, team, client
) -> None:
    student = team.members.first().student
    play_round(challenge, team)
    evidence.ask(challenge, "rounded_1")
    question = evidence.open_question(challenge)
    assert question is not None
    from design_challenges.models import ExitAnswer, SawIt

    ExitAnswer.objects.create(question=question, student=student, typed="3.4", value="3.4", right=True)
    SawIt.objects.create(class_challenge=challenge, student=student, step="material", saw=True)
    SawIt.objects.create(class_challenge=challenge, student=student, step="area", saw=True)
    page = client.get(url(classroom, "marking_evidence", f"?at=s{student.pk}:decimals")).text
    assert "Exit question, right" in page
    assert "3.4" in page
    assert "You saw this child do it: Material used" in page
    assert "Canopy area" not in page, "a circle is no evidence of decimals"
    other = team.members.last().student
    page = client.get(url(classroom, "marking_evidence", f"?at=s{other.pk}:decimals")).text
    assert "Exit question" not in page.replace("the exit question", "")


def test_evidence_of_nobody_is_not_found(classroom, client) -> None:
    for at in ("t99999", "s1x", "q1"):
        assert client.get(url(classroom, "marking_evidence", f"?at={at}")).status_code == 404


def test_late_and_a_comment_are_kept_and_renewed_by_a_new_row(challenge, classroom, team, client) -> None:
    student = team.members.first().student
    for comment in ("Well drawn.", "Well drawn, and late."):
        body = {"at": f"s{student.pk}", "comment": comment, "late": "on", "entry_id": str(uuid.uuid4())}
        answer = client.post(url(classroom, "marking_remark"), body, headers={"HX-Request": "true"})
        assert answer.status_code == 200
        assert "Saved." in answer.text
    assert Remark.objects.count() == 2
    page = client.get(url(classroom, query=f"?at=s{student.pk}")).text
    assert "Well drawn, and late." in page
    long = client.post(url(classroom, "marking_remark"), {"at": f"s{student.pk}", "comment": "x" * 1001})
    assert long.status_code == 422
    assert client.post(url(classroom, "marking_remark"), {"at": "s99999", "comment": "x"}).status_code == 404


# --- the rubric --------------------------------------------------------------------------------------


def form_of(page: str) -> dict[str, str]:
    """Return the fields of the rubric's form as a browser would send them."""
    fields = dict(re.findall(r'<input type="(?:text|hidden)" name="(c-[^"]+)" value="([^"]*)"', page))
    for name, text in re.findall(r'<textarea name="(c-[^"]+)"[^>]*>\s*([^<]*)</textarea>', page):
        fields[name] = text
    for name, options in re.findall(r'<select name="(c-[^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else ""
    return fields


def test_a_teacher_changes_words_and_weights_adds_a_criterion_and_leaves_one_out(
    challenge, classroom, team, client
) -> None:
    fields = form_of(client.get(url(classroom, "rubric_change")).text)
    assert fields["c-INITIAL_FORMS"] == "10"
    own = {
        "c-10-title": "Works as a team",
        "c-10-short": "Team",
        "c-10-weight": "2",
        "c-10-codes": "SCHOOL-7",
        **{f"c-10-level_{level}": f"Level {level} of it" for level in range(1, 5)},
    }
    fields |= {"c-0-title": "Names the limits", "c-0-weight": "4", "c-1-remove": "on", **own}
    answer = client.post(url(classroom, "rubric_change"), fields, follow=True)
    assert "The rubric is saved." in answer.text
    rubric = challenge.rubrics.order_by("-version").first()
    criteria = {one.key: one for one in rubric.criteria.all()}
    assert "ideas" not in criteria
    assert (criteria["limits"].title, criteria["limits"].weight) == ("Names the limits", 4)
    assert criteria["works-as-a-team"].level_3 == "Level 3 of it"
    assert "SCHOOL-7" in answer.text
    page = client.get(url(classroom)).text
    assert f'name="t{team.pk}:works-as-a-team"' in page


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("c-0-weight", "21", "A weight is at most 20."),
        ("c-0-weight", "two", "Type a whole number from 0 to 20."),
        ("c-0-title", "", "Say in a few words what is looked at."),
        ("c-3-level_2", "", "Say in plain words what this level looks like."),
    ],
)
def test_a_rubric_with_a_mistake_is_not_saved_and_says_what_to_mend(
    challenge, classroom, client, field, text, said
) -> None:
    fields = form_of(client.get(url(classroom, "rubric_change")).text) | {field: text}
    answer = client.post(url(classroom, "rubric_change"), fields)
    assert answer.status_code == 422
    assert said in answer.text
    assert f'href="#id_{field}"' in answer.text
    assert challenge.rubrics.count() == 1


def test_a_rubric_of_which_nothing_is_graded_is_not_saved(challenge, classroom, client) -> None:
    fields = form_of(client.get(url(classroom, "rubric_change")).text)
    fields |= {name: "0" for name in fields if name.endswith("-weight") and fields[name]}
    answer = client.post(url(classroom, "rubric_change"), fields)
    assert answer.status_code == 422
    assert "at least one criterion a weight" in answer.text


def test_a_rubric_is_kept_and_begun_with_in_another_class(challenge, classroom, client) -> None:
    assert client.post(url(classroom, "rubric_keep"), {"name": " "}).status_code == 422
    client.post(url(classroom, "rubric_keep"), {"name": "My grade 5"})
    kept = Rubric.objects.get(owner=teacher_of(classroom))
    other = make_class(1, teacher=teacher_of(classroom), name="Room 6")
    make_challenge(other)
    assert "My grade 5" in client.get(url(other)).text
    client.post(url(other, "rubric_begin"), {"start": f"kept-{kept.pk}"})
    assert other.challenges.get().rubrics.get().name == "My grade 5"
    stranger = make_class(1, name="Room 7")
    make_challenge(stranger)
    refused = teacher_client(stranger).post(url(stranger, "rubric_begin"), {"start": f"kept-{kept.pk}"})
    assert refused.status_code == 422


# --- second marking ----------------------------------------------------------------------------------


def test_a_colleague_marks_without_seeing_the_first_marks(challenge, classroom, team, client) -> None:
    give(challenge, teacher_of(classroom), **{f"t{team.pk}__limits": "3"})
    colleague = make_teacher("colleague")
    Membership.objects.create(user=colleague, classroom=classroom, role="colleague")
    other = Client()
    other.force_login(colleague)
    page = other.get(url(classroom, query="?second=yes")).text
    assert not re.search(r'name="t\d+:limits" value="3"', page)
    body = {"do": "give", "second": "yes", "mark": f"t{team.pk}:limits 4", "entry_id": str(uuid.uuid4())}
    assert other.post(url(classroom), body).status_code == 200
    assert levels(challenge, "Ana")["limits"] == "3"
    agreement = client.get(url(classroom, "marking_agreement")).text
    assert "0 of 1 mark" in agreement
    assert "1 one level apart" in agreement


def test_a_page_costs_as_many_queries_at_12_teams_as_at_2(db, django_assert_max_num_queries) -> None:
    for teams in (2, 12):
        challenge = make_marked_class(teams)
        classroom = challenge.classroom
        client = teacher_client(classroom)
        team = classroom.teams.first()
        play_round(challenge, team)
        give(challenge, teacher_of(classroom), **{f"t{team.pk}__limits": "3"})
        for query in ("", f"?at=t{team.pk}", f"?at=s{team.members.first().student_id}"):
            with django_assert_max_num_queries(20):
                assert client.get(url(classroom, query=query)).status_code == 200
