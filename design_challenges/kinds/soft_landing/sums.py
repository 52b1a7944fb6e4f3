"""The sums of the soft landing, in order: area, material, rounded times, average, fall speed, change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from design_challenges.services.working import Step

from . import plan_sums, result_sums


def plan_steps(values: Mapping[str, Any]) -> Sequence[Step]:
    """The sums of a plan: its canopy area, then the material it uses."""
    return [plan_sums.area_step(values), plan_sums.material_step(values)]


def rounding_step(trial: int, values: Mapping[str, Any]) -> Step:
    """Rounding the reading of one trial (from 1)."""
    return result_sums.rounding_step(trial, values)


def result_steps(values: Mapping[str, Any], round_number: int) -> Sequence[Step]:
    """The sums of the results: the average, the fall speed where speeds are compared, then the change."""
    steps = [result_sums.average_step(values)]
    if values.get("compare", "speed") == "speed":
        steps.append(result_sums.speed_step(values))
    if round_number > 1:
        steps.append(result_sums.change_step(values))
    return steps


def worked_steps(values: Mapping[str, Any]) -> Sequence[Step]:
    """The speed, where the children compare times: the software gives it."""
    return [] if values.get("compare", "speed") == "speed" else [result_sums.speed_step(values)]
