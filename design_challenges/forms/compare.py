"""The form of the Compare page: one written noticing."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

LONGEST_NOTICING = 600
SHORTEST_NOTICING = 8


class NoticingForm(forms.Form):
    """What the team notices in the class's numbers, in a sentence."""

    noticing = forms.CharField(
        label=_("What do you notice?"),
        help_text=_("Look at all the teams. What goes with a good result?"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 2, "quiet_optional": True, "autocomplete": "off"}),
    )

    def clean_noticing(self) -> str:
        text = " ".join(str(self.cleaned_data["noticing"]).split())
        if not text:
            raise forms.ValidationError(_("Write one sentence. A starter can help you begin."), code="empty")
        if len(text) < SHORTEST_NOTICING or not any(letter.isalpha() for letter in text):
            raise forms.ValidationError(_("Write a little more: a whole sentence."), code="too_short")
        if len(text) > LONGEST_NOTICING:
            raise forms.ValidationError(
                _("That is very long. Keep the most important part: two or three sentences."), code="too_long"
            )
        return text
