"""What one child can do alone: exit questions, their answers, and what a teacher saw."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from classroom.models import Student
from design_challenges.models.challenge import ClassChallenge
from design_challenges.models.iteration import EntryRow


class ExitQuestion(models.Model):
    """One sum that every child of a class works alone, with numbers of its own; open until it is closed."""

    class_challenge = models.ForeignKey(
        ClassChallenge, on_delete=models.CASCADE, related_name="exit_questions"
    )
    step = models.SlugField(max_length=40)
    asked_at = models.DateTimeField(auto_now_add=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["class_challenge"],
                condition=Q(closed_at__isnull=True),
                name="one_exit_question_open_a_class",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.class_challenge}: {self.step}"


class ExitAnswer(EntryRow):
    """One child's answer to an exit question, with what the check made of it; one a child."""

    question = models.ForeignKey(ExitQuestion, on_delete=models.CASCADE, related_name="answers")
    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="exit_answers")
    typed = models.CharField(max_length=40)
    value = models.CharField(max_length=40, help_text=_("The number read, exact."))
    right = models.BooleanField()
    slips = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["question", "student"], name="one_exit_answer_a_child"),
        ]

    def __str__(self) -> str:
        return f"{self.student}: {self.typed}"


class SawIt(EntryRow):
    """A teacher saw a child do a sum, or takes that back; the newest row of a child and a sum counts."""

    class_challenge = models.ForeignKey(ClassChallenge, on_delete=models.CASCADE, related_name="saw_its")
    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="saw_its")
    step = models.SlugField(max_length=40)
    saw = models.BooleanField()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["class_challenge", "student", "step"])]

    def __str__(self) -> str:
        return f"{self.student}: {self.step}"
