"""The names that new teams are given, from shore and hedgerow; a teacher may change them."""

from __future__ import annotations

from collections.abc import Iterable

TEAM_NAMES = (
    "Puffins",
    "Otters",
    "Swifts",
    "Hares",
    "Kestrels",
    "Newts",
    "Wrens",
    "Badgers",
    "Terns",
    "Hedgehogs",
    "Owls",
    "Seals",
    "Robins",
    "Foxes",
    "Herons",
    "Bumblebees",
    "Curlews",
    "Dolphins",
    "Larks",
    "Squirrels",
    "Gannets",
    "Beetles",
    "Finches",
    "Moles",
    "Plovers",
    "Crabs",
    "Ravens",
    "Dragonflies",
    "Swallows",
    "Toads",
    "Falcons",
    "Starfish",
    "Thrushes",
    "Voles",
    "Egrets",
    "Crickets",
    "Linnets",
    "Limpets",
    "Magpies",
    "Ladybirds",
)


def new_names(count: int, taken: Iterable[str]) -> list[str]:
    """Return `count` team names that differ from those taken (whatever their case), the usual ones first."""
    used = {name.casefold() for name in taken}
    names: list[str] = []
    turn = 1
    while len(names) < count:
        for name in TEAM_NAMES:
            fresh = name if turn == 1 else f"{name} {turn}"
            if fresh.casefold() not in used and len(names) < count:
                names.append(fresh)
        turn += 1
    return names
