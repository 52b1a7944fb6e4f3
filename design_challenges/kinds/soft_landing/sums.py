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
