"""Works out what a roster file changes in a class: who is added, changed, kept and no longer listed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from classroom.roster import Name, name_key
from classroom.rosters.children import Child


@dataclass(frozen=True)
class Known:
    """A child whom the class has, or had: `left` says which."""

    pk: int
    name: Name
    source_id: str = ""
    left: bool = False


@dataclass(frozen=True)
class Match:
    """A child of the class found in the file, with the name and the id it has from now on."""

    known: Known
    name: Name
    source_id: str

    @property
    def renamed(self) -> bool:
        return self.name != self.known.name

    @property
    def numbered(self) -> bool:
        """Whether the child gets the file's id, or another one."""
        return self.source_id != self.known.source_id

    @property
    def comes_back(self) -> bool:
        return self.known.left

    @property
    def changes(self) -> bool:
        return self.renamed or self.numbered or self.comes_back


@dataclass
class Plan:
    """What a file does to a class; a child stands in exactly one list."""

    added: list[Child] = field(default_factory=list)
    changed: list[Match] = field(default_factory=list)
    kept: list[Match] = field(default_factory=list)
    unlisted: list[Known] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        """Whether the class is already as the file says."""
        return not (self.added or self.changed or self.unlisted)

    @property
    def mostly_unlisted(self) -> bool:
        """Whether most of the class would leave: then it is probably another class's file."""
        staying = len(self.kept) + sum(1 for match in self.changed if not match.comes_back)
        return len(self.unlisted) > staying


def make_plan(children: Sequence[Child], known: Iterable[Known]) -> Plan:
    """Return what the children of a file do to those the class has.

    A child is found by its id first, then by its name, where a second letter that the
    teacher has given counts, then by the first name alone where nobody else has it and
    one side has no initial. Names never join two different ids. Read in once more, a
    file changes nothing.
    """
    free = {child.pk: child for child in sorted(known, key=lambda child: (child.left, child.pk))}
    found: dict[int, Known] = {}
    by_id = {child.source_id: child for child in free.values() if child.source_id}
    for place, child in enumerate(children):
        same = by_id.get(child.source_id) if child.source_id else None
        if same is not None and same.pk in free:
            found[place] = free.pop(same.pk)
    # Who is here comes before who has left, and the longer initial before the shorter.
    _match_names(children, found, free, _initial_fits)
    _match_lone_names(children, found, free)
    plan = Plan()
    for place, child in enumerate(children):
        if place not in found:
            plan.added.append(child)
            continue
        match = _match(found[place], child)
        (plan.changed if match.changes else plan.kept).append(match)
    plan.unlisted = [child for child in free.values() if not child.left]
    plan.unlisted.sort(key=lambda child: (child.name.given_name, child.name.initial, child.pk))
    return plan


def _match_names(
    children: Sequence[Child],
    found: dict[int, Known],
    free: dict[int, Known],
    fits: Callable[[Child, Known], bool],
) -> None:
    by_name: dict[str, list[Known]] = defaultdict(list)
    for known in sorted(free.values(), key=lambda known: (known.left, -len(known.name.initial), known.pk)):
        by_name[name_key(known.name.given_name, "")].append(known)
    for place, child in enumerate(children):
        if place in found:
            continue
        candidates = by_name.get(name_key(child.given_name, ""), [])
        same = next((known for known in candidates if _ids_agree(child, known) and fits(child, known)), None)
        if same is not None:
            candidates.remove(same)
            found[place] = free.pop(same.pk)


def _match_lone_names(children: Sequence[Child], found: dict[int, Known], free: dict[int, Known]) -> None:
    """Join a child without an initial to the only one of that first name on the other side."""
    here: dict[str, list[Known]] = defaultdict(list)
    listed: dict[str, list[int]] = defaultdict(list)
    for known in free.values():
        if not known.left:
            here[name_key(known.name.given_name, "")].append(known)
    for place, child in enumerate(children):
        if place not in found:
            listed[name_key(child.given_name, "")].append(place)
    for key, places in listed.items():
        others = here.get(key, [])
        if len(places) != 1 or len(others) != 1:
            continue
        child, known = children[places[0]], others[0]
        if _ids_agree(child, known) and not (child.initial and known.name.initial):
            found[places[0]] = free.pop(known.pk)


def _ids_agree(child: Child, known: Known) -> bool:
    return not (child.source_id and known.source_id) or child.source_id == known.source_id


def _initial_fits(child: Child, known: Known) -> bool:
    """Say whether the initial that the class has is the beginning of the family name in the file."""
    kept = name_key("", known.name.initial)
    if len(known.name.initial) > 1:
        return name_key("", child.start).startswith(kept)
    return kept == name_key("", child.initial)


def _match(known: Known, child: Child) -> Match:
    """Return what becomes of a child: the file's name, but the teacher's own spelling and second letter."""
    given = child.given_name
    if name_key(given, "") == name_key(known.name.given_name, ""):
        given = known.name.given_name
    initial = child.initial
    if not initial or (known.name.initial and _initial_fits(child, known)):
        initial = known.name.initial
    return Match(known, Name(given, initial), child.source_id or known.source_id)
