"""What the teams of a play think up, type and time, and what must come out of it by their own sums."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from tests.browser.plays import arithmetic


@dataclass(frozen=True)
class Setup:
    """The class's settings as far as the sums need them."""

    height: Decimal = Decimal(15)
    lines: int = 4
    price_area: Decimal = Decimal(1)
    price_line: Decimal = Decimal(3)
    limit: Decimal = Decimal(375)
    places_time: int = 1
    places_speed: int = 1
    places_area: int = 0
    middle: bool = False
    by_time: bool = False
    length_unit: str = "in"
    speed_unit: str = "ft/s"

    @property
    def figure_unit(self) -> str:
        return "s" if self.by_time else self.speed_unit

    @property
    def figure_places(self) -> int:
        return self.places_time if self.by_time else self.places_speed


OLDER = Setup()
YOUNGER_METRIC = Setup(
    height=Decimal("4.5"),
    price_line=Decimal(8),
    limit=Decimal(2400),
    places_speed=2,
    middle=True,
    by_time=True,
    length_unit="cm",
    speed_unit="m/s",
)


@dataclass(frozen=True)
class DropStory:
    """One drop as it happens: called void (then no time is read), or timed, marked, asked about."""

    time: str = ""
    mark: str = "opened"
    void: str = ""
    asked: bool = False

    @property
    def seconds(self) -> Decimal:
        return arithmetic.read(self.time)


@dataclass(frozen=True)
class RoundStory:
    """One team's round: `plan` is what it chooses (idea A in round 1), `too_big` what it tried first."""

    plan: tuple[str, str]
    across: Sequence[str]
    lines: Sequence[str]
    drops: Sequence[DropStory]
    idea_b: tuple[str, str] = ("5", "10")
    too_big: tuple[str, str] | None = None
    pi: str = "key"
    slips: Mapping[str, Sequence[str]] = field(default_factory=dict)
    cannot_be_mended: bool = False
    change: str = "canopy_radius"
    why: str = "Because our first one was small"
    why_two: str = "The limit: when one grows, the other must shrink"
    noticing: str = "We notice that wide canopies come down slower."

    # --- the sums, on this test's own arithmetic --------------------------------------------

    def area(self, setup: Setup, size: tuple[str, str] | None = None) -> Decimal:
        radius = arithmetic.read((size or self.plan)[0])
        return arithmetic.area(radius, setup.places_area, self.pi)

    def material(self, setup: Setup, size: tuple[str, str] | None = None) -> Decimal:
        line = arithmetic.read((size or self.plan)[1])
        return setup.price_area * self.area(setup, size) + setup.price_line * setup.lines * line

    @property
    def diameter(self) -> Decimal:
        """Across the made canopy: the mean of the ways."""
        return arithmetic.mean([arithmetic.read(text) for text in self.across])

    @property
    def line(self) -> Decimal:
        return arithmetic.mean([arithmetic.read(text) for text in self.lines])

    def built_material(self, setup: Setup) -> Decimal:
        area = arithmetic.area(self.diameter / 2, setup.places_area)
        total = sum((arithmetic.read(text) for text in self.lines), Decimal(0))
        return setup.price_area * area + setup.price_line * total

    @property
    def counting(self) -> list[DropStory]:
        return [drop for drop in self.drops if not drop.void]

    def rounded(self, setup: Setup) -> list[Decimal]:
        return [arithmetic.rounded(drop.seconds, setup.places_time) for drop in self.counting]

    def average(self, setup: Setup) -> Decimal:
        times = self.rounded(setup)
        exact = arithmetic.middle(times) if setup.middle else arithmetic.mean(times)
        return arithmetic.rounded(exact, setup.places_time)

    def speed(self, setup: Setup) -> Decimal:
        exact = arithmetic.WORK.divide(setup.height, self.average(setup))
        return arithmetic.rounded(exact, setup.places_speed)

    def exact_speed(self, setup: Setup) -> Decimal:
        """From the raw readings, unrounded."""
        raw = [drop.seconds for drop in self.counting]
        average = arithmetic.middle(raw) if setup.middle else arithmetic.mean(raw)
        return arithmetic.WORK.divide(setup.height, average)

    def figure(self, setup: Setup) -> Decimal:
        """What teams are compared by."""
        return self.average(setup) if setup.by_time else self.speed(setup)

    def answer(self, step: str, setup: Setup, before: RoundStory | None) -> str:
        """Return the right answer to a step of the sums."""
        if step.startswith("rounded_"):
            return f"{self.rounded(setup)[int(step.removeprefix('rounded_')) - 1]:f}"
        if step == "area":
            return f"{self.area(setup):f}"
        if step == "material":
            return arithmetic.as_number(self.material(setup))
        if step == "mean":
            return f"{self.average(setup):f}"
        if step == "speed":
            return f"{self.speed(setup):f}"
        assert step == "change", step
        assert before is not None
        return f"{abs(self.figure(setup) - before.figure(setup)):f}"

    def direction(self, setup: Setup, before: RoundStory) -> str:
        """Return which way the fall went: slower, faster or same."""
        now, then = self.figure(setup), before.figure(setup)
        if now == then:
            return "same"
        return "slower" if (now > then) == setup.by_time else "faster"


def drops(*times: str) -> list[DropStory]:
    """Return fair drops that opened."""
    return [DropStory(time) for time in times]


def four(length: str) -> list[str]:
    return [length] * 4


# Eight teams of the class with feet and inches, older preset, three trials. Each does something of its own.
CLASS = [
    # over the limit at first: 254 + 144 = 398 of 375
    (
        RoundStory(
            ("8", "12"), ("16", "15 1/2"), four("12"), drops("3.62", "3.71", "3.55"), ("5", "14"), ("9", "12")
        ),
        RoundStory(("8 1/2", "12"), ("17", "17"), four("12"), drops("3.81", "3.78", "3.90")),
    ),
    # a slip in the area, and one in the mean
    (
        RoundStory(
            ("7", "13"),
            ("14", "14"),
            ("13", "13", "12 3/4", "13"),
            drops("3.44", "3.28", "3.35"),
            pi="3.14",
            slips={"area": ["49"], "mean": ["10.1"]},
        ),
        RoundStory(("8", "13"), ("16", "16"), four("13"), drops("3.65", "3.49", "3.58"), pi="3.14"),
    ),
    # one drop called void
    (
        RoundStory(
            ("6", "16"),
            ("12", "12"),
            four("16"),
            [DropStory("3.02"), DropStory(void="timing"), DropStory("3.15"), DropStory("2.95")],
            pi="22/7",
        ),
        RoundStory(
            ("6", "20"),
            ("12", "12"),
            four("20"),
            drops("2.85", "2.95", "2.9"),
            pi="22/7",
            change="line_length",
        ),
    ),
    # one did not open
    (
        RoundStory(
            ("7 1/2", "11"),
            ("15", "15"),
            four("11"),
            [DropStory("3.50"), DropStory("1.42", mark="not_open"), DropStory("3.61")],
        ),
        RoundStory(
            ("7 1/2", "14"), ("15", "15"), four("14"), drops("3.55", "3.66", "3.49"), change="line_length"
        ),
    ),
    # it broke after two drops and cannot be mended
    (
        RoundStory(("8", "10"), ("16", "16"), four("10"), drops("3.70", "3.85"), cannot_be_mended=True),
        RoundStory(("8 1/2", "10"), ("17", "17"), four("10"), drops("3.95", "4.02", "3.88")),
    ),
    # one under the time of a dropped stone, confirmed
    (
        RoundStory(
            ("5", "20"),
            ("10", "10"),
            four("20"),
            [DropStory("0.91", asked=True), DropStory("2.44"), DropStory("2.51")],
        ),
        RoundStory(("7", "18"), ("14", "14"), four("18"), drops("3.33", "3.24", "3.45"), change="two"),
    ),
    # written with fractions and decimal commas
    (
        RoundStory(("6 1/2", "14 1/4"), ("13", "13 1/4"), four("14,25"), drops("3,11", "3,2", "3,05")),
        RoundStory(
            ("6.5", "18"), ("13", "13"), four("18"), drops("2,97", "3,05", "3,1"), change="line_length"
        ),
    ),
    # times that end in a five, so that the children's chain and the exact figure part, and nothing changes
    (
        RoundStory(("7", "12"), ("14", "14"), four("12"), drops("3.25", "3.35", "3.45")),
        RoundStory(("7", "12"), ("14", "14"), four("12"), drops("3.45", "3.25", "3.35"), change="other"),
    ),
]

# One team of a metric class, younger preset: area from the table, the middle time, seconds compared.
YOUNGER = (
    RoundStory(
        ("17", "35"),
        ("34", "34.5"),
        four("35"),
        drops("3.18", "3.94", "3.37"),
        ("14", "40"),
        slips={"mean": ["3.5"]},
    ),
    RoundStory(("19", "35"), ("38", "38"), four("35"), drops("3.71", "3,62", "3.65"), change="canopy_radius"),
)
