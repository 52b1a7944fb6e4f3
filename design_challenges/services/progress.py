"""Where a team stands in a round: which steps are done, which is next, and whether it is stuck."""

from __future__ import annotations

from dataclasses import dataclass

from design_challenges.services.readiness import check_readiness
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord, WorkingRecord
from design_challenges.steps import Step

ORDER = list(Step)


@dataclass(frozen=True)
class StepState:
    """One step of a round as a team's page shows it.

    `reachable` is False where an earlier step is missing; `open` is the teacher's switch.
    """

    step: Step
    done: bool
    current: bool
    open: bool
    reachable: bool


def is_done(record: RoundRecord, step: Step) -> bool:
    """Return whether a team has finished a step of a round."""
    if step is Step.PLAN:
        # Cleared by the teacher's hand, a plan with gaps is good enough to build.
        return record.clearance is not None or all(
            item.passed for item in check_readiness(record) if item.slug not in ("limit", "drawing")
        )
    if step is Step.READY:
        return record.clearance is not None
    if step is Step.BUILD:
        return record.build_allowed
    if step is Step.TEST:
        return record.trials_complete
    if step is Step.RESULTS:
        return record.trials_complete and (
            not record.sums_by_children or all(work.accepted is not None for work in result_workings(record))
        )
    return "noticing" in record.notes


def next_step(record: RoundRecord) -> Step | None:
    """Return the first step that is not done, or None when the round is complete."""
    return next((step for step in ORDER if not is_done(record, step)), None)


def step_states(
    klass: ClassRecord, team: TeamRecord, record: RoundRecord, shown: Step | None
) -> list[StepState]:
    """Return the trail of a round; a step is reachable when all before it are done."""
    states = []
    reachable = True
    for step in ORDER:
        done = is_done(record, step)
        states.append(
            StepState(
                step=step,
                done=done,
                current=step is shown,
                open=klass.is_open(team.team.pk, record.number, step),
                reachable=reachable or done,
            )
        )
        reachable = reachable and done
    return states


def result_workings(record: RoundRecord) -> list[WorkingRecord]:
    """Return where the team stands at each rounding and each result sum."""
    steps = [*record.rounding_steps.values(), *record.result_steps]
    return [record.working(step) for step in steps]


def stuck_steps(record: RoundRecord) -> list[WorkingRecord]:
    """Return the sums at which the team has tried twice or more without getting there."""
    if not record.sums_by_children:
        return []
    plan = (
        [record.working(step) for step in record.kind.plan_steps(record.values)]
        if record.plan_complete
        else []
    )
    results = result_workings(record) if record.trials_complete else []
    return [work for work in [*plan, *results] if work.stuck]
