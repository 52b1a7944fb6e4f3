"""Forms of teams: a team's name, shuffling, who sits where, merging."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from classroom.forms.base import NAME_ATTRS, TOO_LONG, TidyCharField
from classroom.models import Classroom, Team
from classroom.teaming import LARGEST, SMALLEST, Seating


class TeamNameForm(forms.Form):
    """What a team is called; no two teams of a class share a name."""

    name = TidyCharField(
        label=_("Team name"),
        max_length=24,
        widget=forms.TextInput(attrs=dict(NAME_ATTRS)),
        error_messages={"required": _("Type a name for the team."), "max_length": TOO_LONG},
    )

    def __init__(self, classroom: Classroom, team: Team, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.others = classroom.teams.exclude(pk=team.pk)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if name.casefold() in {other.casefold() for other in self.others.values_list("name", flat=True)}:
            raise forms.ValidationError(_("Another team of this class has that name. Choose another one."))
        return name


class ShuffleForm(forms.Form):
    """How large teams are, who is dealt, and the seed that deals the same teams again."""

    size = forms.TypedChoiceField(
        label=_("Children in a team"),
        coerce=int,
        choices=[(size, str(size)) for size in range(SMALLEST, LARGEST + 1)],
        initial=4,
        error_messages={
            "required": _("Choose how many children a team has."),
            "invalid_choice": _("Choose a size from 2 to 5."),
        },
    )
    who = forms.ChoiceField(
        label=_("Who is shuffled"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose who is shuffled."),
            "invalid_choice": _("Choose one of these."),
        },
    )
    seed = forms.IntegerField(required=False, min_value=0, max_value=2**31, widget=forms.HiddenInput)

    def __init__(self, seats: Seating, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        alone = len(seats.without)
        choices: list[tuple[str, Any]] = []
        if seats.last_round == 0:
            choices.append(("everyone", _("Everyone, afresh")))
        if alone and alone < len(seats.team_of):
            choices.append(
                (
                    "left_over",
                    ngettext_lazy(
                        "Only the %d child without a team", "Only the %d children without a team", alone
                    )
                    % alone,
                )
            )
        self.fields["who"].choices = choices  # type: ignore[attr-defined]
        self.choices = [slug for slug, _label in choices]
        if choices:
            self.fields["who"].initial = choices[-1][0]


def round_field(seats: Seating, *, first: int, label: Any) -> forms.TypedChoiceField:
    """Return the field that says from which round on a change holds.

    Offered are all rounds begun and the next one; `first` is chosen beforehand.
    """
    choices: list[tuple[int, Any]] = [
        (number, _("Round %(number)d") % {"number": number}) for number in range(1, seats.last_round + 2)
    ]
    return forms.TypedChoiceField(
        label=label,
        coerce=int,
        choices=choices,
        initial=first,
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose the round from which it holds."),
            "invalid_choice": _("Choose one of these rounds."),
        },
    )


class PlacesForm(forms.Form):
    """Which team each child is in; children who stay where they are are left alone."""

    def __init__(self, seats: Seating, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.seats = seats
        choices: list[tuple[str, Any]] = [("", _("no team"))]
        choices += [(str(team.pk), team.name) for team in seats.teams]
        for student in sorted(
            [child for members in (*seats.members.values(), seats.without) for child in members],
            key=lambda child: (child.given_name.casefold(), child.initial.casefold(), child.pk),
        ):
            self.fields[f"student_{student.pk}"] = forms.ChoiceField(
                label=str(student),
                choices=choices,
                required=False,
                initial=seats.team_of[student.pk] or "",
                widget=forms.Select(attrs={"quiet_optional": True}),
                error_messages={"invalid_choice": _("This team is not there any more. Choose another one.")},
            )
        if seats.last_round:
            self.fields["from_round"] = round_field(
                seats, first=seats.last_round, label=_("The changes hold from")
            )

    def children(self) -> list[Any]:
        """Return the fields of the children."""
        return [self[name] for name in self.fields if name.startswith("student_")]

    def moves(self) -> dict[int, int | None]:
        """Return where the children go who do not stay: student id → team id or None."""
        moves: dict[int, int | None] = {}
        for student_id, now in self.seats.team_of.items():
            name = f"student_{student_id}"
            # A child who came into the class since the form was shown stays as well.
            if name not in self.data or name not in self.cleaned_data:
                continue
            chosen = int(self.cleaned_data[name]) if self.cleaned_data[name] else None
            if chosen != now:
                moves[student_id] = chosen
        return moves

    @property
    def holds_from(self) -> int:
        """Return the round from which the changes hold."""
        return int(self.cleaned_data.get("from_round", 1))


class MergeForm(forms.Form):
    """Into which team a team goes, and from which round on."""

    into = forms.TypedChoiceField(
        label=_("Goes into"),
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose the team they join."),
            "invalid_choice": _("This team is not there any more. Choose another one."),
        },
    )

    def __init__(self, team: Team, seats: Seating, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others: Sequence[Team] = [other for other in seats.teams if other.pk != team.pk]
        self.fields["into"].choices = [  # type: ignore[attr-defined]
            (other.pk, f"{other.name}: {', '.join(str(child) for child in seats.members[other.pk]) or '–'}")
            for other in others
        ]
        if seats.last_round:
            begun = seats.began.get(team.pk, 0)
            self.fields["from_round"] = round_field(
                seats, first=min(begun + 1, seats.last_round + 1), label=_("They work together from")
            )

    @property
    def holds_from(self) -> int:
        """Return the round from which the children are in the other team."""
        return int(self.cleaned_data.get("from_round", 1))


class CountForm(forms.Form):
    """How many empty teams to add."""

    count = forms.IntegerField(
        label=_("Empty teams to add"),
        min_value=1,
        max_value=12,
        initial=1,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "short"}),
        error_messages={
            "required": _("Type how many teams, like 1."),
            "invalid": _("Type a whole number, like 1."),
            "min_value": _("Type 1 or more."),
            "max_value": _("Type 12 or less."),
        },
    )
