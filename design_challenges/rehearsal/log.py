"""What a rehearsal took down: each answer's kind, time and status, and what must be saved after it."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from dataclasses import dataclass, field

from design_challenges.rehearsal.web import Answer


@dataclass(frozen=True)
class Taken:
    """One answer of the server to a class (`part`): what it was about, when (s, monotonic), its status."""

    kind: str
    part: str
    began: float
    ended: float
    status: int
    size: int


@dataclass
class Log:
    """Everything that was asked. `acknowledged` are the entries the server has said it saved."""

    taken: list[Taken] = field(default_factory=list)
    acknowledged: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    finished: list[str] = field(default_factory=list)

    def note(self, kind: str, part: str, answer: Answer) -> None:
        """Take an answer down; one that a server should not give is a fault, too."""
        row = Taken(kind, part, answer.began, answer.ended, answer.status, len(answer.body))
        self.taken.append(row)
        if answer.status == 0 or answer.status >= 500 or (answer.status >= 400 and answer.status != 422):
            self.faults.append(f"{part}: {answer.method} {answer.path} answered {answer.status or 'nothing'}")

    def seconds(self, kind: str) -> list[float]:
        """Return how long the answers of one kind took, in s, sorted."""
        return sorted(row.ended - row.began for row in self.taken if row.kind == kind)

    def count(self) -> Counter[str]:
        """Return how many answers there were of each kind."""
        return Counter(row.kind for row in self.taken)

    def save_to_board(self) -> list[float]:
        """Return how long after each save was sent a board that asked after it was saved had its answer.

        In s, sorted. A board that had asked a moment earlier may show it already: this is the latest.
        """
        boards: dict[str, list[Taken]] = defaultdict(list)
        for row in self.taken:
            if row.kind == "board" and row.status in (200, 204):
                boards[row.part].append(row)
        waits = []
        for row in self.taken:
            if row.kind == "save" and row.status in (200, 302):
                polls = boards[row.part]
                first = bisect_left(polls, row.ended, key=lambda poll: poll.began)
                if first < len(polls):
                    waits.append(polls[first].ended - row.began)
        return sorted(waits)


def share(values: list[float], part: float) -> float:
    """Return the value under which this share (0 to 1) of sorted values lies; 0.0 of none."""
    return values[min(len(values) - 1, int(part * len(values)))] if values else 0.0
