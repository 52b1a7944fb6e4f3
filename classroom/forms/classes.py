"""The form of a class: its name."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from classroom.forms.base import NAME_ATTRS, TOO_LONG, TidyCharField


class ClassForm(forms.Form):
    """What the class is called; two classes may share a name, their codes differ."""

    name = TidyCharField(
        label=_("Class name"),
        help_text=_("As the children know it, like 5B or Room 12. It stands large on every tablet."),
        max_length=60,
        widget=forms.TextInput(attrs=dict(NAME_ATTRS)),
        error_messages={"required": _("Type a name for the class, like 5B."), "max_length": TOO_LONG},
    )
