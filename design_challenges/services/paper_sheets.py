"""What stands on a team's paper sheets: the same questions as on the tablet, with room to write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from classroom.models import Student, Team
from design_challenges.kinds.base import Quantity, Spot
from design_challenges.services.record_types import ClassRecord, RoundRecord, TeamRecord
from design_challenges.services.working import Step
from design_challenges.words import Words


@dataclass(frozen=True)
class Sheet:
    """One team's sheets of a round."""

    team: Team
    members: Sequence[Student]
    before: RoundRecord | None
    length_unit: str
    quantities: Sequence[Quantity]
    spots: Sequence[Spot]
    trials: range
    plan_sums: Sequence[Step]
    rounding: Step
    result_sums: Sequence[Step]
    facts: Sequence[tuple[Words, Words]]
    table: Sequence[tuple[str, str]]
    children_work: bool

    @property
    def names(self) -> str:
        """Return the children of the team in one line."""
        return ", ".join(str(member) for member in self.members)


def sheet(klass: ClassRecord, team: TeamRecord, number: int) -> Sheet:
    """Return what a team's sheets of a round hold, under the settings its round has or will have."""
    record = team.rounds.get(number)
    values = record.values if record is not None else klass.values
    kind, before = klass.kind, team.rounds.get(number - 1)
    return Sheet(
        team=team.team,
        members=team.members(number),
        before=before,
        length_unit=kind.length_unit(values).symbol,
        quantities=kind.quantities(values),
        spots=kind.spots(values),
        trials=range(1, int(values["trials_per_round"]) + 1),
        plan_sums=kind.plan_steps(values),
        rounding=kind.rounding_step(values, 1),
        result_sums=kind.result_steps(values, number),
        facts=kind.facts(values),
        table=kind.reference_table(values),
        children_work=values["sums_by"] == "children",
    )


VOID_REASONS: Sequence[Words] = (
    _("timing slip"),
    _("hit a wall or a person"),
    _("released wrongly"),
)
