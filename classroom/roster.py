"""Reads a pasted list of names into first names and initials; nothing more of a name is kept."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

LONGEST_NAME = 40
LONGEST_INITIAL = 3
MOST_NAMES = 60
"""As many names as one paste takes: more than any class."""

_NUMBERING = re.compile(r"^\s*(?:\d{1,3}\s*[.):]|\d{1,3}\s|[-–—*•·]\s)\s*")
_MAIL = re.compile(r"\S+@\S+\.\S+")
_JOINERS = "\u200c\u200d"
_SEPARATORS = re.compile(r"[\t;|]")


@dataclass(frozen=True)
class Name:
    """A child as the class keeps it: a given name, and an initial or nothing."""

    given_name: str
    initial: str = ""

    @property
    def shown(self) -> str:
        """Return the name as a list shows it: 'Ana P.'"""
        return f"{self.given_name} {self.initial}." if self.initial else self.given_name

    @property
    def key(self) -> str:
        """Return the form by which two names are the same: no case, no accents."""
        return name_key(self.given_name, self.initial)


def name_key(given_name: str, initial: str) -> str:
    """Return the form by which two names are the same: neither case nor accents tell them apart."""
    plain = unicodedata.normalize("NFKD", f"{given_name} {initial}".casefold())
    return " ".join("".join(char for char in plain if not unicodedata.combining(char)).split())


def tidy(text: str) -> str:
    """Return a name without control and invisible characters, in one spelling (NFC), blanks single.

    Joiners stay: some scripts and signs need them between two visible characters.
    """
    text = unicodedata.normalize("NFC", text)
    return " ".join("".join(map(_visible, text)).split()).strip(_JOINERS)


def _visible(char: str) -> str:
    category = unicodedata.category(char)
    if category == "Cc":
        return " "
    # Private and half characters print as nothing anywhere but here; a spreadsheet refuses them.
    return "" if category in ("Cf", "Co", "Cs") and char not in _JOINERS else char


def tidy_initial(text: str) -> str:
    """Return an initial as it is stored: at most three letters, the first a capital, no point."""
    letters = "".join(char for char in tidy(text) if char.isalnum() or unicodedata.combining(char))
    return (letters[:1].upper() + letters[1:])[:LONGEST_INITIAL]


def initial_of(word: str) -> str:
    """Return the first letter of a word with the accents that belong to it, as a capital."""
    start = next((place for place, char in enumerate(word) if char.isalnum()), None)
    if start is None:
        return ""
    end = start + 1
    while end < len(word) and unicodedata.combining(word[end]):
        end += 1
    return word[start:end].upper()[:LONGEST_INITIAL]


def read_names(pasted: str) -> list[Name]:
    """Return the names of a pasted list, in its order: one a line, or several commas in one line."""
    return [name for name in map(read_name, _pieces(pasted)) if name is not None]


def skipped_lines(pasted: str) -> list[str]:
    """Return what a pasted list has besides names and blanks, such as a line drawn with dashes."""
    return [tidy(piece) for piece in _pieces(pasted) if tidy(piece) and read_name(piece) is None]


def _pieces(pasted: str) -> Iterator[str]:
    for line in re.split(r"\r\n|[\n\r\v\f\u0085\u2028\u2029]", pasted):
        # One comma puts the family name first; more of them are a list in one line.
        yield from line.split(",") if line.count(",") > 1 else [line]


def read_name(line: str) -> Name | None:
    """Return one line as a given name and an initial, or None where there is no name on it.

    'Ana', 'Ana P.', 'Ana Pérez', 'Pérez, Ana' and columns from a spreadsheet are read;
    of a family name only its first letter is kept. Two first names stay together
    where an initial follows them ('Mary Ann W.').
    """
    parts = split_name(line)
    return Name(parts[0], family_initial(parts[1])) if parts else None


def split_name(line: str) -> tuple[str, str] | None:
    """Return the given name and the family name (or initial, or "") on one line, None for no name."""
    parts = _split(line)
    # A line of dashes or a number is nobody's name.
    return parts if parts and any(map(str.isalpha, parts[0] + parts[1])) else None


def _split(line: str) -> tuple[str, str] | None:
    line = _MAIL.sub(" ", _NUMBERING.sub("", line))
    columns = [tidy(column) for column in _SEPARATORS.split(line)]
    columns = [column for column in columns if column and not column.isdigit()]
    if len(columns) > 1:
        return columns[0], columns[1]
    text = columns[0] if columns else ""
    family, comma, given = (part.strip() for part in text.partition(","))
    if comma and given:
        return given.split()[0], family
    words = text.replace(",", " ").split()
    if not words:
        return None
    if len(words) > 1 and _is_initial(words[-1]):
        return " ".join(words[:-1]), words[-1]
    return words[0], " ".join(words[1:])


def family_initial(family: str) -> str:
    """Return what is kept of a family name: the first letter of its last word, or the initial it is."""
    words = [word for word in family.split() if initial_of(word)]
    if not words:
        return ""
    return tidy_initial(words[-1]) if _is_initial(words[-1]) else initial_of(words[-1])


def family_start(family: str) -> str:
    """Return the first letters of the word that gives the initial, as many as an initial may have."""
    words = [word for word in family.split() if initial_of(word)]
    return tidy_initial(words[-1]) if words else ""


def _is_initial(word: str) -> bool:
    """Say whether a word is an initial as teachers write it: one letter, or up to three and a point."""
    letters = [char for char in word if char.isalnum()]
    return bool(letters) and (len(letters) == 1 or (word.endswith(".") and len(letters) <= LONGEST_INITIAL))


def doubles(names: Iterable[Name], known: Iterable[Name] = ()) -> list[str]:
    """Return for each name "known" where the class has it, "twice" where the list has it again, or ""."""
    names = list(names)
    here = {name.key for name in known}
    counts = Counter(name.key for name in names)
    return ["known" if name.key in here else "twice" if counts[name.key] > 1 else "" for name in names]
