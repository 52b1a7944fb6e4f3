"""One figure of the benchmark, and how figures are printed."""

from __future__ import annotations

import math
import os
import platform
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

Rule = Literal["at least", "at most", ""]


@dataclass(frozen=True)
class Row:
    """A figure beside what it is held against.

    `ratio` is `value` by `baseline`, where there is one. `target` is held against the ratio where there is a
    baseline, else against the value; `rule` says on which side it lies, "" where there is no target.
    """

    name: str
    value: float | None
    unit: str
    baseline: float | None = None
    target: float | None = None
    rule: Rule = ""
    note: str = ""

    @property
    def ratio(self) -> float | None:
        if self.value is None or not self.baseline:
            return None
        return self.value / self.baseline

    @property
    def met(self) -> bool | None:
        """Say whether the target is met; None where there is none, or where nothing was measured."""
        held = self.ratio if self.baseline is not None else self.value
        if held is None or self.target is None or not self.rule:
            return None
        return held >= self.target if self.rule == "at least" else held <= self.target

    def as_json(self) -> dict[str, Any]:
        """Return name, value, unit, baseline, ratio, target, met, and what else there is to say."""
        return asdict(self) | {"ratio": self.ratio, "met": self.met}


def fit_exponent(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """Return k of cost = c·size^k, fitted by least squares to the logarithms; all numbers above 0."""
    xs, ys = [math.log(size) for size in sizes], [math.log(cost) for cost in costs]
    middle_x, middle_y = sum(xs) / len(xs), sum(ys) / len(ys)
    above = sum((x - middle_x) * (y - middle_y) for x, y in zip(xs, ys, strict=True))
    return above / sum((x - middle_x) ** 2 for x in xs)


def machine() -> str:
    """Return the machine in a line: processor, cores, memory, system, Python, load."""
    about = Path("/proc/cpuinfo").read_text(encoding="utf-8") if Path("/proc/cpuinfo").exists() else ""
    names = [line.partition(":")[2].strip() for line in about.splitlines() if line.startswith("model name")]
    parts = [names[0] if names else platform.processor() or platform.machine(), f"{os.cpu_count()} cores"]
    if hasattr(os, "sysconf") and "SC_PHYS_PAGES" in os.sysconf_names:
        parts.append(f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GB")
    parts += [platform.platform(terse=True), f"Python {platform.python_version()}"]
    if hasattr(os, "getloadavg"):
        parts.append(f"load {os.getloadavg()[0]:.1f}")
    return ", ".join(parts)


def as_table(rows: Iterable[Row]) -> str:
    """Return the figures as a Markdown table."""
    lines = ["| what | measured | beside | ratio | target | |", "| --- | ---: | ---: | ---: | --- | --- |"]
    for row in rows:
        met = {True: "met", False: "**missed**", None: ""}[row.met]
        target = f"{row.rule} {_number(row.target)}" if row.rule and row.target is not None else ""
        cells = [
            row.name,
            "not measured" if row.value is None else f"{_number(row.value)} {row.unit}".strip(),
            "" if row.baseline is None else f"{_number(row.baseline)} {row.unit}".strip(),
            "" if row.ratio is None else f"{row.ratio:.2f}",
            target,
            "; ".join(part for part in (met, row.note) if part),
        ]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _number(value: float | None) -> str:
    if value is None:
        return ""
    if value == 0 or abs(value) >= 100:
        return f"{value:.0f}"
    return f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}".rstrip("0").rstrip(".")
