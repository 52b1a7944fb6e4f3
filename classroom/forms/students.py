"""Forms of children's names: a pasted list, its preview row by row, one child."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from classroom.forms.base import NAME_ATTRS, TOO_LONG, TidyCharField
from classroom.roster import LONGEST_NAME, MOST_NAMES, Name, read_names, skipped_lines, tidy_initial


class PasteForm(forms.Form):
    """A list of names, one a line, as it stands in a register."""

    names = forms.CharField(
        label=_("Names, one a line"),
        help_text=_(
            "A first name and an initial are enough: Ana P. "
            "From a full name only the first name and one letter are kept; the rest is never stored."
        ),
        max_length=8000,
        widget=forms.Textarea(
            attrs={
                "rows": 10,
                "autocomplete": "off",
                "autocorrect": "off",
                "spellcheck": "false",
            }
        ),
        error_messages={
            "required": _("Type or paste at least one name."),
            "max_length": _("That is more than a class list. Paste one class at a time."),
        },
    )

    def clean_names(self) -> str:
        text: str = self.cleaned_data["names"]
        self.found = read_names(text)
        self.skipped = skipped_lines(text)
        if not self.found:
            raise forms.ValidationError(_("There is no name in it. Type one name a line, like Ana P."))
        if len(self.found) > MOST_NAMES:
            raise forms.ValidationError(
                _("These are %(count)d names; %(most)d is the most at a time. Paste one class at a time."),
                params={"count": len(self.found), "most": MOST_NAMES},
            )
        return text


class StudentForm(forms.Form):
    """One child: a first name, and an initial where it helps to tell two apart."""

    given_name = TidyCharField(
        label=_("First name"),
        max_length=LONGEST_NAME,
        widget=forms.TextInput(attrs=dict(NAME_ATTRS)),
        error_messages={"required": _("Type a first name."), "max_length": TOO_LONG},
    )
    initial = forms.CharField(  # type: ignore[assignment]
        label=_("Initial"),
        max_length=12,
        required=False,
        widget=forms.TextInput(attrs=dict(NAME_ATTRS, **{"class": "short"})),
        error_messages={"max_length": _("One letter is enough, two where two children share it.")},
    )

    def clean_initial(self) -> str:
        typed: str = self.cleaned_data["initial"]
        tidied = tidy_initial(typed)
        letters = sum(1 for char in typed if char.isalnum())
        if letters > 3:
            raise forms.ValidationError(_("One letter is enough, two or three where children share it."))
        return tidied

    def name(self) -> Name:
        """Return the name that was typed, once the form is valid."""
        return Name(self.cleaned_data["given_name"], self.cleaned_data["initial"])


class RowForm(StudentForm):
    """One row of the preview; a row that is not to be added keeps what was typed."""

    add = forms.BooleanField(required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        place = int((self.prefix or "row-0").rpartition("-")[2]) + 1
        for name, label in (
            ("given_name", _("First name of child %(place)d")),
            ("initial", _("Initial of child %(place)d")),
            ("add", _("Add child %(place)d")),
        ):
            self.fields[name].label = label % {"place": place}
            self.fields[name].widget.attrs["aria-label"] = label % {"place": place}

    def full_clean(self) -> None:
        super().full_clean()
        if self.is_bound and not self.cleaned_data.get("add"):
            # What is not added need not be right.
            self.errors.clear()


Rows = forms.formset_factory(RowForm, extra=0, max_num=MOST_NAMES, absolute_max=MOST_NAMES)
"""The preview of a pasted list."""


class OneStudentForm(StudentForm):
    """One child typed by hand; a name that the class has already is asked about once."""

    same_name = forms.BooleanField(
        required=False, label=_("It is another child with the same name"), widget=forms.HiddenInput
    )
