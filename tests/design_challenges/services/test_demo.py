"""The invented class: who is in it, where each team stands, and that it enters by the pages' own doors."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker

from classroom.models import Attendance, Classroom, Device, Installation, Lesson, Student
from design_challenges.models import (
    Clearance,
    Drop,
    HelpCall,
    Judgement,
    Measurement,
    Note,
    Reading,
    Revision,
    Submission,
    Working,
)
from design_challenges.services import physics, progress
from design_challenges.services.demo import load_demo
from design_challenges.services.measuring import build_measuring
from design_challenges.services.plan_flow import idea_inside
from design_challenges.services.readiness import judge_material
from design_challenges.services.record_types import ClassRecord, RoundRecord
from design_challenges.services.records import find_challenge, load_class
from design_challenges.services.units import METRIC, US, UnitSystem

SYSTEMS = [US, METRIC]


def demo_class() -> ClassRecord:
    challenge = find_challenge(Classroom.objects.get())
    assert challenge is not None
    return load_class(challenge)


def standing(klass: ClassRecord) -> dict[str, RoundRecord]:
    return {team.team.name: team.rounds[2] for team in klass.teams}


@pytest.fixture(scope="module", params=SYSTEMS, ids=lambda system: system.slug)
def system(
    request: pytest.FixtureRequest, django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[UnitSystem]:
    """The measuring system of a demo class, made once for all tests here and taken back at the end."""
    with django_db_blocker.unblock(), transaction.atomic():
        load_demo(unit_system=request.param.slug)
        yield request.param
        transaction.set_rollback(True)


def test_it_is_eight_teams_of_children_with_a_given_name_and_an_initial(system: UnitSystem) -> None:
    klass = demo_class()
    assert len(klass.teams) == 8
    students = list(Student.objects.all())
    assert len(students) == 28
    assert all(student.given_name and len(student.initial) == 1 for student in students)
    assert sorted(len(team.members(1)) for team in klass.teams) == [3, 3, 3, 3, 4, 4, 4, 4]
    assert Installation.get().demo


def test_every_team_has_finished_round_1(system: UnitSystem) -> None:
    for team in demo_class().teams:
        assert progress.next_step(team.rounds[1]) is None
        assert team.rounds[1].figure is not None


def test_in_round_2_the_teams_stand_at_different_steps(system: UnitSystem) -> None:
    at = {name: progress.next_step(record) for name, record in standing(demo_class()).items()}
    assert at == {
        "Sea Glass": None,
        "Kelp Flyers": None,
        "Tide Riders": "test",
        "The Limpets": "results",
        "Gull Patrol": "build",
        "Foghorns": "ready",
        "Driftwood": "plan",
        "Lantern Crew": "compare",
    }


def test_what_a_teacher_must_see_is_in_it(system: UnitSystem) -> None:
    klass = demo_class()
    rounds = standing(klass)
    assert [work.step for work in progress.stuck_steps(rounds["The Limpets"])] == ["mean"]
    assert rounds["Tide Riders"].voids == 1
    assert rounds["Lantern Crew"].opened_count == 2
    over = judge_material(rounds["Foghorns"])
    assert over is not None
    assert not over.within
    clearance = rounds["Gull Patrol"].clearance
    assert clearance is not None
    assert (clearance.by, bool(clearance.reason)) == ("teacher", True)
    assert [team.team.name for team in klass.teams if team.help_since] == ["Driftwood"]
    assert HelpCall.objects.count() == 1
    assert Reading.objects.filter(judgements__reason=Judgement.Reason.CORRECTED).count() == 1
    assert all(klass.is_open(team.team.pk, 2, "plan") for team in klass.teams)


def test_sizes_are_measured_twice_and_a_teacher_sees_that_it_gets_better(system: UnitSystem) -> None:
    klass = demo_class()
    found = build_measuring(klass)
    assert found.twice
    assert all("The pairs came closer." in row.sentence for row in found.closeness)
    assert [(one.team.name, one.pair.points_to) for one in found.waiting] == [
        ("Gull Patrol", "one whole unit apart")
    ]
    readers = Measurement.objects.exclude(turn=0).values_list("student__given_name", "iteration__number")
    assert len(set(readers)) == 2 * (8 + 6)
    assert not set(readers) & {("Omar", 1), ("Elsie", 2), ("Bao", 2)}, "they were away"


def test_one_lesson_is_over_and_one_is_on(system: UnitSystem) -> None:
    first, second = Lesson.objects.order_by("number")
    assert first.ended_at is not None
    assert len(first.report["places"]) == 8
    assert second.ended_at is None
    assert Classroom.objects.get().joining_open
    assert first.started_at < first.ended_at < second.started_at
    assert Attendance.objects.filter(lesson=first).count() == 28
    assert Attendance.objects.filter(lesson=second, present=False).count() == 2
    assert Device.objects.filter(revoked_at__isnull=True).count() == 8


def test_children_say_only_what_is_so(system: UnitSystem) -> None:
    """Which ideas are inside the limit, and slower or faster, hold for the numbers of this seed."""
    for team in demo_class().teams:
        first = team.rounds[1]
        inside = {letter for letter in ("a", "b") if idea_inside(first, letter)}
        assert first.notes["meets_limit"].text == ("both" if len(inside) == 2 else "".join(inside))
        change = team.change()
        if change is not None:
            said = team.rounds[2].notes.get("direction")
            wanted = "same" if change == 0 else "slower" if change < 0 else "faster"
            assert said is None or said.text == wanted
    rounds = standing(demo_class())
    wider, longer = rounds["Sea Glass"], rounds["Kelp Flyers"]
    assert wider.before is not None
    assert longer.before is not None
    assert wider.figure is not None
    assert wider.before.figure is not None
    assert wider.figure < wider.before.figure, "they noticed that theirs got slower"
    exact = [record.results for record in (longer, longer.before)]
    assert exact[0] is not None
    assert exact[1] is not None
    times = [drop.reading.seconds for drop in longer.counting if drop.reading]
    assert float(max(times) - min(times)) > abs(exact[0].exact_time_s - exact[1].exact_time_s)


def test_readings_obey_the_physics(system: UnitSystem) -> None:
    for team in demo_class().teams:
        for record in team.rounds.values():
            least = record.kind.fastest_possible_s(record.values)
            for drop in record.counting:
                assert drop.reading is not None
                assert float(drop.reading.seconds) > least
            if record.results is None or record.opened_count < len(record.counting):
                continue
            assert 0.3 < drag_coefficient(record, system) < 0.95
            assert 1.9 < record.results.exact_time_s < 4.5


def drag_coefficient(record: RoundRecord, system: UnitSystem) -> float:
    """The drag coefficient that the readings give, with the load, a thin bag's film and the lines falling."""
    assert record.results is not None
    height_m = float(Fraction(record.values["drop_height"]) * system.height.metres)
    speed = physics.terminal_speed_m_s(height_m, record.results.exact_time_s)
    diameter, line = record.variable("canopy_diameter"), record.variable("line_length")
    assert diameter is not None
    assert line is not None
    area_m2 = 3.14159 * float(diameter * system.length.metres) ** 2 / 4
    mass_kg = 0.006 + 0.02 * area_m2 + 0.0005 * 4 * float(line * system.length.metres)
    return physics.drag_coefficient(mass_kg, 1.225, area_m2, speed)


def test_every_row_came_with_an_entry_and_every_entry_raised_the_revision(system: UnitSystem) -> None:
    for model in (Measurement, Note, Working, Drop, Reading, Judgement, Clearance):
        assert model.objects.exists()
        assert not model.objects.filter(submission__isnull=True).exists()
    assert set(Submission.objects.values_list("outcome", flat=True)) == {"saved"}
    # Round 2 was opened, help asked for, a rubric chosen; two lessons began, one ended, two roll calls.
    switches = 3 + 5
    assert Revision.objects.get().number == Submission.objects.count() + switches
