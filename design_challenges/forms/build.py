"""The form that measures the made thing: a few spots on one screen, and who measured them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.forms.lengths import LengthField
from design_challenges.kinds.base import Spot
from design_challenges.services.lengths import Length
from design_challenges.services.units import Unit

if TYPE_CHECKING:
    from classroom.models import Student

OURS, THEIRS = "ours", "theirs"


def spot_name(spot: Spot) -> str:
    """Return the name of a spot's field."""
    return f"{spot.quantity}_{spot.spot}"


class BuildForm(forms.Form):
    """Some spots of the made thing.

    `typed` fills the fields, by field name; `standing` is what is saved now; for the fields
    named in `asked`, which another tablet saved meanwhile, the form asks which of the two is right;
    `seen` holds the row id each field is shown with (0 for none).
    """

    def __init__(
        self,
        spots: Sequence[Spot],
        members: Sequence[Student],
        *,
        unit: Unit,
        division: Fraction,
        data: Any = None,
        typed: Mapping[str, str] | None = None,
        standing: Mapping[str, str] | None = None,
        asked: Sequence[str] = (),
    ) -> None:
        super().__init__(data, initial=dict(typed or {}))
        self.spots, self.asked = spots, asked
        self.seen: Mapping[str, int] = {}
        one_hint = len(spots) > 1 and len({str(spot.hint) for spot in spots}) == 1
        self.hint = spots[0].hint if one_hint else ""
        for spot in spots:
            name = spot_name(spot)
            self.fields[name] = LengthField(
                label=spot.label,
                help_text="" if one_hint else spot.hint,
                unit=unit,
                division=division,
                least=spot.least,
                most=spot.most,
                beside=True,
            )
            if name in asked:
                ours = self[name].data or ""
                self.fields[f"keep_{name}"] = _which(spot, ours, (standing or {}).get(name, ""))
        if members:
            self.fields["student"] = forms.TypedChoiceField(
                label=_("Who measured?"),
                required=False,
                coerce=int,
                empty_value=None,
                choices=[("", _("all of us")), *((member.pk, str(member)) for member in members)],
                widget=forms.Select(attrs={"quiet_optional": True}),
            )

    def rows(self) -> list[dict[str, Any]]:
        """Return each spot's field with its `keep` field (or None) and the row id it was shown with."""
        return [
            {
                "name": name,
                "field": self[name],
                "keep": self[f"keep_{name}"] if name in self.asked else None,
                "seen": self.seen.get(name, 0),
            }
            for name in map(spot_name, self.spots)
        ]

    def lengths(self) -> dict[tuple[str, int], Length]:
        """Return the lengths to save, by quantity and spot: not those where the other tablet's is kept."""
        return {
            (spot.quantity, spot.spot): self.cleaned_data[spot_name(spot)]
            for spot in self.spots
            if self.cleaned_data.get(f"keep_{spot_name(spot)}") != THEIRS
        }

    @property
    def student_id(self) -> int | None:
        """Return who measured, where the team said so."""
        return self.cleaned_data.get("student")


def _which(spot: Spot, ours: str, theirs: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=format_lazy(_("{spot}: which one is right?"), spot=spot.label),
        choices=[
            (OURS, format_lazy(_("Ours: {length}"), length=ours)),
            (THEIRS, format_lazy(_("The other tablet’s: {length}"), length=theirs)),
        ],
        widget=forms.RadioSelect(),
        error_messages={"required": _("Look at the tape together. Then choose one of the two.")},
    )
