"""Forms of the technician's pages: which class of a package goes where, and who teaches the new ones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from classroom.rosters.oneroster import Package
from classroom.rosters.school import NEW, SKIP, open_classes


class PlacesForm(forms.Form):
    """A choice for each class of the package, and the teacher of those that are made."""

    teacher = forms.ModelChoiceField(
        User.objects.none(),
        label=gettext_lazy("Teacher of the classes that are made"),
        empty_label=gettext_lazy("You"),
        help_text=gettext_lazy("The teacher can hand each of them over afterwards."),
        required=False,
        error_messages={"invalid_choice": gettext_lazy("Choose one of the teachers.")},
    )

    def __init__(self, data: Any, package: Package, likely: Mapping[str, str]) -> None:
        super().__init__(data)
        self.fields["teacher"].queryset = User.objects.filter(is_active=True).order_by("username")  # type: ignore[attr-defined]
        choices = [(SKIP, _("Leave it out")), (NEW, _("Make a new class"))]
        choices += [(room.code, f"{room.name} ({room.code})") for room in open_classes()]
        self._package = package
        self._names = {group.source_id: f"place_{n}" for n, group in enumerate(package.classes)}
        for group in package.classes:
            title = f"{group.title} · {group.school}" if group.school else group.title
            self.fields[self._names[group.source_id]] = forms.ChoiceField(
                label=title,
                help_text=ngettext("%(n)d child", "%(n)d children", len(group.children))
                % {"n": len(group.children)},
                choices=choices,
                initial=likely.get(group.source_id, SKIP),
                required=False,
                widget=forms.Select(attrs={"quiet_optional": True}),
                error_messages={"invalid_choice": _("Choose a class from the list.")},
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        places = [place for place in self.places().values() if place not in (SKIP, NEW)]
        for source_id, place in self.places().items():
            if places.count(place) > 1:
                self.add_error(
                    self._names[source_id], _("Two classes of the file go here. Choose another one.")
                )
        if not any(self.places().values()):
            raise forms.ValidationError(_("Choose at least one class that is to come in."))
        if NEW in self.places().values() and not data.get("teacher"):
            self.add_error("teacher", _("Choose who teaches the classes that are made."))
        return data

    def places(self) -> dict[str, str]:
        """Return where each class of the package goes."""
        return {source_id: self.cleaned_data.get(name, SKIP) for source_id, name in self._names.items()}
