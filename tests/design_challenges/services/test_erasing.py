"""Erasing a child, a class, or what is old: what goes is nowhere any more, what stays is whole."""

from __future__ import annotations

import io
import json
import uuid
import zipfile
from datetime import timedelta

import pytest
from django.apps import apps
from django.contrib.auth import get_user_model
from django.db import models
from django.utils import timezone

from classroom.models import Classroom, Membership, Student, TeamMember
from design_challenges.models import (
    ExitAnswer,
    Mark,
    Measurement,
    Note,
    Photo,
    Reading,
    Remark,
    SawIt,
    Submission,
)
from design_challenges.services import evidence, saving
from design_challenges.services.entries import Sender, save_entry
from design_challenges.services.erasing.children import erase_child, mentions_of
from design_challenges.services.erasing.classes import erase_class, erase_old, find_old, owned_by
from design_challenges.services.erasing.copies import child_zip, class_zip
from design_challenges.services.erasing.graph import hanging_on
from design_challenges.services.lengths import parse_length
from design_challenges.services.lessons import save_attendance, start_lesson
from design_challenges.services.marking.rubrics import start_usual
from design_challenges.services.photos import photo_path
from design_challenges.services.units import INCH
from tests.support.two_classes import OneClass

pytestmark = pytest.mark.django_db
NAME = "Zuleikha"


@pytest.fixture
def school():
    """A class in which a child with an unusual name has left traces wherever a child can."""
    one = OneClass("Room 5", "ms-erase")
    child = one.team.members.order_by("pk").first().student
    child.given_name, child.source_id = NAME, "school-4711"
    child.save()
    one.child = child
    first = one.team.iterations.get(number=1)

    def enter(body, effect):
        def save(author):
            effect(author)
            return ""

        save_entry(one.challenge, Sender(), uuid.uuid4(), body, save)

    enter(
        {"student": [str(child.pk)], "canopy_diameter_1": ["14"]},
        lambda author: saving.save_size(
            first, "built", "canopy_diameter", parse_length("14", INCH), author, spot=1, student=child
        ),
    )
    enter(
        {"change_why": f"{NAME} says more air."},
        lambda author: saving.save_note(first, "why", f"{NAME} says more air.", author),
    )
    question = evidence.open_question(one.challenge)
    enter(
        {"exit": question.pk, "child": child.pk, "answer": "154"},
        lambda author: ExitAnswer.objects.create(
            question=question, student=child, typed="154", value="154", right=True, **author.fields()
        ),
    )
    rubric = start_usual(one.challenge, 5, one.teacher)
    enter(
        {"marks": [["student", child.pk, "limits", "3"]], "rubric": rubric.pk},
        lambda author: Mark.objects.create(
            class_challenge=one.challenge,
            rubric=rubric,
            criterion="limits",
            student=child,
            level=3,
            **author.fields(),
        ),
    )
    enter(
        {"remark_on": ["student", child.pk], "comment": f"{NAME} was careful."},
        lambda author: Remark.objects.create(
            class_challenge=one.challenge, student=child, comment=f"{NAME} was careful.", **author.fields()
        ),
    )
    return one


def erase(school, texts=True):
    mentions = {mention.key for mention in mentions_of(school.child)} if texts else ()
    erase_child(school.child, mentions)


def every_text():
    """Yield every value of every row of every table, as text."""
    for model in apps.get_models():
        for row in model._base_manager.values():
            yield model._meta.label, json.dumps(row, default=str, ensure_ascii=False)


def pointing_at(pk):
    """Yield what still points at a child, by model and field."""
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            to_child = isinstance(field, models.ForeignKey) and field.related_model is Student
            if to_child and model._base_manager.filter(**{field.name: pk}).exists():
                yield f"{model._meta.label}.{field.name}"


def test_nothing_of_an_erased_child_is_in_any_table(school):
    pk = school.child.pk
    assert {"design_challenges.Mark.student", "design_challenges.Measurement.student"} <= set(pointing_at(pk))
    erase(school)
    assert not Student.objects.filter(pk=pk).exists()
    assert list(pointing_at(pk)) == []
    left = [(label, text) for label, text in every_text() if NAME in text or "school-4711" in text]
    assert left == []
    for body in Submission._base_manager.values_list("body", flat=True):
        assert body.get("child") != pk
        assert body.get("student") not in (pk, str(pk), [str(pk)])
        assert ["student", pk, "limits", "3"] not in body.get("marks", [])


def test_the_teams_work_stays_without_the_name(school):
    before = {model: model._base_manager.count() for model in (Measurement, Reading, Note, Photo)}
    erase(school)
    assert {model: model._base_manager.count() for model in before} == before
    size = Measurement.objects.filter(stage="built", typed="14").order_by("-pk").first()
    assert size.student is None
    assert Note.objects.filter(text="… says more air.").exists()


def test_the_other_children_lose_nothing(school):
    others = Student.objects.exclude(pk=school.child.pk)
    before = {
        model: set(model._base_manager.filter(student__in=others).values_list("pk", flat=True))
        for model in (TeamMember, SawIt, Mark, ExitAnswer)
    }
    names = list(others.values_list("given_name", flat=True))
    erase(school)
    assert list(others.values_list("given_name", flat=True)) == names
    for model, rows in before.items():
        assert set(model._base_manager.values_list("pk", flat=True)) == rows


def test_a_text_that_is_not_ticked_stays_as_it_is(school):
    erase(school, texts=False)
    assert Note.objects.filter(text=f"{NAME} says more air.").exists()


def test_a_name_inside_another_word_is_no_mention(school):
    first = school.team.iterations.get(number=1)
    Note.objects.create(iteration=first, prompt="noticing", text=f"{NAME}s canopy, unlike {NAME}'s.")
    assert f"{NAME}s canopy, unlike {NAME}'s." in [one.text for one in mentions_of(school.child)]
    Note.objects.create(iteration=first, prompt="noticing", text=f"un{NAME}ly")
    assert f"un{NAME}ly" not in [one.text for one in mentions_of(school.child)]


def test_every_way_to_a_child_is_followed_and_none_protects_it():
    """A new model with a child in it is either erased with it or loses the link; nothing else will do."""
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, models.ForeignKey) and field.related_model is Student:
                on_delete = field.remote_field.on_delete
                assert on_delete in (models.CASCADE, models.SET_NULL), f"{model._meta.label}.{field.name}"


# --- a class -------------------------------------------------------------------------------------------


def test_nothing_of_an_erased_class_is_left_and_another_class_is_untouched(school):
    other = OneClass("Room 6", "mr-stays")
    kept = {model: hanging_on([other.classroom]).get(model, set()) for model in apps.get_models()}
    files = [photo_path(*row) for row in photos_of(school.classroom)]
    assert files
    assert all(path.exists() for path in files)
    code = school.classroom.code
    erase_class(school.classroom)
    assert not Classroom.objects.filter(code=code).exists()
    assert not any(path.exists() for path in files)
    assert [label for label, text in every_text() if NAME in text or code in text] == []
    for model, rows in kept.items():
        assert set(model._base_manager.filter(pk__in=rows).values_list("pk", flat=True)) == rows
    now = {model: model._base_manager.count() for model in kept if kept[model]}
    assert now == {model: len(rows) for model, rows in kept.items() if rows}
    assert all(photo_path(*row).exists() for row in photos_of(other.classroom))
    assert get_user_model().objects.filter(username="ms-erase").exists()


def photos_of(classroom):
    rows = Photo.objects.filter(iteration__class_challenge__classroom=classroom)
    return list(rows.values_list("uuid", "source"))


def test_erasing_what_is_old_takes_classes_not_used_since_and_children_who_left_before(school):
    long_ago = timezone.now() - timedelta(days=800)
    over = OneClass("Old room", "ms-old")
    Membership.objects.create(user=school.teacher, classroom=over.classroom)
    age(over.classroom, long_ago)
    gone = school.classroom.students.exclude(pk=school.child.pk).first()
    Student.objects.filter(pk=gone.pk).update(left_at=long_ago)
    old = find_old(owned_by(school.teacher), timezone.now() - timedelta(days=365))
    assert [one.classroom for one in old.classes] == [over.classroom]
    assert list(old.children) == [gone]
    erase_old(old)
    assert not Classroom.objects.filter(pk=over.classroom.pk).exists()
    assert not Student.objects.filter(pk=gone.pk).exists()
    assert Classroom.objects.filter(pk=school.classroom.pk).exists()


def test_one_entry_since_the_day_keeps_a_class(school):
    long_ago = timezone.now() - timedelta(days=800)
    age(school.classroom, long_ago)
    newest = Submission.objects.filter(class_challenge=school.challenge).order_by("-pk").first()
    Submission._base_manager.filter(pk=newest.pk).update(received_at=timezone.now())
    assert find_old(owned_by(school.teacher), timezone.now() - timedelta(days=365)).is_empty


def test_a_colleagues_and_anothers_classes_are_not_old_to_me(school):
    other = OneClass("Not mine", "mr-other")
    age(other.classroom, timezone.now() - timedelta(days=800))
    assert find_old(owned_by(school.teacher), timezone.now() - timedelta(days=365)).is_empty
    Membership.objects.create(user=school.teacher, classroom=other.classroom, role=Membership.Role.COLLEAGUE)
    assert other.classroom not in owned_by(school.teacher)


def age(classroom, when):
    """Make a class look as if it was last used at a time."""
    classroom.lessons.update(started_at=when, ended_at=when)
    Classroom.objects.filter(pk=classroom.pk).update(made_at=when)
    classroom.students.update(made_at=when)
    classroom.devices.update(last_seen_at=when)
    for challenge in classroom.challenges.all():
        Submission._base_manager.filter(class_challenge=challenge).update(received_at=when)
        versions = challenge.settings_versions.model._base_manager.filter(class_challenge=challenge)
        versions.update(made_at=when)


# --- copies --------------------------------------------------------------------------------------------


def test_the_copy_of_a_class_has_every_row_table_and_drawing(school):
    with zipfile.ZipFile(io.BytesIO(class_zip(school.classroom))) as folder:
        names = folder.namelist()
        told = json.loads(folder.read("everything.json"))
    assert {"gradebook.xlsx", "trials.csv", "results.csv"} <= set(names)
    assert [name for name in names if name.startswith("drawings/")]
    for model, rows in hanging_on([school.classroom]).items():
        assert len(told[model._meta.label]) == len(rows)
    assert "token_hash" not in json.dumps(told)


def test_the_copy_of_a_child_has_what_is_its_own(school):
    save_attendance(start_lesson(school.classroom, None), set())
    with zipfile.ZipFile(io.BytesIO(child_zip(school.child))) as folder:
        told = json.loads(folder.read("everything.json"))
    assert told["classroom.Student"][0]["given_name"] == NAME
    assert told["design_challenges.ExitAnswer"][0]["typed"] == "154"
    assert told["design_challenges.Remark"][0]["comment"] == f"{NAME} was careful."
    assert told["sizes read"][0]["typed"] == "14"
