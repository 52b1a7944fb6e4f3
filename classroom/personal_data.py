"""What is stored of a person: every such column of the database, what it is, how long it stays, how it goes.

The privacy page shows it; a test holds every column of every table against it, so that none is forgotten.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

UNTIL_ERASED = _("Until you erase the child or the class.")
WITH_THE_CHILD = _("Goes when the child is erased, from the child’s own page.")
WITH_THE_CLASS = _(
    "Goes when the class is erased. When a child is erased, its name goes out of the texts you tick."
)


@dataclass(frozen=True)
class Stored:
    """One sort of personal data.

    columns     as app.Model.column
    about       "child" or "adult"
    """

    title: _StrPromise
    what: _StrPromise
    how_long: _StrPromise
    goes: _StrPromise
    columns: tuple[str, ...]
    about: str = "child"


STORED = (
    Stored(
        _("The child’s name"),
        _(
            "A first name and an initial; where a roster file had one, the number by which your school knows "
            "the child. No family name, birthday, address, e-mail address or password."
        ),
        UNTIL_ERASED,
        WITH_THE_CHILD,
        ("classroom.Student.given_name", "classroom.Student.initial", "classroom.Student.source_id"),
    ),
    Stored(
        _("Class, team and lessons"),
        _("In which class and team the child was in each round, and in which lessons it was there."),
        UNTIL_ERASED,
        WITH_THE_CHILD,
        (
            "classroom.Classroom.name",
            "classroom.RosterSource.source_id",
            "classroom.RosterSource.school_source_id",
            "classroom.RosterSource.session_source_id",
            "classroom.Team.name",
            "classroom.TeamMember.student",
            "classroom.Attendance.student",
            "classroom.Lesson.report",
        ),
    ),
    Stored(
        _("The team’s work"),
        _(
            "What the team typed: sizes, sums, readings and sentences, with the time. It is the team’s, not "
            "one child’s; where two children read a size each, it says which child read it."
        ),
        UNTIL_ERASED,
        WITH_THE_CLASS,
        (
            "design_challenges.Submission.body",
            "design_challenges.Submission.answer",
            "design_challenges.Measurement.typed",
            "design_challenges.Measurement.student",
            "design_challenges.Note.text",
            "design_challenges.Working.typed",
            "design_challenges.Working.value",
            "design_challenges.Working.slips",
            "design_challenges.Clearance.reason",
            "design_challenges.Judgement.note",
        ),
    ),
    Stored(
        _("Drawings"),
        _(
            "Photos and sketches of a team’s drawing, as files. They are made small when they arrive; where "
            "and when a photo was taken is thrown away."
        ),
        UNTIL_ERASED,
        WITH_THE_CLASS,
        ("design_challenges.Photo.digest",),
    ),
    Stored(
        _("What one child can do alone"),
        _("The child’s answer to an exit question, and what a teacher noted to have seen."),
        UNTIL_ERASED,
        WITH_THE_CHILD,
        (
            "design_challenges.ExitAnswer.student",
            "design_challenges.ExitAnswer.typed",
            "design_challenges.ExitAnswer.value",
            "design_challenges.ExitAnswer.slips",
            "design_challenges.SawIt.student",
        ),
    ),
    Stored(
        _("Marks and remarks"),
        _("The level a teacher gave and the remark written for a child or a team."),
        UNTIL_ERASED,
        WITH_THE_CHILD,
        (
            "design_challenges.Mark.student",
            "design_challenges.Remark.student",
            "design_challenges.Remark.comment",
        ),
    ),
    Stored(
        _("Teachers’ accounts"),
        _(
            "A user name and the digest of a password, the classes an account may open, and which account "
            "entered or changed something. Name and e-mail fields exist and stay empty."
        ),
        _("Until the account is deleted; what was entered stays, without the name."),
        _("Whoever looks after this computer deletes the account, with manage.py shell."),
        (
            "auth.User.username",
            "auth.User.password",
            "auth.User.first_name",
            "auth.User.last_name",
            "auth.User.email",
            "classroom.Membership.user",
        ),
        "adult",
    ),
    Stored(
        _("Who is signed in"),
        _(
            "Tablets and browsers that are let in, by the digest of a token, with the time they were last "
            "seen; and, of wrong codes and passwords, digests of the address they came from."
        ),
        _("A browser’s session 12 hours, a tablet’s place a school day, wrong tries a day."),
        _("Goes by itself. A team’s new code signs all its tablets out at once."),
        (
            "sessions.Session.session_key",
            "sessions.Session.session_data",
            "classroom.Device.token_hash",
            "classroom.WrongTry.who",
            "classroom.WrongTry.what",
        ),
        "adult",
    ),
)
PERSONAL = frozenset(column for stored in STORED for column in stored.columns)

NOT_PERSONAL = frozenset(
    {
        # words of ours, of the kind of challenge, or of the teacher's about the task
        "auth.Group.name",
        "auth.Permission.codename",
        "auth.Permission.name",
        "contenttypes.ContentType.app_label",
        "contenttypes.ContentType.model",
        "classroom.Installation.time_zone",
        "classroom.Installation.addresses",
        "classroom.Installation.addresses_before",
        "classroom.StationPass.kind",
        "design_challenges.ChallengeSettings.values",
        "design_challenges.ClassChallenge.board_hidden",
        "design_challenges.ClassChallenge.kind",
        "design_challenges.Clearance.figure",
        "design_challenges.Clearance.figure_from",
        "design_challenges.Clearance.limit",
        "design_challenges.Clearance.plan",
        "design_challenges.Criterion.codes",
        "design_challenges.Criterion.evidence",
        "design_challenges.Criterion.key",
        "design_challenges.Criterion.level_1",
        "design_challenges.Criterion.level_2",
        "design_challenges.Criterion.level_3",
        "design_challenges.Criterion.level_4",
        "design_challenges.Criterion.short",
        "design_challenges.Criterion.title",
        "design_challenges.ExitQuestion.step",
        "design_challenges.Mark.criterion",
        "design_challenges.MarkColumns.columns",
        "design_challenges.Measurement.quantity",
        "design_challenges.Measurement.unit",
        "design_challenges.Rubric.name",
        "design_challenges.SawIt.step",
        "design_challenges.Submission.body_hash",
        "design_challenges.Working.basis",
        "design_challenges.Working.step",
        # codes and digests that name nobody
        "classroom.Classroom.code",
        "classroom.Installation.first_teacher_token_hash",
        "classroom.StationPass.token_hash",
        "classroom.SubstitutePass.token_hash",
        "classroom.Team.code",
    }
)
"""Columns of text that hold nothing about a person."""
