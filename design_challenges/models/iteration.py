"""One team's round: its plan and build in numbers and words, and what was worked out."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import AppendOnlyModel, Student, Team
from design_challenges.models.challenge import ChallengeSettings, ClassChallenge
from design_challenges.models.entries import Submission


class DesignIteration(models.Model):
    """A round of one team, under the settings it began with."""

    team = models.ForeignKey(Team, on_delete=models.PROTECT, related_name="iterations")
    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.PROTECT, related_name="iterations")
    number = models.PositiveSmallIntegerField(_("round"))
    settings = models.ForeignKey(ChallengeSettings, on_delete=models.PROTECT, related_name="iterations")
    job_turn = models.PositiveSmallIntegerField(default=0, help_text=_("How often the jobs went round."))
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(
                fields=["team", "class_challenge", "number"], name="iteration_once_a_round"
            ),
            models.CheckConstraint(condition=Q(number__gte=1), name="rounds_start_at_1"),
        ]

    def __str__(self) -> str:
        return f"{self.team} · {self.number}"


class EntryRow(AppendOnlyModel):
    """Base of what an entry adds to a round; the newest row of a field is the one that counts."""

    submission = models.ForeignKey(
        Submission, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)s_rows"
    )
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text=_("The adult who entered or corrected it; empty for a team's tablet."),
    )
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        abstract = True


class Measurement(EntryRow):
    """A length as it was written, and its exact value as a fraction of its unit.

    SQLite loses digits of long decimals, so exact lengths are two integers. Where a size is measured
    twice, `turn` 1 and 2 are the two readings, and what the pair agreed on is a row of turn 0.
    """

    class Stage(models.TextChoices):
        IDEA_A = "idea_a", _("idea A")
        IDEA_B = "idea_b", _("idea B")
        PLANNED = "planned", _("planned")
        BUILT = "built", _("as built")

    class Reader(models.TextChoices):
        TEAM = "", _("one of the team")
        NEIGHBOUR = "neighbour", _("a neighbour from another team")
        AGAIN = "again", _("the same child again")

    iteration = models.ForeignKey(DesignIteration, on_delete=models.PROTECT, related_name="measurements")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    quantity = models.SlugField(max_length=40)
    spot = models.PositiveSmallIntegerField(
        default=1, help_text=_("Which of several: the canopy's first or second way, line 1, 2 …")
    )
    typed = models.CharField(max_length=40)
    numerator = models.PositiveBigIntegerField()
    denominator = models.PositiveIntegerField()
    unit = models.CharField(max_length=4)
    turn = models.PositiveSmallIntegerField(
        default=0, help_text=_("1 or 2: one of two readings. 0: the length that counts.")
    )
    reader = models.CharField(
        max_length=10,
        choices=Reader.choices,
        blank=True,
        default=Reader.TEAM,
        help_text=_("Who read the tape where it was not one more child of the team."),
    )
    student = models.ForeignKey(
        Student, null=True, blank=True, on_delete=models.SET_NULL, related_name="measurements"
    )

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["iteration", "stage", "quantity", "spot"])]
        constraints = [
            models.CheckConstraint(condition=Q(numerator__gte=1), name="measurement_is_positive"),
            models.CheckConstraint(
                condition=Q(denominator__gte=1), name="measurement_denominator_is_positive"
            ),
            models.CheckConstraint(condition=Q(unit__in=["in", "ft", "mm", "cm", "m"]), name="unit_is_known"),
            models.CheckConstraint(
                condition=Q(turn=0) | Q(turn__in=[1, 2], stage="built"), name="two_readings_of_what_was_built"
            ),
            models.CheckConstraint(
                condition=Q(reader="") | Q(turn__in=[1, 2]), name="reader_only_of_one_of_two_readings"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.spot}: {self.typed}"


class Note(EntryRow):
    """What a team wrote or chose in words; the newest row of a prompt is the one that counts."""

    class Prompt(models.TextChoices):
        PURPOSE = "purpose", _("what it must do and may not do")
        MEETS_LIMIT = "meets_limit", _("which idea meets the limit")
        SLOWER = "slower", _("which idea should fall slower")
        WHY = "why", _("why it should")
        CHOSEN = "chosen", _("the chosen idea")
        DRAWING = "drawing", _("the labelled drawing")
        CHANGE = "change", _("what changes in this round")
        CHANGE_WHY = "change_why", _("why it changes")
        CHANGE_TWO = "change_two", _("why two things had to change")
        DIRECTION = "direction", _("slower or faster")
        NOTICING = "noticing", _("a noticing")
        BROKE = "broke", _("it broke, and how the team goes on")

    iteration = models.ForeignKey(DesignIteration, on_delete=models.PROTECT, related_name="notes")
    prompt = models.CharField(max_length=12, choices=Prompt.choices)
    text = models.TextField(max_length=600)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["iteration", "prompt"])]

    def __str__(self) -> str:
        return f"{self.prompt}: {self.text[:40]}"


class Working(EntryRow):
    """One try at one step of the sums, with what the check made of it (or how it was got, or steps shown)."""

    class Verdict(models.TextChoices):
        RIGHT = "right", _("right")
        NOT_YET = "not_yet", _("not yet")
        SHOWN = "shown", _("the steps were shown")
        GIVEN = "given", _("the teacher showed the steps")
        PICKED = "picked", _("how the answer was got")

    iteration = models.ForeignKey(DesignIteration, on_delete=models.PROTECT, related_name="workings")
    step = models.SlugField(max_length=40)
    basis = models.CharField(
        max_length=200,
        blank=True,
        default="",
        help_text=_("The numbers it was worked from: an accepted answer goes stale when they change."),
    )
    typed = models.CharField(max_length=40)
    value = models.CharField(max_length=40, blank=True, default="", help_text=_("The number read, exact."))
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    slips = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["iteration", "step"])]

    def __str__(self) -> str:
        return f"{self.step}: {self.typed} ({self.verdict})"


class Clearance(EntryRow):
    """A team was cleared to build, on which figure, by the check or by a teacher with a reason."""

    class By(models.TextChoices):
        CHECK = "check", _("the readiness check")
        TEACHER = "teacher", _("the teacher")

    iteration = models.ForeignKey(DesignIteration, on_delete=models.PROTECT, related_name="clearances")
    by = models.CharField(max_length=8, choices=By.choices)
    reason = models.CharField(max_length=200, blank=True, default="")
    figure = models.CharField(max_length=40, blank=True, default="", help_text=_("Material used, as judged."))
    figure_from = models.CharField(
        max_length=8,
        blank=True,
        default="",
        help_text=_("team: its own accepted figure; class: the class figure."),
    )
    limit = models.CharField(max_length=40, blank=True, default="")
    plan = models.JSONField(default=dict, help_text=_("The plan's sizes it holds for, as exact fractions."))

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(by="teacher", reason=""), name="clearance_by_hand_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.iteration} · {self.by}"


class Photo(EntryRow):
    """A drawing, photographed or sketched; the file is written and synced before its row."""

    class Source(models.TextChoices):
        PHOTO = "photo", _("photo")
        SKETCH = "sketch", _("sketch")

    uuid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    iteration = models.ForeignKey(DesignIteration, on_delete=models.PROTECT, related_name="photos")
    source = models.CharField(max_length=8, choices=Source.choices)
    digest = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return str(self.uuid)


class HelpCall(models.Model):
    """A team asked for help; one call waits at a time."""

    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.CASCADE, related_name="help_calls")
    team = models.ForeignKey(Team, on_delete=models.CASCADE, related_name="help_calls")
    asked_at = models.DateTimeField(auto_now_add=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["asked_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["class_challenge", "team"],
                condition=Q(answered_at__isnull=True),
                name="one_help_call_waits_a_team",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.team} · {self.asked_at:%H:%M}"
