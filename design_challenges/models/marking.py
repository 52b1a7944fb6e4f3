"""What a teacher marks by and the marks given: rubrics, levels, remarks; marks are added, never changed."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import Classroom, Student, Team
from design_challenges.models.challenge import ClassChallenge
from design_challenges.models.iteration import EntryRow

LEVELS = (1, 2, 3, 4)
HEAVIEST = 20


class Rubric(models.Model):
    """One version of a class challenge's rubric, or (where `owner` is set) one that a teacher keeps.

    A class's rubric is never changed in place: an edit adds a version, so that what a mark was
    given by can still be read. The newest version counts.
    """

    class_challenge = models.ForeignKey(
        ClassChallenge, null=True, blank=True, on_delete=models.CASCADE, related_name="rubrics"
    )
    version = models.PositiveSmallIntegerField(null=True, blank=True)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.CASCADE, related_name="rubrics"
    )
    name = models.CharField(_("name"), max_length=60)
    grade = models.PositiveSmallIntegerField(_("grade"))
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["version", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["class_challenge", "version"], name="rubric_version_once"),
            models.UniqueConstraint(
                fields=["owner", "name"], condition=Q(owner__isnull=False), name="kept_rubric_name_once"
            ),
            models.CheckConstraint(
                condition=Q(class_challenge__isnull=False, version__isnull=False, owner__isnull=True)
                | Q(class_challenge__isnull=True, version__isnull=True, owner__isnull=False),
                name="rubric_is_a_classs_or_a_teachers",
            ),
            models.CheckConstraint(condition=Q(grade__gte=3, grade__lte=6), name="rubric_grade_from_3_to_6"),
        ]

    def __str__(self) -> str:
        return self.name


class Criterion(models.Model):
    """One criterion of a rubric: what is looked at, its weight, and four levels in plain words.

    `key` stays the same from version to version, and marks go by it. Weight 0 means that it is shown
    and not graded. `evidence` names what is gathered beside it ("" for nothing).
    """

    rubric = models.ForeignKey(Rubric, on_delete=models.CASCADE, related_name="criteria")
    key = models.SlugField(max_length=40)
    place = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=60)
    short = models.CharField(max_length=24, help_text=_("What stands over its column."))
    weight = models.PositiveSmallIntegerField(default=1)
    level_1 = models.CharField(max_length=200)
    level_2 = models.CharField(max_length=200)
    level_3 = models.CharField(max_length=200)
    level_4 = models.CharField(max_length=200)
    codes = models.CharField(max_length=120, blank=True, default="", help_text=_("Standards, by blanks."))
    evidence = models.SlugField(max_length=20, blank=True, default="")

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(fields=["rubric", "key"], name="criterion_once_a_rubric"),
            models.CheckConstraint(condition=Q(weight__lte=HEAVIEST), name="criterion_weight_to_20"),
            models.CheckConstraint(condition=~Q(title=""), name="criterion_has_a_title"),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def graded(self) -> bool:
        return self.weight > 0

    @property
    def levels(self) -> tuple[tuple[int, str], ...]:
        """Return (level, words), the lowest first."""
        return tuple((level, str(getattr(self, f"level_{level}"))) for level in LEVELS)


class Mark(EntryRow):
    """A level given to a team or a child for a criterion; the newest row of a place is the one that counts.

    Without a level and not excused, a row takes back what stood there. `second` rows are a colleague's
    second marking, which counts for the agreement alone. `undoes` names the row that this one takes back.
    """

    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.CASCADE, related_name="marks")
    rubric = models.ForeignKey(Rubric, on_delete=models.CASCADE, related_name="marks")
    criterion = models.SlugField(max_length=40, help_text=_("The criterion's key."))
    team = models.ForeignKey(Team, null=True, blank=True, on_delete=models.CASCADE, related_name="marks")
    student = models.ForeignKey(
        Student, null=True, blank=True, on_delete=models.CASCADE, related_name="marks"
    )
    level = models.PositiveSmallIntegerField(null=True, blank=True)
    excused = models.BooleanField(default=False)
    second = models.BooleanField(default=False)
    undoes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.CASCADE, related_name="undone_by"
    )

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["class_challenge", "second"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(team__isnull=False, student__isnull=True)
                | Q(team__isnull=True, student__isnull=False),
                name="mark_is_a_teams_or_a_childs",
            ),
            models.CheckConstraint(
                condition=Q(level__isnull=True) | Q(level__gte=1, level__lte=4, excused=False),
                name="mark_is_a_level_or_excused",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team or self.student} {self.criterion}: {'x' if self.excused else self.level}"


class Remark(EntryRow):
    """Whether a team's or a child's work came late, and a comment on it; the newest row counts."""

    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.CASCADE, related_name="remarks")
    team = models.ForeignKey(Team, null=True, blank=True, on_delete=models.CASCADE, related_name="remarks")
    student = models.ForeignKey(
        Student, null=True, blank=True, on_delete=models.CASCADE, related_name="remarks"
    )
    late = models.BooleanField(default=False)
    comment = models.TextField(max_length=1000, blank=True, default="")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(team__isnull=False, student__isnull=True)
                | Q(team__isnull=True, student__isnull=False),
                name="remark_is_on_a_team_or_a_child",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team or self.student}: {self.comment[:40]}"


class MarkColumns(models.Model):
    """The columns that a teacher last chose for a class's file of marks."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="mark_columns")
    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="mark_columns")
    columns = models.JSONField(default=list)
    chosen_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "classroom"], name="mark_columns_once_a_class"),
        ]

    def __str__(self) -> str:
        return f"{self.user} · {self.classroom}"
