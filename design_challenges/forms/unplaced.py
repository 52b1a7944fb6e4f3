"""The forms of a reading that a teacher places by hand: on which drop, or why it is set aside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from design_challenges.words import Words

Groups = Sequence[tuple[Words, Sequence[tuple[str, Words]]]]
"""Choices under headings: a team's round, and its drops by key."""


class PlaceForm(forms.Form):
    """Which drop a reading is of; `places` are grouped by team and round."""

    place = forms.ChoiceField(
        label=_("Which drop is it?"),
        error_messages={
            "required": _("Choose the drop that this time belongs to."),
            "invalid_choice": _("That drop has a time by now. Choose another one."),
        },
    )

    def __init__(self, *args: Any, places: Groups, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = [("", _("Choose a drop")), *places]  # type: ignore[attr-defined]


class AsideForm(forms.Form):
    """Why a reading is set aside."""

    reason = forms.CharField(
        label=_("Why does it count nowhere?"),
        max_length=200,
        error_messages={
            "required": _("Say in a few words why: it stands beside the time."),
            "max_length": _("Say it in at most 200 letters."),
        },
    )
