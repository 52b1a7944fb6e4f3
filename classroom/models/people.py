"""Classes, who teaches them, students, teams and who was in which team from which round."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from classroom.codes import TEAM_CODE_LENGTH, make_class_code, make_team_code


class Classroom(models.Model):
    """A class as the school knows it."""

    name = models.CharField(_("class name"), max_length=60)
    code = models.CharField(max_length=12, unique=True, default=make_class_code, editable=False)
    joining_open = models.BooleanField(default=False)
    wrong_codes = models.PositiveIntegerField(
        default=0, help_text=_("Wrong team codes typed since joining was opened.")
    )
    archived_at = models.DateTimeField(null=True, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    # The revision of the class's challenge, set where the class was read for a page of its own (access).
    challenge_revision: int | None = None

    class Meta:
        ordering = ["name", "pk"]
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="classroom_has_a_name")]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    """What a signed-in adult may do in a class, and until when."""

    class Role(models.TextChoices):
        TEACHER = "teacher", _("Teacher")
        COLLEAGUE = "colleague", _("Colleague")

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.TEACHER)
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "classroom"], name="membership_once_a_class"),
        ]

    def __str__(self) -> str:
        return f"{self.user} · {self.classroom} · {self.role}"


class Student(models.Model):
    """A child: a given name and an initial, no more."""

    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="students")
    given_name = models.CharField(_("first name"), max_length=40)
    initial = models.CharField(_("initial"), max_length=3, blank=True, default="")
    source_id = models.CharField(max_length=100, blank=True, default="")
    left_at = models.DateTimeField(null=True, blank=True, help_text=_("When the child left the class."))
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["given_name", "initial", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(given_name=""), name="student_has_a_given_name"),
            models.UniqueConstraint(
                fields=["classroom", "source_id"],
                condition=~Q(source_id=""),
                name="student_source_id_once_a_class",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.given_name} {self.initial}." if self.initial else self.given_name


class Team(models.Model):
    """A team of a class; its code and the class code let a tablet in."""

    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="teams")
    name = models.CharField(_("team name"), max_length=24)
    code = models.CharField(max_length=12, default=make_team_code, editable=False)
    place = models.PositiveSmallIntegerField(default=0, help_text=_("The team's place in team order."))
    retired_at = models.DateTimeField(null=True, blank=True)
    merged_into = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="merged_from"
    )
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["place", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["classroom", "code"], name="team_code_once_a_class"),
            models.UniqueConstraint(
                fields=["classroom", "name"],
                condition=Q(retired_at__isnull=True),
                name="team_name_once_a_class",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="team_has_a_name"),
            models.CheckConstraint(
                condition=Q(merged_into__isnull=True) | ~Q(merged_into=F("pk")),
                name="team_not_merged_into_itself",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def has_old_code(self) -> bool:
        """Whether its code is an earlier version's, too short to let a tablet in."""
        return len(self.code) < TEAM_CODE_LENGTH


class TeamMember(models.Model):
    """A student's team from a round on; the latest row at or before a round says who was where.

    `team` is empty where the child is in no team from that round on. Moving and
    merging add rows, so that the record of earlier rounds stays as it was.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="team_places")
    team = models.ForeignKey(Team, null=True, blank=True, on_delete=models.CASCADE, related_name="members")
    from_round = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["from_round", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["student", "from_round"], name="student_in_one_team_a_round"),
            models.CheckConstraint(condition=Q(from_round__gte=1), name="team_member_from_round_1_on"),
        ]

    def __str__(self) -> str:
        return f"{self.student} · {self.team} · {self.from_round}"
