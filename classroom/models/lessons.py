"""Lessons and who was there."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from classroom.models.people import Classroom, Student


class Lesson(models.Model):
    """One sitting of a class: opened by Start, frozen by End."""

    classroom = models.ForeignKey(Classroom, on_delete=models.CASCADE, related_name="lessons")
    number = models.PositiveSmallIntegerField()
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    report = models.JSONField(
        default=dict,
        blank=True,
        help_text="Where each team was at the end, and who drops first next.",
    )

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["classroom", "number"], name="lesson_number_once_a_class"),
            models.UniqueConstraint(
                fields=["classroom"], condition=Q(ended_at__isnull=True), name="one_open_lesson_a_class"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("started_at")),
                name="lesson_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.classroom} · {self.number}"


class Attendance(models.Model):
    """Whether a child was there in a lesson; no row means nobody has said."""

    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="attendance")
    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="attendance")
    present = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lesson", "student"], name="attendance_once_a_lesson"),
        ]

    def __str__(self) -> str:
        return f"{self.lesson} · {self.student} · {self.present}"
