"""The school's side of the database: classes, students, teams, lessons and who may come in."""

from __future__ import annotations

from classroom.models.append_only import AppendOnlyError, AppendOnlyModel, AppendOnlyQuerySet
from classroom.models.entrance import Device, StationPass, SubstitutePass
from classroom.models.lessons import Attendance, Lesson
from classroom.models.people import Classroom, Membership, Student, Team, TeamMember
from classroom.models.rosters import RosterSource
from classroom.models.site import Installation
from classroom.models.throttle import WrongTry

__all__ = [
    "AppendOnlyError",
    "AppendOnlyModel",
    "AppendOnlyQuerySet",
    "Attendance",
    "Classroom",
    "Device",
    "Installation",
    "Lesson",
    "Membership",
    "RosterSource",
    "StationPass",
    "Student",
    "SubstitutePass",
    "Team",
    "TeamMember",
    "WrongTry",
]
