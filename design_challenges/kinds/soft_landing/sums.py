"""The sums of the soft landing, in order, as many of them on their own as the class's setting asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from design_challenges.services.working import Step

from . import area_sums, average_sums, plan_sums, result_sums


def plan_steps(values: Mapping[str, Any]) -> Sequence[Step]:
    """The sums of a plan: its area, then the material; where every step is asked, the small ones too."""
    area, material = area_sums.area_step(values), plan_sums.material_step(values)
    if not plan_sums.every_step(values):
        return [area, material]
    return [plan_sums.diameter_step(values), area, plan_sums.total_line_step(values), material]


def rounding_step(trial: int, values: Mapping[str, Any]) -> Step:
    """Rounding the reading of one trial (from 1)."""
    return result_sums.rounding_step(trial, values)


def result_steps(values: Mapping[str, Any], round_number: int) -> Sequence[Step]:
    """The sums of the results: the average, the fall speed where speeds are compared, then the change.

    Where every step is asked, the times are added up first, unless the middle one is taken.
    """
    steps = [average_sums.average_step(values)]
    if plan_sums.every_step(values) and values["average"] == "mean":
        steps.insert(0, average_sums.time_sum_step(values))
    if values.get("compare", "speed") == "speed":
        steps.append(result_sums.speed_step(values))
    if round_number > 1:
        steps.append(result_sums.change_step(values))
    return steps


def worked_steps(values: Mapping[str, Any]) -> Sequence[Step]:
    """The speed, where the children compare times: the software gives it."""
    return [] if values.get("compare", "speed") == "speed" else [result_sums.speed_step(values)]


# Doubling, multiplying and adding are decimals of grade 5; a mean, a rate and a circle come later.
_STANDARDS = {
    "diameter": ("5.NBT.B.7",),
    "total_line": ("5.NBT.B.7",),
    "material": ("5.NBT.B.7",),
    "time_sum": ("5.NBT.B.7",),
    "change": ("5.NBT.B.7",),
    "mean": ("6.SP.A.3",),
    "speed": ("6.RP.A.3",),
}


def sum_standards(values: Mapping[str, Any], slug: str) -> Sequence[str]:
    """The standards that a sum works on; an area read off a table or counted is no circle formula."""
    if slug.startswith("rounded_"):
        return ("5.NBT.A.4",)
    if slug == "area":
        return ("7.G.B.4",) if values["area_method"] == "formula" else ()
    return _STANDARDS.get(slug, ())
