"""The form on which a teacher types in a team's round from paper, in the order of the paper sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.forms.build import spot_name
from design_challenges.forms.lengths import LengthField
from design_challenges.kinds.base import Kind, Quantity, Spot, Values
from design_challenges.models import Judgement
from design_challenges.services.lengths import Length
from design_challenges.services.numbers import InputError
from design_challenges.services.record_types import RoundRecord
from design_challenges.services.trials_input import check_rounds_to_something, parse_stopwatch, seconds_of
from design_challenges.services.working import Step

COUNTS = "counts"
RESULTS = [
    (COUNTS, _("it counts")),
    (Judgement.Reason.NOT_OPEN, _("counts: did not open")),
    (Judgement.Reason.TANGLED, _("counts: tangled")),
    (Judgement.Reason.TIMING, _("void: timing slip")),
    (Judgement.Reason.HIT, _("void: hit a wall or a person")),
    (Judgement.Reason.RELEASE, _("void: released wrongly")),
]
VOID = {Judgement.Reason.TIMING, Judgement.Reason.HIT, Judgement.Reason.RELEASE}
FIRST_ROUND_WORDS = [
    ("purpose", _("What it must do and may not do")),
    ("why", _("Why the chosen one should do better")),
]
LATER_ROUND_WORDS = [
    ("change", _("What changes")),
    ("change_why", _("Why it changes")),
    ("change_two", _("Why two things had to change (if they did)")),
]


@dataclass
class PaperEntries:
    """What was newly typed in, ready to save; what is unchanged or empty is left out."""

    notes: dict[str, str] = field(default_factory=dict)
    sizes: dict[str, dict[str, Length]] = field(default_factory=dict)
    chosen: str = ""
    built: dict[tuple[str, int], Length] = field(default_factory=dict)
    drops: dict[int, tuple[int, str]] = field(default_factory=dict)
    sums: dict[str, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(
            self.notes or any(self.sizes.values()) or self.chosen or self.built or self.drops or self.sums
        )


class StopwatchField(forms.CharField):
    """A fall time as it stands on a stopwatch; its clean value is whole hundredths, or None where empty."""

    def __init__(self, kind: Kind, values: Values, **kwargs: Any) -> None:
        attrs = {"inputmode": "decimal", "autocomplete": "off", "class": "short numeric", "unit": "s"}
        kwargs["widget"] = forms.TextInput(attrs={**attrs, "quiet_optional": True})
        super().__init__(required=False, max_length=40, **kwargs)
        self.kind, self.values = kind, values

    def clean(self, value: Any) -> Any:
        text = str(super().clean(value))
        if not text.strip():
            return None
        try:
            hundredths = parse_stopwatch(text)
            check_rounds_to_something(self.kind, self.values, seconds_of(hundredths))
        except InputError as error:
            raise forms.ValidationError(error.message, code=error.code) from None
        return hundredths


class OptionalLengthField(LengthField):
    """A length that may be left empty: on paper, what is not written yet is typed in later."""

    def clean(self, value: Any) -> Any:
        return super().clean(value) if str(value or "").strip() else None


class PaperRoundForm(forms.Form):
    """A whole round of one team; `record` is what is there already, None before the round began."""

    def __init__(
        self, kind: Kind, values: Values, number: int, record: RoundRecord | None, data: Any = None
    ) -> None:
        self.kind, self.values, self.number, self.record = kind, values, number, record
        self.words = FIRST_ROUND_WORDS if number == 1 else LATER_ROUND_WORDS
        self.stages = ("idea_a", "idea_b") if number == 1 else ("planned",)
        super().__init__(data, initial=self._standing())
        self._add_words()
        self._add_sizes()
        self._add_spots()
        self._add_trials()
        self._add_sums()
        self.fields["noticing"] = _text(_("What we noticed"))

    # --- fields --------------------------------------------------------------------------------

    def _add_words(self) -> None:
        for prompt, label in self.words:
            self.fields[prompt] = _text(label)

    def _add_sizes(self) -> None:
        names = {"idea_a": _("Idea A"), "idea_b": _("Idea B"), "planned": _("New size")}
        for stage in self.stages:
            for quantity in self.kind.quantities(self.values):
                label = format_lazy("{stage}: {size}", stage=names[stage], size=quantity.label)
                self.fields[f"{stage}_{quantity.slug}"] = self._length(label, quantity)
        if self.number == 1:
            self.fields["chosen"] = forms.ChoiceField(
                label=_("Chosen idea"),
                required=False,
                choices=[("", _("not yet")), ("a", _("A")), ("b", _("B"))],
                widget=forms.Select(attrs={"quiet_optional": True}),
            )

    def _add_spots(self) -> None:
        for spot in self.kind.spots(self.values):
            self.fields[spot_name(spot)] = self._length(spot.label, spot)

    def _add_trials(self) -> None:
        for trial in self.trials:
            self.fields[f"time_{trial}"] = StopwatchField(
                self.kind, self.values, label=format_lazy(_("Drop {trial}: stopwatch"), trial=trial)
            )
            self.fields[f"result_{trial}"] = forms.ChoiceField(
                label=format_lazy(_("Drop {trial}: what happened"), trial=trial),
                required=False,
                choices=RESULTS,
                widget=forms.Select(attrs={"quiet_optional": True}),
            )

    def _add_sums(self) -> None:
        for step in self.steps():
            self.fields[f"sum_{step.slug}"] = forms.CharField(
                label=step.label,
                required=False,
                max_length=40,
                widget=forms.TextInput(
                    attrs={
                        "inputmode": "decimal",
                        "autocomplete": "off",
                        "class": "short numeric",
                        "unit": step.unit,
                        "quiet_optional": True,
                    }
                ),
            )

    def _length(self, label: Any, bounds: Quantity | Spot) -> OptionalLengthField:
        return OptionalLengthField(
            label=label,
            unit=self.kind.length_unit(self.values),
            division=Fraction(self.values.get("tape_division", 1)),
            least=bounds.least,
            most=bounds.most,
        )

    @property
    def trials(self) -> range:
        """The trials of the round."""
        return range(1, int(self.values["trials_per_round"]) + 1)

    def steps(self) -> list[Step]:
        """The sums the children work, in order; none where the software does them."""
        if self.values["sums_by"] != "children":
            return []
        rounding = [self.kind.rounding_step(self.values, trial) for trial in self.trials]
        return [
            *self.kind.plan_steps(self.values),
            *rounding,
            *self.kind.result_steps(self.values, self.number),
        ]

    def groups(self) -> Iterator[tuple[Any, list[forms.BoundField]]]:
        """Return the fields under the paper sheet's headings."""
        yield _("Plan"), [self[name] for name in self.fields if name in self._plan_names()]
        yield _("Build"), [self[spot_name(spot)] for spot in self.kind.spots(self.values)]
        yield (
            _("Test"),
            [self[name] for trial in self.trials for name in (f"time_{trial}", f"result_{trial}")],
        )
        sums = [self[name] for name in self.fields if name.startswith("sum_")]
        if sums:
            yield _("Sums, as the team wrote them"), sums
        yield _("Compare"), [self["noticing"]]

    def _plan_names(self) -> set[str]:
        sizes = {
            f"{stage}_{quantity.slug}"
            for stage in self.stages
            for quantity in self.kind.quantities(self.values)
        }
        return {prompt for prompt, _label in self.words} | sizes | {"chosen"}

    # --- what is there, and what is new --------------------------------------------------------

    def _standing(self) -> dict[str, str]:
        record = self.record
        if record is None:
            return {}
        standing = {prompt: note.text for prompt, note in record.notes.items()}
        for stage in self.stages:
            sizes: Mapping[str, Any] = record.plan if stage == "planned" else record.ideas[stage]
            standing |= {f"{stage}_{slug}": size.typed for slug, size in sizes.items()}
        standing |= {f"{slug}_{spot}": size.typed for (slug, spot), size in record.built.items()}
        for trial, drop in record.trials.items():
            if drop.reading is not None:
                standing[f"time_{trial}"] = f"{drop.reading.seconds:f}"
            standing[f"result_{trial}"] = drop.mark or COUNTS
        standing |= {
            f"sum_{slug}": typed[-1]
            for slug, rows in record.workings.items()
            if (typed := [row.typed for row in rows if row.is_answer])
        }
        return standing

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("chosen") and not self._has_idea(str(cleaned["chosen"])):
            self.add_error("chosen", _("Type the sizes of that idea first."))
        for trial in self.trials:
            result = cleaned.get(f"result_{trial}") or COUNTS
            timed = cleaned.get(f"time_{trial}") is not None
            if not timed and f"time_{trial}" not in self.errors and result in ("not_open", "tangled"):
                self.add_error(f"time_{trial}", _("This drop counts, so it needs its time."))
        return cleaned

    def _has_idea(self, letter: str) -> bool:
        names = [f"idea_{letter}_{quantity.slug}" for quantity in self.kind.quantities(self.values)]
        return all(self.cleaned_data.get(name) or name in self.errors for name in names)

    def entries(self) -> PaperEntries:
        """Return what was typed in and is not there yet."""
        new: dict[str, Any] = {name: self.cleaned_data.get(name) for name in self.changed_data}
        entries = PaperEntries()
        for prompt in (*(prompt for prompt, _label in self.words), "noticing"):
            if new.get(prompt):
                entries.notes[prompt] = new[prompt]
        for stage in self.stages:
            entries.sizes[stage] = {
                quantity.slug: new[f"{stage}_{quantity.slug}"]
                for quantity in self.kind.quantities(self.values)
                if new.get(f"{stage}_{quantity.slug}") is not None
            }
        chosen = str(self.cleaned_data.get("chosen") or "")
        if chosen and ("chosen" in new or entries.sizes.get(f"idea_{chosen}")):
            entries.chosen = chosen
        for spot in self.kind.spots(self.values):
            if new.get(spot_name(spot)) is not None:
                entries.built[spot.quantity, spot.spot] = new[spot_name(spot)]
        for trial in self.trials:
            hundredths = self.cleaned_data.get(f"time_{trial}")
            result = self.cleaned_data.get(f"result_{trial}") or COUNTS
            if (hundredths is not None or result in VOID) and not self._stands(trial, hundredths, result):
                entries.drops[trial] = (hundredths or 0, result)
        entries.sums = {
            step.slug: new[f"sum_{step.slug}"] for step in self.steps() if new.get(f"sum_{step.slug}")
        }
        return entries

    def _stands(self, trial: int, hundredths: int | None, result: str) -> bool:
        drop = self.record.trials.get(trial) if self.record is not None else None
        if drop is None:
            return False
        standing = drop.reading.hundredths if drop.reading is not None else None
        return (standing, drop.mark or COUNTS) == (hundredths, result)


def _text(label: Any) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 2, "quiet_optional": True}),
    )
