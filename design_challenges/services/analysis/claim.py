"""What a claim is, and the sentence it becomes: the claims themselves stand in `claims`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

from design_challenges.words import Words

from .labels import LABELS
from .speech import SPACE, Speech

Audience = Literal["children", "teacher"]
Fact = TypeVar("Fact")
Numbers = Mapping[str, str]


@dataclass(frozen=True)
class Claim(Generic[Fact]):
    """One claim: said of a fact of the sort `about` whenever `when` holds.

    `words` is filled in from `numbers`, or given by a function where the kind of challenge has its own.
    """

    slug: str
    about: type[Fact]
    audience: Audience
    when: Callable[[Fact], bool]
    words: Words | Callable[[Fact, Speech], Words]
    numbers: Callable[[Fact, Speech], Numbers] = lambda _fact, _speech: {}

    def said(self, fact: Fact, speech: Speech) -> Sentence:
        """Put the claim into words; only where `when` holds."""
        numbers = self.numbers(fact, speech)
        words = self.words(fact, speech) if callable(self.words) else self.words
        # A number and its per cent sign stay on one line.
        text = str(words).format(**numbers).replace(" %", f"{SPACE}%")
        return Sentence(self.slug, self.audience, text, numbers)


@dataclass(frozen=True)
class Sentence:
    """A claim as it is said, and the numbers behind it by name."""

    slug: str
    audience: Audience
    text: str
    numbers: Numbers

    @property
    def cited(self) -> list[tuple[Words, str]]:
        """The numbers that the sentence rests on, each with what it is called, for a page to list."""
        return [(LABELS[name], text) for name, text in self.numbers.items() if name in LABELS and text]
