"""Drops and their readings: nothing is erased, and a judgement says what counts."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import Team
from design_challenges.models.challenge import ClassChallenge
from design_challenges.models.iteration import DesignIteration, EntryRow


class Drop(EntryRow):
    """One drop of a round: a trial, and which attempt at it."""

    iteration = models.ForeignKey(DesignIteration, on_delete=models.PROTECT, related_name="drops")
    trial = models.PositiveSmallIntegerField()
    attempt = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["trial", "attempt"]
        constraints = [
            models.UniqueConstraint(fields=["iteration", "trial", "attempt"], name="drop_once"),
            models.CheckConstraint(condition=Q(trial__gte=1, attempt__gte=1), name="trials_start_at_1"),
        ]

    def __str__(self) -> str:
        return f"{self.iteration} · {self.trial}.{self.attempt}"


class Reading(EntryRow):
    """A stopwatch's fall time in whole hundredths of a second; unplaced where `drop` is empty."""

    class Source(models.TextChoices):
        TEAM = "team", _("typed on the team's tablet")
        TEACHER = "teacher", _("typed by the teacher")
        PAPER = "paper", _("typed in from paper")
        STATION = "station", _("timed at the station")
        TYPED = "typed", _("typed at the station")

    class Unplaced(models.TextChoices):
        FOREIGN = "foreign", _("it comes from another installation of this program")
        ENDED = "ended", _("its station was withdrawn or had run out")
        TEAM_GONE = "team", _("its team is not there any more")
        NO_ROUND = "round", _("the team has not begun that round")
        NO_TRIAL = "trial", _("the round has no such drop")
        OTHER_STATION = "station", _("another station timed this drop, too")
        TOO_LONG = "long", _("it is longer than any fall")
        NO_LESSON = "lesson", _("no lesson was on for the reference device")

    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.PROTECT, related_name="readings")
    drop = models.ForeignKey(Drop, null=True, blank=True, on_delete=models.PROTECT, related_name="readings")
    team = models.ForeignKey(Team, null=True, blank=True, on_delete=models.PROTECT, related_name="readings")
    hundredths = models.PositiveIntegerField(help_text=_("Fall time in hundredths of a second."))
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.TEAM)
    confirmed = models.BooleanField(
        default=False, help_text=_("Asked about as unlikely (faster than free fall), and said to be so.")
    )
    watch = models.PositiveSmallIntegerField(
        default=0,
        help_text=_("1, 2, 3: one of several stopwatches that count together. 0: a time on its own."),
    )
    unplaced = models.CharField(
        max_length=8,
        choices=Unplaced.choices,
        blank=True,
        default="",
        help_text=_("Why it found no drop when it came in."),
    )
    moved_from = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="moved_to",
        help_text=_("The reading as it came in, which a teacher gave to this drop."),
    )

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(hundredths__gte=1), name="reading_is_positive")]

    def __str__(self) -> str:
        return f"{self.drop}: {self.hundredths}"


class Judgement(EntryRow):
    """Whether a drop, or one of its readings, counts, and why; the newest one wins."""

    class Reason(models.TextChoices):
        TIMING = "timing", _("timing slip")
        HIT = "hit", _("hit a wall or a person")
        RELEASE = "release", _("released wrongly")
        NOT_OPEN = "not_open", _("did not open")
        TANGLED = "tangled", _("tangled")
        OPENED = "opened", _("opened")
        REBUILT = "rebuilt", _("mended with new sizes")
        CORRECTED = "corrected", _("corrected by the teacher")
        SECOND_ENTRY = "second", _("another tablet saved first")
        TEACHER = "teacher", _("the teacher's reason")
        MOVED = "moved", _("given to another drop")
        ASIDE = "aside", _("set aside by the teacher")

    drop = models.ForeignKey(Drop, null=True, blank=True, on_delete=models.PROTECT, related_name="judgements")
    reading = models.ForeignKey(
        Reading, null=True, blank=True, on_delete=models.PROTECT, related_name="judgements"
    )
    counts = models.BooleanField()
    reason = models.CharField(max_length=10, choices=Reason.choices)
    note = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(drop__isnull=False, reading__isnull=True)
                | Q(drop__isnull=True, reading__isnull=False),
                name="judgement_is_of_a_drop_or_a_reading",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.drop or self.reading}: {self.reason}"
