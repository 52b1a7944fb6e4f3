"""Forms of a roster file: choosing it, matching its columns, choosing the class in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.rosters.columns import Columns, headed_by_first_row
from classroom.rosters.table import Table

_LONGEST_SAMPLE = 24


class RosterFileForm(forms.Form):
    """The file as the school gives it out."""

    file = forms.FileField(
        label=gettext_lazy("Roster file"),
        help_text=gettext_lazy("CSV or xlsx with whatever columns, or a OneRoster zip. Up to 10 MB."),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx,.zip"}),
        error_messages={
            "required": gettext_lazy("Choose the file that holds the list."),
            "empty": gettext_lazy("The file is empty. Choose the file that holds the list."),
            "invalid": gettext_lazy("Choose the file that holds the list."),
        },
    )


class ColumnsForm(forms.Form):
    """Which column of a table holds what; the guess stands there already."""

    given = forms.ChoiceField(label=gettext_lazy("First name"), required=False)
    family = forms.ChoiceField(
        label=gettext_lazy("Family name or initial"),
        required=False,
        help_text=gettext_lazy("Only its first letter is kept."),
    )
    full = forms.ChoiceField(label=gettext_lazy("Whole name, if it is one column"), required=False)
    source_id = forms.ChoiceField(
        label=gettext_lazy("The school’s id of the child"),
        required=False,
        help_text=gettext_lazy("With it, the next file finds every child again, whatever the name."),
    )
    group = forms.ChoiceField(label=gettext_lazy("Class or group"), required=False)
    headed = forms.BooleanField(
        label=gettext_lazy("The first row holds headings, not a child"), required=False
    )

    def __init__(self, data: Any, table: Table, guess: Columns) -> None:
        initial = {field.name: _chosen(getattr(guess, field.name)) for field in fields(guess)}
        super().__init__(data, initial=initial)
        self._table = table
        choices = [("", _("not in the file")), *_column_choices(table)]
        if table.named:
            del self.fields["headed"]
        for field in self.fields.values():
            if not isinstance(field, forms.ChoiceField):
                continue
            field.choices = choices
            field.widget.attrs["quiet_optional"] = True
            field.error_messages["invalid_choice"] = _("Choose one of the file’s columns.")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if self.errors:
            return cleaned
        taken: dict[str, str] = {}
        for name, place in list(cleaned.items()):
            if name != "headed" and place and place in taken:
                said = _("This column is taken for “%(other)s” already. Choose another one.")
                self.add_error(name, said % {"other": self.fields[taken[place]].label})
            taken.setdefault(str(place), name)
        if self.errors:
            return cleaned
        if not cleaned["given"] and not cleaned["full"]:
            self.add_error("given", _("Choose the column of first names, or below the one of whole names."))
        elif cleaned["given"] and cleaned["full"]:
            self.add_error("full", _("Choose first names or whole names, not both."))
        return cleaned

    def columns(self) -> Columns:
        """Return the columns as they were matched, once the form is valid."""
        places = {field.name: self.cleaned_data[field.name] for field in fields(Columns)}
        return Columns(**{name: int(place) if place else None for name, place in places.items()})

    def headed_table(self) -> Table:
        """Return the table without the row that was said to be its headings, once the form is valid."""
        return headed_by_first_row(self._table) if self.cleaned_data.get("headed") else self._table


def _chosen(place: int | None) -> str:
    return "" if place is None else str(place)


def _column_choices(table: Table) -> list[tuple[str, str]]:
    """Return each column by its heading with what stands in it first."""
    choices = []
    for place, heading in enumerate(table.headings):
        cells = (" ".join(row.cell(place).split()) for row in table.rows)
        sample = next((cell for cell in cells if cell), "")[:_LONGEST_SAMPLE]
        name = heading if table.named else _("Column %(letter)s") % {"letter": heading}
        choices.append((str(place), f"{name} ({sample})" if sample else name))
    return choices


class WhichClassForm(forms.Form):
    """Which class or group of a file is this class."""

    which = forms.ChoiceField(
        label=gettext_lazy("Class in the file"),
        error_messages={
            "required": gettext_lazy("Choose the class whose children you want."),
            "invalid_choice": gettext_lazy("Choose one of the classes in the file."),
        },
    )

    def __init__(self, data: Any, choices: Sequence[tuple[str, str]], likely: str = "") -> None:
        super().__init__(data, initial={"which": likely})
        self.fields["which"].choices = [("", _("Choose …")), *choices]  # type: ignore[attr-defined]
