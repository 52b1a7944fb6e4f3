"""What every form of ours shares: which data it is bound to, and messages that say how to mend."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from classroom.roster import tidy


def sent(request: Any) -> QueryDict | None:
    """Return what a form is bound to: what was posted, or what was held while the sender was signed out."""
    return request.POST if request.method == "POST" else request.held


class TidyCharField(forms.CharField):
    """A line of text without control and invisible characters."""

    def to_python(self, value: Any) -> str:
        return tidy(super().to_python(value) or "")


def code_free_attrs(**more: Any) -> dict[str, Any]:
    """Return the attributes of a field whose text a tablet must not correct."""
    return {"autocomplete": "off", "autocorrect": "off", "spellcheck": "false", **more}


NAME_ATTRS = code_free_attrs(autocapitalize="words")
TOO_LONG = _("That is too long. Use %(limit_value)d letters at most.")
