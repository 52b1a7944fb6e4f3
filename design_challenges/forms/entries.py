"""What every team form has: the values that stand now, which of them the form showed, and how it is saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict

from design_challenges.services.entries import Author
from design_challenges.services.record_types import NoteRecord, RoundRecord, SizeRecord
from design_challenges.words import Words

SEEN = "seen_"


@dataclass(frozen=True)
class Standing:
    """A field as it stands in the round: its text and the id of its row (0 where there is none)."""

    text: str = ""
    row_id: int = 0

    @classmethod
    def of(cls, record: SizeRecord | NoteRecord | None) -> Standing:
        """Return how a size or a note stands."""
        if record is None:
            return cls()
        return cls(record.typed if isinstance(record, SizeRecord) else record.text, record.row_id)


@dataclass(frozen=True)
class TwoAnswers:
    """A field that two tablets filled in differently: what it asks, ours, and theirs that stands."""

    label: Words
    ours: str
    theirs: str


class EntryForm(forms.Form):
    """A team form over one round: it begins with what stands and says which rows it showed.

    Subclasses give `standing` (by field name, after their fields are made) and `save`. `data` is what was
    posted, `held` what was typed before the tablet was signed out.
    """

    use_required_attribute = False

    def __init__(
        self, record: RoundRecord, data: Mapping[str, Any] | None = None, held: QueryDict | None = None
    ) -> None:
        self.record = record
        super().__init__(data)
        self.make_fields()
        now = self.standing()
        self.seen_rows = {name: standing.row_id for name, standing in now.items()}
        self.initial = {name: standing.text for name, standing in now.items() if standing.text}
        if held is not None:
            self.initial |= {
                name: field.widget.value_from_datadict(held, held, name)
                for name, field in self.fields.items()
                if name in held
            }

    def make_fields(self) -> None:
        """Add the fields that depend on the round."""

    def standing(self) -> dict[str, Standing]:
        """Return how each field stands now."""
        raise NotImplementedError

    def save(self, author: Author) -> None:
        """Add the rows of a valid form; raises Conflict where another tablet was first."""
        raise NotImplementedError

    def body(self) -> dict[str, Any]:
        """Return what was typed, as the entry keeps it."""
        return {name: self._typed(name) for name in self.fields}

    def _typed(self, name: str) -> str:
        return str(self[name].data or "")

    def hidden(self) -> list[tuple[str, int]]:
        """Return the names and row ids that the page carries along."""
        return [(f"{SEEN}{name}", row_id) for name, row_id in self.seen_rows.items()]

    def seen(self, name: str) -> int:
        """Return the id of the row that the sent form had shown for a field (0 for none)."""
        try:
            return int(self.data.get(f"{SEEN}{name}", 0))
        except ValueError:
            return 0

    def two_answers(self, now: RoundRecord) -> list[TwoAnswers]:
        """Return the fields that another tablet has filled in differently, against the round as it is now."""
        theirs = type(self)(now)
        found = []
        for name, standing in theirs.standing().items():
            ours = self._typed(name).strip()
            if standing.row_id not in (0, self.seen(name)) and standing.text != ours:
                label = self.fields[name].label or ""
                pair = TwoAnswers(label, theirs.in_words(name, ours), theirs.in_words(name, standing.text))
                found.append(pair)
        return found

    def in_words(self, name: str, value: str) -> str:
        """Return a value as the page says it: a choice by its words."""
        choices = dict(getattr(self.fields[name], "choices", ()))
        return str(choices.get(value, value))
