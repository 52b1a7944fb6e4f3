"""Marks: a team's level that its children take over, a child's own, excused and away, totals, undo."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.models import AppendOnlyError, Attendance, Classroom, Lesson, Membership, TeamMember
from design_challenges.models import ClassChallenge, Mark, Measurement, Rubric, Submission
from design_challenges.services.marking import giving, rubrics
from design_challenges.services.marking.agreement import agreement
from design_challenges.services.marking.away import find_away
from design_challenges.services.marking.both import compare_markers, shown_kappa, shown_percent
from design_challenges.services.marking.page import load_alone, look_at, rows_of
from design_challenges.services.marking.usual import usual_rubric
from design_challenges.services.marks import load_marks
from design_challenges.services.records import load_class
from tests.builders import make_challenge, make_class, make_teacher, play_round
from tests.support.marked_classes import give, levels, make_marked_class, marks_of, teacher_of


@pytest.fixture
def challenge(db: None) -> ClassChallenge:
    return make_marked_class(2)


@pytest.fixture
def classroom(challenge: ClassChallenge) -> Classroom:
    return challenge.classroom


@pytest.fixture
def teacher(classroom):
    return teacher_of(classroom)


@pytest.fixture
def team(classroom):
    return classroom.teams.get(place=1)


@pytest.fixture
def ana(team):
    return team.members.get(student__given_name="Ana").student


def total(challenge: ClassChallenge, student) -> Decimal | None:
    marks = marks_of(challenge)
    return marks.total(next(child for child in marks.children if child.student == student)).percent


# --- what stands -------------------------------------------------------------------------------------


def test_nothing_is_a_grade_until_a_teacher_gives_it(challenge, team) -> None:
    play_round(challenge, team)
    marks = marks_of(challenge)
    assert any(cell.suggested for row in rows_of(marks) for cell in row.cells)
    assert Mark.objects.count() == 0
    for child in marks.children:
        assert marks.total(child).percent is None
        assert all(marks.standing(child, criterion).text == "" for criterion in marks.graded)


def test_children_take_over_their_teams_level_until_they_have_one(challenge, teacher, team, ana) -> None:
    give(challenge, teacher, **{f"t{team.pk}__limits": "3"})
    assert levels(challenge, "Ana")["limits"] == levels(challenge, "Bo")["limits"] == "3"
    give(challenge, teacher, **{f"s{ana.pk}__limits": "4"})
    assert (levels(challenge, "Ana")["limits"], levels(challenge, "Bo")["limits"]) == ("4", "3")
    give(challenge, teacher, **{f"s{ana.pk}__limits": ""})
    assert levels(challenge, "Ana")["limits"] == "3"


def test_a_mark_is_added_and_never_changed(challenge, teacher, team) -> None:
    give(challenge, teacher, **{f"t{team.pk}__limits": "3"})
    give(challenge, teacher, **{f"t{team.pk}__limits": "2"})
    assert [mark.level for mark in Mark.objects.all()] == [3, 2]
    row = Mark.objects.first()
    row.level = 4
    with pytest.raises(AppendOnlyError):
        row.save()
    with pytest.raises(AppendOnlyError):
        Mark.objects.all().delete()


def test_marks_sent_twice_count_once(challenge, teacher, team) -> None:
    marks = marks_of(challenge)
    wanted = [giving.read_mark(f"t{team.pk}:limits", "3", marks)]
    entry = uuid.uuid4()
    for _ in range(2):
        giving.give(marks, wanted, teacher, entry)
    assert Mark.objects.count() == 1
    assert Submission.objects.filter(entry_id=entry).count() == 1


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ("t1:limits", "5"),
        ("t1:limits", "0"),
        ("t1:limits", "three"),
        ("t1:nothing", "3"),
        ("t1:mean", "3"),  # shown, not graded
        ("t99999:limits", "3"),
        ("s99999:limits", "3"),
        ("q1:limits", "3"),
        ("t:limits", "3"),
        ("limits", "3"),
        ("t٣:limits", "3"),
        ("t" + "1" * 30 + ":limits", "3"),
    ],
)
def test_what_is_no_mark_or_no_place_is_refused(challenge, team, place, text) -> None:
    place = place.replace("t1:", f"t{team.pk}:")
    with pytest.raises(giving.BadMark):
        giving.read_mark(place, text, marks_of(challenge))


def test_another_classs_team_cannot_be_marked(challenge) -> None:
    other = make_class(1, name="Room 6")
    with pytest.raises(giving.BadMark):
        giving.read_mark(f"t{other.teams.get().pk}:limits", "3", marks_of(challenge))


def test_the_database_refuses_what_is_no_mark(challenge, team, ana) -> None:
    common = {"class_challenge": challenge, "rubric": challenge.rubrics.get(), "criterion": "limits"}
    for wrong in ({"team": team, "level": 5}, {"team": team, "student": ana}, {}, {"team": team, "level": 0}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Mark.objects.create(**common, **wrong)
    with pytest.raises(IntegrityError), transaction.atomic():
        Mark.objects.create(**common, team=team, level=2, excused=True)


# --- totals ------------------------------------------------------------------------------------------


def test_a_total_weighs_what_has_a_level_and_leaves_excused_out(challenge, teacher, ana) -> None:
    drafts = usual_rubric(5)
    heavy = [*drafts[:1], *drafts[1:]]
    heavy[0] = type(drafts[0])(**{**drafts[0].__dict__, "weight": 3})
    rubrics.save_version(challenge, "Ours", 5, heavy, teacher)
    key = f"s{ana.pk}__"
    give(challenge, teacher, **{f"{key}limits": "4", f"{key}ideas": "1", f"{key}fair_test": "x"})
    # 3 × 4 + 1 × 1 of 3 × 4 + 1 × 4
    assert total(challenge, ana) == Decimal("81.3")
    marks = marks_of(challenge)
    child = next(child for child in marks.children if child.student == ana)
    assert (marks.total(child).points, marks.total(child).of, marks.total(child).missing) == (13, 16, 3)


def test_a_total_rounds_half_up(challenge, teacher, ana) -> None:
    key = f"s{ana.pk}__"
    give(challenge, teacher, **{f"{key}limits": "1", f"{key}ideas": "2", f"{key}fair_test": "3"})
    marks = marks_of(challenge)
    child = next(child for child in marks.children if child.student == ana)
    assert Fraction(100 * marks.total(child).points, marks.total(child).of) == 50
    give(challenge, teacher, **{f"{key}measuring": "4", f"{key}decimals": "4"})
    # 14 of 20
    assert total(challenge, ana) == Decimal("70.0")
    give(challenge, teacher, **{f"{key}decimals": "x", f"{key}measuring": "3"})
    # 9 of 16 is 56.25, which half-even would make 56.2
    assert total(challenge, ana) == Decimal("56.3")


# --- rounds a child was away for ---------------------------------------------------------------------


def _lesson(classroom, number, start, end):
    return Lesson.objects.create(classroom=classroom, number=number, started_at=start, ended_at=end)


@pytest.fixture
def two_lessons(classroom):
    """Two lessons: one over, one that has begun since."""
    now = timezone.now()
    first = _lesson(classroom, 1, now - timedelta(days=2), now - timedelta(days=1))
    second = _lesson(classroom, 2, now - timedelta(minutes=1), None)
    return first, second


def _in_lesson(team, number, at) -> None:
    """Move what a team entered in a round into a lesson."""
    for model in ("measurements", "notes", "workings", "drops"):
        iteration = team.iterations.get(number=number)
        getattr(iteration, model).model._base_manager.filter(iteration=iteration).update(made_at=at)


def test_a_round_that_a_child_was_absent_for_is_not_counted(
    challenge, classroom, teacher, team, ana, two_lessons
) -> None:
    first, _second = two_lessons
    play_round(challenge, team, 1)
    _in_lesson(team, 1, first.started_at + timedelta(hours=1))
    play_round(challenge, team, 2, radius="7 1/2", across=("15", "15"))
    Attendance.objects.create(lesson=first, student=ana, present=False)
    assert find_away(challenge) == {ana.pk: frozenset({(team.pk, 1)})}
    give(challenge, teacher, **{f"t{team.pk}__limits": "3", f"t{team.pk}__explaining": "2"})
    # Limits are round 1's alone: nothing of it is Ana's. Explaining goes on in round 2.
    assert levels(challenge, "Ana")["limits"] == "x"
    assert levels(challenge, "Ana")["explaining"] == "2"
    assert levels(challenge, "Bo")["limits"] == "3"
    assert total(challenge, ana) == Decimal("50.0")
    marks = marks_of(challenge)
    child = next(child for child in marks.children if child.student == ana)
    assert [record.number for record in marks.rounds_of(child)] == [2]
    looked = look_at(marks, "s", ana.pk, {}, only="explaining")
    assert looked is not None
    assert looked.away == [1]
    assert {piece.round for piece in looked.sections[0].pieces} == {2}
    # What the teacher gives the child itself stands all the same.
    give(challenge, teacher, **{f"s{ana.pk}__limits": "2"})
    assert levels(challenge, "Ana")["limits"] == "2"


def test_a_child_that_was_there_in_one_of_a_rounds_lessons_had_a_part_in_it(
    challenge, team, ana, two_lessons
) -> None:
    first, second = two_lessons
    play_round(challenge, team, 1)
    start = first.started_at + timedelta(hours=1)
    Measurement._base_manager.filter(iteration__team=team).update(made_at=start)
    Attendance.objects.create(lesson=first, student=ana, present=False)
    Attendance.objects.create(lesson=second, student=ana, present=True)
    assert find_away(challenge) == {}


def test_a_child_that_moved_has_the_rounds_of_the_team_it_was_in(challenge, classroom, team, ana) -> None:
    other = classroom.teams.get(place=2)
    play_round(challenge, team, 1)
    play_round(challenge, other, 1)
    play_round(challenge, other, 2, radius="7 1/2", across=("15", "15"))
    TeamMember.objects.create(student=ana, team=other, from_round=2)
    marks = marks_of(challenge)
    child = next(child for child in marks.children if child.student == ana)
    assert child.team is not None
    assert child.team.team == other
    assert [record.iteration.team_id for record in marks.rounds_of(child)] == [team.pk, other.pk]


# --- undo --------------------------------------------------------------------------------------------


def undo(challenge, user, **options):
    return giving.undo(marks_of(challenge), user, uuid.uuid4(), **options)


def test_undo_is_a_row_of_its_own_and_goes_back_one_mark_after_another(challenge, teacher, team) -> None:
    place = f"t{team.pk}__limits"
    for text in ("2", "3", "x"):
        give(challenge, teacher, **{place: text})
    for expected in ("3", "2", ""):
        undone = undo(challenge, teacher)
        assert undone is not None
        assert undone.text == expected
        assert levels(challenge, "Ana")["limits"] == expected
    assert undo(challenge, teacher) is None
    assert Mark.objects.count() == 6
    give(challenge, teacher, **{place: "4"})
    assert undo(challenge, teacher).text == ""


def test_undo_leaves_alone_what_somebody_else_gave_since(challenge, classroom, teacher, team) -> None:
    colleague = make_teacher("colleague")
    Membership.objects.create(user=colleague, classroom=classroom, role="colleague")
    give(challenge, teacher, **{f"t{team.pk}__ideas": "1"})
    give(challenge, teacher, **{f"t{team.pk}__limits": "2"})
    give(challenge, colleague, **{f"t{team.pk}__limits": "4"})
    undone = undo(challenge, teacher)
    assert undone is not None
    assert undone.place[2] == "ideas"
    assert levels(challenge, "Ana")["limits"] == "4"


def test_an_undo_sent_twice_takes_back_one_mark(challenge, teacher, team) -> None:
    for key in ("limits", "ideas"):
        give(challenge, teacher, **{f"t{team.pk}__{key}": "2"})
    entry = uuid.uuid4()
    assert giving.undo(marks_of(challenge), teacher, entry) is not None
    assert giving.undo(marks_of(challenge), teacher, entry) is None
    assert (levels(challenge, "Ana")["limits"], levels(challenge, "Ana")["ideas"]) == ("2", "")


# --- a second marking --------------------------------------------------------------------------------


def test_a_second_marking_never_touches_a_grade(challenge, classroom, teacher, team, ana) -> None:
    colleague = make_teacher("colleague")
    give(challenge, teacher, **{f"t{team.pk}__limits": "3", f"s{ana.pk}__ideas": "4"})
    give(
        challenge,
        colleague,
        second=True,
        **{f"t{team.pk}__limits": "1", f"s{ana.pk}__ideas": "4", f"t{team.pk}__measuring": "2"},
    )
    assert levels(challenge, "Ana")["limits"] == "3"
    assert levels(challenge, "Ana")["measuring"] == ""
    compared = compare_markers(load_class(challenge))
    assert compared is not None
    assert (compared.whole.pairs, compared.whole.alike, compared.whole.one_apart) == (2, 1, 0)
    assert shown_percent(compared.whole) == "50"
    # Distances 2 and 0; by chance (2 × |3−1| + |3−4| + |4−1|) … = (2 + 1 + 3 + 0) / 4 a pair: 1 − 2·2/6
    assert compared.whole.kappa == Fraction(1, 3)
    assert shown_kappa(compared.whole) == "", "two marks carry no kappa"
    assert shown_kappa(agreement([(1, 1), (2, 2), (3, 4), (4, 3), (1, 2)] * 2)) == "0.52"
    assert compared.by_one == 0


def test_one_persons_two_markings_are_no_agreement(challenge, teacher, team) -> None:
    give(challenge, teacher, **{f"t{team.pk}__limits": "3"})
    give(challenge, teacher, second=True, **{f"t{team.pk}__limits": "3"})
    compared = compare_markers(load_class(challenge))
    assert compared is not None
    assert (compared.whole.pairs, compared.by_one) == (0, 1)
    assert shown_percent(compared.whole) == shown_kappa(compared.whole) == ""


# --- rubrics -----------------------------------------------------------------------------------------


def test_an_edit_is_a_new_version_and_marks_stay(challenge, teacher, team) -> None:
    give(challenge, teacher, **{f"t{team.pk}__limits": "3"})
    drafts = [rubrics.draft_of(one) for one in challenge.rubrics.get().criteria.all()]
    changed = type(drafts[0])(**{**drafts[0].__dict__, "title": "In our words", "weight": 2})
    saved = rubrics.save_version(challenge, "Ours", 5, [changed, *drafts[1:]], teacher)
    assert saved.version == 2
    assert levels(challenge, "Ana")["limits"] == "3"
    assert Mark.objects.get().rubric.version == 1
    again = rubrics.save_version(challenge, "Ours", 5, [changed, *drafts[1:]], teacher)
    assert again == saved, "the same once more is no version"


def test_a_rubric_is_kept_as_a_teachers_own_and_used_in_another_class(challenge, teacher) -> None:
    kept = rubrics.keep(challenge.rubrics.get(), teacher, "Mine")
    other = make_challenge(make_class(1, teacher=teacher, name="Room 6"))
    copied = rubrics.copy_rubric(other, kept, teacher)
    assert [one.title for one in copied.criteria.all()] == [one.title for one in kept.criteria.all()]
    rubrics.keep(challenge.rubrics.get(), teacher, "Mine")
    assert Rubric.objects.filter(owner=teacher).count() == 1
    assert list(rubrics.kept_by(make_teacher("stranger"))) == []


@pytest.mark.parametrize(
    ("grade", "graded"),
    [
        (3, ["limits", "ideas", "fair-test", "measuring", "explaining"]),
        (4, ["limits", "ideas", "fair-test", "measuring", "explaining"]),
        (5, ["limits", "ideas", "fair-test", "measuring", "decimals", "explaining"]),
        (6, ["limits", "ideas", "data", "again", "measuring", "decimals", "explaining"]),
    ],
)
def test_what_lies_beyond_a_grade_is_shown_and_not_graded(db, grade, graded) -> None:
    rubric = make_marked_class(1, grade=grade).rubrics.get()
    criteria = list(rubric.criteria.all())
    assert [one.key for one in criteria if one.graded] == graded
    shown = {one.key for one in criteria if not one.graded}
    assert {"circle-area", "mean", "rate", "scatter"} <= shown


def test_marks_are_read_in_a_fixed_number_of_queries(db, django_assert_max_num_queries) -> None:
    for teams in (2, 12):
        challenge = make_marked_class(teams)
        klass = load_class(challenge)
        with django_assert_max_num_queries(5):
            load_marks(klass)
        with django_assert_max_num_queries(2):
            load_alone(challenge, klass)
