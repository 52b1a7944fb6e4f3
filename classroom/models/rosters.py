"""Which class of the school's own roster a class is, so that the next file finds it and results go back."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from classroom.models.people import Classroom

LONGEST_SOURCE_ID = 255


class RosterSource(models.Model):
    """The ids that a OneRoster package gives a class; nothing of any child is here."""

    classroom = models.OneToOneField(Classroom, on_delete=models.CASCADE, related_name="roster_source")
    source_id = models.CharField(max_length=LONGEST_SOURCE_ID, help_text="The class's sourcedId.")
    school_source_id = models.CharField(max_length=LONGEST_SOURCE_ID, blank=True, default="")
    session_source_id = models.CharField(
        max_length=LONGEST_SOURCE_ID, blank=True, default="", help_text="The first term the class belongs to."
    )
    read_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(source_id=""), name="roster_source_has_an_id")]

    def __str__(self) -> str:
        return f"{self.classroom} · {self.source_id}"
