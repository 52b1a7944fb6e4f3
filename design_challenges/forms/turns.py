"""The forms of a size measured twice: one child's readings, and the mark that two readings agree on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.forms.build import spot_name
from design_challenges.forms.lengths import LengthField
from design_challenges.kinds.base import Spot
from design_challenges.models import Measurement
from design_challenges.services.lengths import Length, format_length, format_with_unit, parse_length
from design_challenges.services.turns import Meeting
from design_challenges.services.units import Unit

if TYPE_CHECKING:
    from classroom.models import Student

NEIGHBOUR = str(Measurement.Reader.NEIGHBOUR)


class TurnForm(forms.Form):
    """One child's readings of some spots, and which child that is.

    `before` are the children of the first readings: one of them may measure again as a last resort.
    """

    def __init__(
        self,
        spots: Sequence[Spot],
        members: Sequence[Student],
        *,
        unit: Unit,
        division: Fraction,
        before: Sequence[int] = (),
        data: Any = None,
        typed: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(data, initial=dict(typed or {}))
        self.spots, self.before = spots, before
        one_hint = len(spots) > 1 and len({str(spot.hint) for spot in spots}) == 1
        self.hint = spots[0].hint if one_hint else ""
        for spot in spots:
            self.fields[spot_name(spot)] = LengthField(
                label=spot.label,
                help_text="" if one_hint else spot.hint,
                unit=unit,
                division=division,
                least=spot.least,
                most=spot.most,
                beside=True,
            )
        missing = _("Say who holds the tape now.")
        self.fields["who"] = forms.ChoiceField(
            label=_("Who measures now?"),
            choices=list(self._who(members)),
            error_messages={"required": missing, "invalid_choice": missing},
        )

    def _who(self, members: Sequence[Student]) -> list[tuple[str, Any]]:
        fresh = [(str(member.pk), str(member)) for member in members if member.pk not in self.before]
        again = [
            (str(member.pk), format_lazy(_("{name} again (nobody else can)"), name=str(member)))
            for member in members
            if member.pk in self.before
        ]
        return [("", _("choose")), *fresh, (NEIGHBOUR, _("a neighbour from another team")), *again]

    def rows(self) -> list[forms.BoundField]:
        """Return the fields of the spots."""
        return [self[spot_name(spot)] for spot in self.spots]

    def lengths(self) -> list[tuple[Spot, Length]]:
        """Return what was read, spot by spot, once the form is valid."""
        return [(spot, self.cleaned_data[spot_name(spot)]) for spot in self.spots]

    @property
    def student_id(self) -> int | None:
        """Return which child of the team measured, or None for a neighbour."""
        who = self.cleaned_data["who"]
        return None if who == NEIGHBOUR else int(who)

    @property
    def reader(self) -> str:
        """Return who read the tape, as a measurement keeps it."""
        if self.student_id is None:
            return NEIGHBOUR
        return str(Measurement.Reader.AGAIN) if self.student_id in self.before else ""


class MarkField(forms.ChoiceField):
    """One of the marks from the one reading to the other; its clean value is the `Length`."""

    def __init__(self, marks: Sequence[Fraction], unit: Unit, division: Fraction, **kwargs: Any) -> None:
        super().__init__(
            choices=[
                (format_length(mark, unit, division), format_with_unit(mark, unit, division))
                for mark in marks
            ],
            widget=forms.RadioSelect(),
            **kwargs,
        )
        self.unit = unit

    def clean(self, value: Any) -> Length:
        return parse_length(str(super().clean(value)), self.unit)


class AgreeForm(forms.Form):
    """The one mark that both agree on, for each spot that two children have read differently."""

    def __init__(
        self, meetings: Sequence[Meeting], *, unit: Unit, division: Fraction, data: Any = None
    ) -> None:
        super().__init__(data)
        self.meetings = meetings
        for meeting in meetings:
            self.fields[spot_name(meeting.spot)] = self._field(meeting, unit, division)

    @staticmethod
    def _field(meeting: Meeting, unit: Unit, division: Fraction) -> forms.Field:
        label = format_lazy(_("{spot}: the mark you both see"), spot=meeting.spot.label)
        if meeting.marks:
            missing = _("Look at the tape together. Then tap one mark.")
            messages = {"required": missing, "invalid_choice": missing}
            return MarkField(meeting.marks, unit, division, label=label, error_messages=messages)
        spot = meeting.spot
        return LengthField(
            label=label, unit=unit, division=division, least=spot.least, most=spot.most, beside=True
        )

    def rows(self) -> list[dict[str, Any]]:
        """Return each meeting with its field."""
        return [{"meeting": meeting, "field": self[spot_name(meeting.spot)]} for meeting in self.meetings]

    def lengths(self) -> list[tuple[Spot, Length]]:
        """Return what both agreed on, spot by spot, once the form is valid."""
        return [(meeting.spot, self.cleaned_data[spot_name(meeting.spot)]) for meeting in self.meetings]
