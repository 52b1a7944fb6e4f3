"""A challenge set up for one class: its settings, its open steps and its revision number."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import AppendOnlyModel, Classroom, Team
from design_challenges.steps import Step


class ClassChallenge(models.Model):
    """A kind of challenge set up for one class, and what the teacher has switched for everyone."""

    class BoardOrder(models.TextChoices):
        TEAM = "team", _("team order")
        FIGURE = "figure", _("by the figure")

    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="challenges")
    kind = models.SlugField(max_length=40)
    kind_version = models.PositiveSmallIntegerField(default=1)
    rounds = models.PositiveSmallIntegerField(default=2, help_text=_("How many rounds the class will do."))
    paused_at = models.DateTimeField(null=True, blank=True)
    board_hidden = models.JSONField(default=list, blank=True, help_text=_("Board columns hidden for now."))
    board_order = models.CharField(max_length=8, choices=BoardOrder.choices, default=BoardOrder.TEAM)
    timer_ends_at = models.DateTimeField(null=True, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    # Set where the challenge was read together with its newest settings (see records.find_challenge).
    newest_settings: ChallengeSettings | None = None
    # The open exit question, set where the challenge was read the same way.
    exit_question_id: int | None = None

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["classroom", "kind"], name="kind_once_a_class"),
            models.CheckConstraint(condition=Q(rounds__gte=1, rounds__lte=9), name="rounds_from_1_to_9"),
        ]

    def __str__(self) -> str:
        return f"{self.classroom} · {self.kind}"


class ChallengeSettings(AppendOnlyModel):
    """One version of a class challenge's settings; a round keeps the version it began with.

    What every challenge has stands in columns; what one kind alone has stands in
    `values`, declared and checked by the kind: decimals as strings, never floats.
    """

    class UnitSystem(models.TextChoices):
        US = "us", _("inches and feet")
        METRIC = "metric", _("metric")

    class Sums(models.TextChoices):
        CHILDREN = "children", _("the children work the sums")
        SOFTWARE = "software", _("the software works the sums")

    class Average(models.TextChoices):
        MEAN = "mean", _("the mean of the times")
        MEDIAN = "median", _("the middle one of the times")

    class_challenge = models.ForeignKey(
        ClassChallenge, on_delete=models.PROTECT, related_name="settings_versions"
    )
    version = models.PositiveSmallIntegerField()
    unit_system = models.CharField(max_length=8, choices=UnitSystem.choices)
    trials_per_round = models.PositiveSmallIntegerField(default=3)
    sums_by = models.CharField(max_length=10, choices=Sums.choices, default=Sums.CHILDREN)
    average = models.CharField(max_length=8, choices=Average.choices, default=Average.MEAN)
    drawing_required = models.BooleanField(default=True)
    values = models.JSONField(default=dict)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering = ["version"]
        constraints = [
            models.UniqueConstraint(fields=["class_challenge", "version"], name="settings_version_once"),
            models.CheckConstraint(
                condition=Q(trials_per_round__gte=2, trials_per_round__lte=10), name="trials_from_2_to_10"
            ),
            models.CheckConstraint(
                condition=Q(unit_system__in=["us", "metric"]), name="unit_system_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.class_challenge} · {self.version}"


class Revision(models.Model):
    """A class challenge's revision number, alone in a narrow row that every save touches last."""

    class_challenge = models.OneToOneField(
        ClassChallenge, on_delete=models.CASCADE, primary_key=True, related_name="revision"
    )
    number = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.class_challenge_id}: {self.number}"


class StepGate(models.Model):
    """Whether a step of a round is open, for the class or (where `team` is set) for one team."""

    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.CASCADE, related_name="gates")
    team = models.ForeignKey(Team, null=True, blank=True, on_delete=models.CASCADE, related_name="gates")
    round = models.PositiveSmallIntegerField()
    step = models.CharField(max_length=8, choices=Step.choices)
    open = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["class_challenge", "round", "step"],
                condition=Q(team__isnull=True),
                name="class_gate_once_a_step",
            ),
            models.UniqueConstraint(
                fields=["class_challenge", "team", "round", "step"],
                condition=Q(team__isnull=False),
                name="team_gate_once_a_step",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.round} {self.step}: {'open' if self.open else 'closed'}"
