"""What a teacher may read in a class's exact figures, as facts that the list of claims speaks about."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from design_challenges.kinds.base import Carried, EffectModel, Variable
from design_challenges.services.statistics import sample_sd

from . import alike, regression, separation
from .drift import variance_of_shift
from .drops_needed import drops_needed
from .experiment import Experiment, plan_experiment
from .gather import Build, ClassData, most_alike
from .intervals import LEVEL, Estimate, t_interval
from .permutation import Exact, permutation
from .regression_to_mean import Pulled, pulled
from .signed_rank import SignedRank, signed_rank
from .variance import OneWay, one_way, repeatability, sd_interval
from .welch import Difference, Summary, summary, welch

FIRST, SECOND = 1, 2
TIED = 0.7
LEAST_DESIGNS = 10


@dataclass(frozen=True)
class Scatter:
    """One round within and between its teams, in the figure's unit.

    `margin` is the teacher's own and `needed` how many drops put a mean within it; None where not asked
    or not known. `usual_drops` is the median number of drops a team.
    """

    round: int
    table: OneWay
    sd: Estimate | None
    repeatability: Estimate | None
    margin: float | None
    needed: int | None
    usual_drops: int
    carried: Carried | None


@dataclass(frozen=True)
class TeamChange:
    """One team's change of the exact figure, round 2 less round 1, with what the drops say of it."""

    team_id: int
    team: str
    first: Build | None
    second: Build | None
    lower_is_better: bool
    change: float | None
    welch: Difference | None
    exact: Exact | None

    @property
    def comparable(self) -> bool:
        if self.first is None or self.second is None:
            return False
        return self.first.conditions == self.second.conditions

    def is_better(self, value: float) -> bool:
        return value < 0 if self.lower_is_better else value > 0


@dataclass(frozen=True)
class ManyChanges:
    """How many teams have an interval, and how many of these leave out no change."""

    intervals: int
    clear: int


@dataclass(frozen=True)
class AllLonger:
    """The teams whose three drops of round 2 all took longer than all three of round 1, as timed."""

    teams: tuple[str, ...]


@dataclass(frozen=True)
class ClassGain:
    """The class's changes: their mean with its interval, how many went which way, and the signed ranks.

    All in the figure's unit, round 2 less round 1, the shifts of the days taken out and their own
    uncertainty counted in the interval.
    """

    changes: tuple[float, ...]
    lower_is_better: bool
    mean: Estimate | None
    ranks: SignedRank | None
    shift_taken_out: bool

    @property
    def average(self) -> float:
        return math.fsum(self.changes) / len(self.changes)

    @property
    def better(self) -> int:
        return sum(1 for change in self.changes if change and (change < 0) == self.lower_is_better)

    @property
    def worse(self) -> int:
        return sum(1 for change in self.changes if change) - self.better

    @property
    def same(self) -> int:
        return len(self.changes) - self.better - self.worse


@dataclass(frozen=True)
class WorstTeams:
    """What the teams with the worst round 1 gained; None where it cannot be worked out."""

    pulled: Pulled | None


@dataclass(frozen=True)
class GoesWith:
    """The correlation of the figure with one variable over the class's designs; None where it has none.

    `line` is the straight line through the points for a chart, at 0 and its slope, in the variable's unit.
    """

    variable: Variable
    designs: int
    worth: float
    estimate: Estimate | None
    line: tuple[float, float] | None


@dataclass(frozen=True)
class Effect:
    """One term's own effect on the log of the figure, the other held, beside what theory gives."""

    term: str
    estimate: Estimate
    expected: float
    assumptions: str


@dataclass(frozen=True)
class Apart:
    """Whether the class's designs can tell two variables apart, and the effects where they can.

    `r` is the correlation of the variables' logarithms, `r_terms` that of the terms; None where one does not
    vary. `expected` are the slopes that theory gives in the middle of the designs. `worth` is how many
    unrelated designs the class's `designs` are worth. `effects` is empty unless the designs are enough,
    untied, and a plane fits through them.
    """

    model: EffectModel
    designs: int
    worth: float
    r: float | None
    r_terms: float | None
    expected: tuple[float, float] | None
    effects: tuple[Effect, ...]

    @property
    def constant(self) -> bool:
        return self.r is None or self.r_terms is None

    @property
    def tied(self) -> bool:
        return any(value is not None and abs(value) > TIED for value in (self.r, self.r_terms))

    @property
    def few(self) -> bool:
        return self.worth < LEAST_DESIGNS


@dataclass(frozen=True)
class Offer:
    """The class experiment that would tell; None where none is better than the class's own designs."""

    experiment: Experiment | None


@dataclass(frozen=True)
class FairMates:
    """One team's fair comparisons: classmates' builds that differ from its own in one variable only."""

    team: Build
    pairs: tuple[alike.FairPair, ...]


@dataclass(frozen=True)
class Share:
    """How many of a build's drops are missing or did not open."""

    build: Build


@dataclass(frozen=True)
class Whole:
    """The class's data as a whole: how many teams and builds there are, and what was left out."""

    teams: int
    builds: int
    left_out: int
    middle_times: bool


@dataclass(frozen=True)
class ForTeacher:
    """Everything under 'For the teacher'."""

    whole: Whole
    shares: tuple[Share, ...]
    scatters: tuple[Scatter, ...]
    changes: tuple[TeamChange, ...]
    many: ManyChanges
    all_longer: AllLonger
    gain: ClassGain
    worst: WorstTeams
    goes_with: tuple[GoesWith, ...]
    apart: Apart | None
    offer: Offer
    fair: tuple[FairMates, ...]


def for_teacher(data: ClassData, margin: float | None, largest: Fraction | None = None) -> ForTeacher:
    """Work out what the exact figures say; every part is empty or None where it cannot be worked out."""
    rounds = sorted({number for team in data.teams for number in team.builds})
    changes = tuple(team_change(data, team.team_id, team.team, team.builds) for team in data.teams)
    scatters = tuple(scatter(data, number, margin) for number in rounds)
    model = data.kind.effects(data.values)
    designs = designs_of(data)
    return ForTeacher(
        whole=Whole(
            teams=sum(1 for team in data.teams if team.builds),
            builds=len(data.builds),
            left_out=data.left_out,
            middle_times=data.values["average"] == "median",
        ),
        shares=tuple(Share(build) for build in data.builds),
        scatters=scatters,
        changes=changes,
        many=many_changes(changes),
        all_longer=all_longer(changes),
        gain=class_gain(data, changes),
        worst=worst_teams(data, changes, scatters),
        goes_with=tuple(goes_with(designs, variable) for variable in data.kind.variables(data.values)),
        apart=apart(designs, model) if model else None,
        offer=Offer(offer(data, designs, model, largest) if model else None),
        fair=fair_mates(data),
    )


def scatter(data: ClassData, number: int, margin: float | None) -> Scatter:
    """Analyse one round within and between its teams."""
    builds = data.of_round(number)
    table = one_way([build.figures for build in builds])
    sd = table.within_sd
    asked = margin is not None and math.isfinite(margin) and margin > 0
    needed = drops_needed(sd, table.within_df, margin) if sd and margin and asked else None
    counts = sorted(build.drops for build in builds)
    times = [second for build in builds for second in build.seconds]
    usual = counts[len(counts) // 2] if counts else 0
    carried = data.kind.carried(data.values, math.fsum(times) / len(times), 1) if times else None
    return Scatter(number, table, sd_interval(table), repeatability(table), margin, needed, usual, carried)


def team_change(data: ClassData, team_id: int, team: str, builds: Mapping[int, Build]) -> TeamChange:
    """Compare a team's first two builds; each figure is that of the mean time."""
    first, second = builds.get(FIRST), builds.get(SECOND)
    change, interval, exact = None, None, None
    if first and second and first.conditions == second.conditions:
        change = second.figure - first.figure
        if not shifted(first, second):
            exact = permutation(first.hundredths, second.hundredths)
        if first.drops > 1 and second.drops > 1:
            interval = welch(_around(first), _around(second), also=_shift_variance(data, [(first, second)]))
    lower = data.performance.lower_is_better
    return TeamChange(team_id, team, first, second, lower, change, interval, exact)


def shifted(first: Build, second: Build) -> bool:
    """Whether the shift of a day was taken out of one of two builds: their drops are not rearranged."""
    return bool(first.day_shares or second.day_shares)


def _around(build: Build) -> Summary:
    """The build's figure with the scatter of its drops' figures (to first order that of the mean)."""
    return Summary(build.figure, summary(build.figures).sd, build.drops)


def many_changes(changes: Sequence[TeamChange]) -> ManyChanges:
    """Count the teams' intervals: of many, some leave out no change by luck."""
    found = [change.welch.estimate for change in changes if change.welch is not None]
    return ManyChanges(len(found), sum(1 for estimate in found if estimate.excludes_zero))


def all_longer(changes: Sequence[TeamChange]) -> AllLonger:
    """Find the teams with three drops against three, all of them longer in round 2."""
    return AllLonger(
        tuple(
            change.team
            for change in changes
            if change.comparable
            and change.first is not None
            and change.second is not None
            and change.first.drops == change.second.drops == 3
            and separation.seen(change.first.hundredths, change.second.hundredths) == "longer"
        )
    )


def class_gain(data: ClassData, changes: Sequence[TeamChange]) -> ClassGain:
    """Average the teams' changes; the interval needs two teams whose changes are not all equal."""
    values = tuple(change.change for change in changes if change.change is not None)
    lower = data.performance.lower_is_better
    if not values:
        return ClassGain((), lower, None, None, False)
    both = _pairs(changes)
    taken_out = any(shifted(first, second) for first, second in both)
    mean = None
    if len(values) > 1 and len(set(values)) > 1:
        mean = _mean_interval(values, *_shift_variance(data, both))
    # The shift's own error is common to all teams, so their signs are not independent once it is taken out.
    return ClassGain(values, lower, mean, None if taken_out else signed_rank(values), taken_out)


def _pairs(changes: Sequence[TeamChange]) -> list[tuple[Build, Build]]:
    return [(c.first, c.second) for c in changes if c.change is not None and c.first and c.second]


def _mean_interval(values: Sequence[float], shift_variance: float, shift_df: float) -> Estimate:
    average = math.fsum(values) / len(values)
    own = sample_sd(values) ** 2 / len(values)
    whole = own + shift_variance
    df = whole**2 / (own**2 / (len(values) - 1) + (shift_variance**2 / shift_df if shift_df else 0.0))
    return t_interval(average, math.sqrt(whole), df, LEVEL)


def _shift_variance(data: ClassData, both: Sequence[tuple[Build, Build]]) -> tuple[float, float]:
    """How uncertain the reference leaves the mean change of these teams, and its degrees of freedom.

    Where the reference was dropped once a day its scatter is taken to be that of the class's own drops.
    """
    if not any(shifted(first, second) for first, second in both):
        return 0.0, 0.0
    log_sd, df = data.shifts.log_sd, data.shifts.df
    if log_sd is None:
        builds = [build for build in data.builds if build.drops > 1]
        scatter_of_logs = one_way([[math.log(second) for second in build.seconds] for build in builds])
        log_sd, df = scatter_of_logs.within_sd or 0.0, scatter_of_logs.within_df
    weights: dict[str, float] = {}
    for first, second in both:
        for build, sign in ((first, -1), (second, 1)):
            for day, share in build.day_shares.items():
                weights[day] = weights.get(day, 0.0) + sign * share * _slope(data, build) / len(both)
    return variance_of_shift(data.shifts, weights, log_sd), df


def _slope(data: ClassData, build: Build) -> float:
    """How the figure goes with the log of the day's shift: a longer day taken out makes the times shorter."""
    time, step = math.fsum(build.seconds) / build.drops, 1e-5
    up = data.kind.drop_figure(data.values, time * math.exp(-step))
    down = data.kind.drop_figure(data.values, time * math.exp(step))
    return (up - down) / (2 * step)


def worst_teams(data: ClassData, changes: Sequence[TeamChange], scatters: Sequence[Scatter]) -> WorstTeams:
    """What of the worst teams' gain would have come by itself, from round 1's repeatability."""
    both = _pairs(changes)
    if not both or not scatters or scatters[0].round != FIRST:
        return WorstTeams(None)
    drops = len(both) / math.fsum(1 / first.drops for first, _second in both)
    return WorstTeams(
        pulled(
            [first.figure for first, _second in both],
            [second.figure for _first, second in both],
            drops,
            scatters[0].repeatability,
            lower_is_better=data.performance.lower_is_better,
        )
    )


@dataclass(frozen=True)
class Designs:
    """The builds whose design is known, dropped under the same conditions, and what they are worth."""

    builds: tuple[Build, ...]
    distinct: int
    worth: float


def designs_of(data: ClassData) -> Designs:
    """Gather the builds that can say what goes with what."""
    builds = most_alike([build for build in data.builds if build.design and build.figure > 0])
    return Designs(tuple(builds), *alike.distinct_designs(builds, alike.tolerances(data)))


def goes_with(designs: Designs, variable: Variable) -> GoesWith:
    """Correlate the figure with one variable; a team's two designs are related and count less."""
    x = [build.sizes[variable.slug] for build in designs.builds]
    y = [build.figure for build in designs.builds]
    fit = regression.least_squares([x], y)
    line = (fit.coefficients[0], fit.coefficients[1]) if fit else None
    estimate = regression.correlation_interval(x, y, designs.worth)
    return GoesWith(variable, designs.distinct, designs.worth, estimate, line)


def apart(designs: Designs, model: EffectModel) -> Apart:
    """See whether the designs tell the two variables apart, and fit their effects where they do."""
    builds = designs.builds
    logs = [[math.log(build.sizes[slug]) for build in builds] for slug in model.variables]
    terms = [model.terms_of(build.design) for build in builds]
    columns = [[term[place] for term in terms] for place in range(2)]
    found = Apart(
        model,
        designs.distinct,
        designs.worth,
        regression.correlation(*logs),
        regression.correlation(*columns),
        model.slopes((math.fsum(columns[0]) / len(builds), math.fsum(columns[1]) / len(builds)))
        if builds
        else None,
        (),
    )
    if found.constant or found.tied or found.few:
        return found
    estimates = _effects(builds, columns)
    if estimates is None or found.expected is None:
        return found
    effects = tuple(
        Effect(str(term), estimate, slope, str(model.assumptions))
        for term, estimate, slope in zip(model.terms, estimates, found.expected, strict=True)
    )
    return replace(found, effects=effects)


def _effects(builds: Sequence[Build], columns: Sequence[Sequence[float]]) -> tuple[Estimate, ...] | None:
    y = [math.log(build.figure) for build in builds]
    teams = [build.team_id for build in builds]
    if len(set(teams)) < len(teams):
        return regression.leave_out_groups(columns, y, teams)
    fit = regression.least_squares(columns, y)
    return tuple(fit.estimate(place) for place in range(1, len(columns) + 1)) if fit else None


def offer(
    data: ClassData, designs: Designs, model: EffectModel, largest: Fraction | None
) -> Experiment | None:
    """Plan the class experiment for the teams as they stand: each team's latest build is what it can keep."""
    return plan_experiment(
        designs.builds,
        data.of_round(FIRST),
        model,
        alike.tolerances(data),
        lower_is_better=data.performance.lower_is_better,
        largest=largest,
    )


def fair_mates(data: ClassData) -> tuple[FairMates, ...]:
    """Each team's latest build beside the classmates' latest builds that make a fair comparison."""
    latest = [team.builds[max(team.builds)] for team in data.teams if team.builds]
    pairs = alike.fair_pairs(latest, alike.tolerances(data))
    return tuple(
        FairMates(build, tuple(pair for pair in pairs if pair.team.team_id == build.team_id))
        for build in latest
    )
