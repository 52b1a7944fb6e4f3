"""The forms of the Plan step: the sentence, the sizes, the choices and their reasons."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from design_challenges.forms.entries import EntryForm, Standing, TwoAnswers
from design_challenges.forms.lengths import LengthField
from design_challenges.models import Measurement, Note
from design_challenges.services import saving
from design_challenges.services.entries import Author
from design_challenges.services.lengths import Length
from design_challenges.services.numbers import InputError
from design_challenges.services.plan_flow import IDEAS
from design_challenges.services.record_types import RoundRecord, SizeRecord

LONGEST_TEXT = 600
TOO_LONG = _("That is too long to save. Keep it to a few sentences.")
LETTERS: list[tuple[str, Any]] = [("a", _("Idea A")), ("b", _("Idea B"))]
TAP_ONE = _("Tap one of the answers.")


def text_field(label: Any, empty: Any) -> forms.CharField:
    """A sentence of the team's own."""
    return forms.CharField(
        label=label,
        max_length=LONGEST_TEXT,
        error_messages={"required": empty, "max_length": TOO_LONG},
        widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off"}),
    )


def choice_field(label: Any, choices: list[tuple[str, Any]], empty: Any = TAP_ONE) -> forms.ChoiceField:
    """One answer of a few, as large tiles."""
    return forms.ChoiceField(
        label=label,
        choices=choices,
        error_messages={"required": empty, "invalid_choice": empty},
        widget=forms.RadioSelect,
    )


class NoteForm(EntryForm):
    """A form whose fields are prompts of the round, each kept as a note."""

    def standing(self) -> dict[str, Standing]:
        return {name: Standing.of(self.record.notes.get(name)) for name in self.fields}

    def save(self, author: Author) -> None:
        iteration = saving.lock_round(self.record.iteration.pk)
        for name in self.fields:
            if text := self.cleaned_data.get(name, ""):
                saving.save_note(iteration, name, text, author, seen=self.seen(name))


class PurposeForm(NoteForm):
    """What it must do and may not do, in a sentence."""

    def make_fields(self) -> None:
        self.fields["purpose"] = text_field(
            _("Your sentence"), _("Write one sentence first. The words above help you start.")
        )


class SizesForm(EntryForm):
    """The planned sizes, one field for each quantity of the kind; `stage` says of what."""

    stage: str = Measurement.Stage.PLANNED

    def make_fields(self) -> None:
        unit = self.record.kind.length_unit(self.record.values)
        for quantity in self.record.kind.quantities(self.record.values):
            self.fields[quantity.slug] = LengthField(
                label=quantity.label,
                help_text=str(quantity.hint),
                unit=unit,
                division=Fraction(self.record.values["tape_division"]),
                least=quantity.least,
                most=quantity.most,
                mended=_mended,
                big=True,
                beside=True,
            )

    def standing(self) -> dict[str, Standing]:
        sizes = self._sizes()
        return {name: Standing.of(sizes.get(name)) for name in self.fields}

    def _sizes(self) -> dict[str, SizeRecord]:
        return dict(self.record.plan)

    def save(self, author: Author) -> None:
        iteration = saving.lock_round(self.record.iteration.pk)
        for name in self.fields:
            length: Length = self.cleaned_data[name]
            saving.save_size(iteration, self.stage, name, length, author, seen=self.seen(name))


def _mended(error: InputError) -> Any:
    """A planned size is thought up, not read off a tape."""
    if error.code == "zero":
        return _("A size of zero makes nothing. Type how long it will be.")
    return error.message


class IdeaForm(SizesForm):
    """The sizes of an idea."""

    letter = ""

    @property
    def stage(self) -> str:  # type: ignore[override]
        return IDEAS[self.letter]

    def _sizes(self) -> dict[str, SizeRecord]:
        return dict(self.record.ideas[IDEAS[self.letter]])


class IdeaAForm(IdeaForm):
    """The sizes of idea A."""

    letter = "a"


class IdeaBForm(IdeaForm):
    """The sizes of idea B."""

    letter = "b"


class NewSizesForm(SizesForm):
    """The sizes of a redesign: something must change, unless the team changes something that has no size."""

    def clean(self) -> dict[str, Any]:
        super().clean()
        before = self.record.before
        change = self.record.notes.get(Note.Prompt.CHANGE)
        if self.errors or before is None or (change is not None and change.text == "other"):
            return self.cleaned_data
        unit = self.record.kind.length_unit(self.record.values)
        if all(
            name in before.plan_sizes and self.cleaned_data[name].in_unit(unit) == before.plan_sizes[name]
            for name in self.fields
        ):
            first = next(iter(self.fields))
            self.add_error(first, gettext("These are the sizes of the round before. Change one of them."))
        return self.cleaned_data


class LimitForm(NoteForm):
    """Which idea meets the limit, as the team thinks."""

    def make_fields(self) -> None:
        self.fields["meets_limit"] = choice_field(
            _("Which idea is inside the limit?"),
            [
                ("a", _("Only idea A")),
                ("b", _("Only idea B")),
                ("both", _("Both of them")),
                ("neither", _("Neither of them")),
            ],
        )


class SlowerForm(NoteForm):
    """Which idea should do better, and why: one tap is enough, own words are welcome."""

    def make_fields(self) -> None:
        words = self.record.kind.plan_words
        self.fields["slower"] = choice_field(words.better_question, LETTERS)
        reasons = [(str(reason), reason) for _slug, reason in words.reasons]
        self.fields["reason"] = forms.ChoiceField(
            label=_("Why?"),
            choices=reasons,
            required=False,
            widget=forms.RadioSelect(attrs={"quiet_optional": True}),
        )
        self.fields["own"] = forms.CharField(
            label=_("Or in your own words"),
            max_length=LONGEST_TEXT,
            required=False,
            error_messages={"max_length": TOO_LONG},
            widget=forms.TextInput(attrs={"class": "full", "autocomplete": "off"}),
        )

    def standing(self) -> dict[str, Standing]:
        why = Standing.of(self.record.notes.get(Note.Prompt.WHY))
        reasons = dict(getattr(self.fields["reason"], "choices", ()))
        listed = Standing(why.text, why.row_id) if why.text in reasons else Standing("", why.row_id)
        own = Standing("" if why.text in reasons else why.text, why.row_id)
        return {
            "slower": Standing.of(self.record.notes.get(Note.Prompt.SLOWER)),
            "reason": listed,
            "own": own,
        }

    def two_answers(self, now: RoundRecord) -> list[TwoAnswers]:
        found = [pair for pair in super().two_answers(now) if pair.label == self.fields["slower"].label]
        why = now.notes.get(Note.Prompt.WHY)
        ours = str(self.cleaned_data.get("why", ""))
        if why is not None and why.row_id != self.seen("own") and why.text != ours:
            found.append(TwoAnswers(self.fields["reason"].label or "", ours, why.text))
        return found

    def clean(self) -> dict[str, Any]:
        reason, own = self.cleaned_data.get("reason", ""), self.cleaned_data.get("own", "").strip()
        if not self.errors.get("own") and not reason and not own:
            self.add_error("reason", gettext("Tap a reason, or write one of your own."))
        self.cleaned_data["why"] = own or reason
        return self.cleaned_data

    def save(self, author: Author) -> None:
        iteration = saving.lock_round(self.record.iteration.pk)
        slower, why = self.cleaned_data["slower"], self.cleaned_data["why"]
        saving.save_note(iteration, Note.Prompt.SLOWER, slower, author, seen=self.seen("slower"))
        saving.save_note(iteration, Note.Prompt.WHY, why, author, seen=self.seen("own"))


class ChooseForm(NoteForm):
    """The idea that becomes the plan."""

    def make_fields(self) -> None:
        self.fields["chosen"] = choice_field(
            _("Which one will you build?"), [("a", _("Idea A")), ("b", _("Idea B"))]
        )

    def save(self, author: Author) -> None:
        saving.lock_round(self.record.iteration.pk)
        saving.choose_idea(self.record, self.cleaned_data["chosen"], author, seen=self.seen("chosen"))


class ChangeForm(NoteForm):
    """What changes in this round, and why."""

    def make_fields(self) -> None:
        sizes = [
            (quantity.slug, quantity.label) for quantity in self.record.kind.quantities(self.record.values)
        ]
        self.fields["change"] = choice_field(
            _("What will you change?"),
            [*sizes, ("two", _("More than one thing")), ("other", _("Something else"))],
        )
        self.fields["change_why"] = text_field(_("Why?"), _("Write why. The words above help you start."))


class ChangeTwoForm(NoteForm):
    """Why two things had to change."""

    def make_fields(self) -> None:
        self.fields["change_two"] = text_field(
            _("Why did both have to change?"), _("Write why. The words above help you start.")
        )
