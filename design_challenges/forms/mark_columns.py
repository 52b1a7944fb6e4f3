"""The form that chooses the columns of the file of marks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from design_challenges.services.mark_columns import Column


class ColumnsForm(forms.Form):
    """Which columns go into the file."""

    columns = forms.MultipleChoiceField(
        label=_("Columns"),
        widget=forms.CheckboxSelectMultiple(attrs={"class": "choices-plain"}),
        error_messages={"required": _("Tick at least one column.")},
    )

    def __init__(self, data: Any, columns: Sequence[Column], chosen: Sequence[str]) -> None:
        super().__init__(data, initial={"columns": list(chosen)})
        self.fields["columns"].choices = [  # type: ignore[attr-defined]
            (column.slug, column.heading) for column in columns
        ]
