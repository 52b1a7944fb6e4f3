"""The sums of the results beside the average: a time rounded, the fall speed, the change between rounds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from design_challenges.services.common_slips import rounded_answers, rounding_slips, writing_slips
from design_challenges.services.rounding import format_display, format_figure, round_half_up
from design_challenges.services.statistics import mean, median
from design_challenges.services.units import FOOT, METRE, convert
from design_challenges.services.working import Hints, Number, Right, Slip, Step, SumContext
from design_challenges.words import Words

from .plan_sums import points, rounded_to, system

ROUNDING_HINTS = Hints(
    _("Which two numbers does it lie between? Which one is nearer?"),
    _("Look at the digit after your last one. Five or more goes up."),
    (
        _("To tenths: 8.37 lies between 8.3 and 8.4. It is nearer 8.4."),
        _("To tenths: 7.12 lies between 7.1 and 7.2. It is nearer 7.1."),
    ),
)


def rounded_times(context: SumContext) -> tuple[Decimal, ...]:
    """The readings that count, each rounded half-up to the class's place."""
    places = int(context.settings["places_time"])
    return tuple(round_half_up(reading, places) for reading in context.readings)


def exact_average(context: SumContext) -> Fraction:
    """The mean or the middle one of the rounded times, before it is rounded again."""
    times = rounded_times(context)
    return median(times) if context.settings["average"] == "median" else mean(times)


def average_used(context: SumContext) -> Fraction:
    """The average everything goes on from: the team's own accepted one, else the class figure.

    A time that rounds to 0 cannot divide; the unrounded average stands in for it then.
    """
    places = int(context.settings["places_time"])
    rounded = context.accepted.get("mean", round_half_up(exact_average(context), places))
    if rounded:
        return Fraction(rounded)
    return exact_average(context) or mean(context.readings)


# --- one time --------------------------------------------------------------------------------


def rounding_step(trial: int, values: Mapping[str, Any]) -> Step:
    """Rounding the reading of one trial."""
    places = int(values["places_time"])

    def exact(context: SumContext) -> list[Fraction]:
        return [Fraction(context.reading(trial))]

    def worked(context: SumContext) -> list[str]:
        reading = context.reading(trial)
        return [
            gettext("The stopwatch says {reading} s.").format(reading=f"{reading:f}"),
            gettext("Rounded: {time} s").format(time=format_figure(reading, places)),
        ]

    return Step(
        slug=f"rounded_{trial}",
        label=format_lazy(_("Time {trial}, rounded"), trial=trial),
        ask=format_lazy(_("Round the time to {places}."), places=rounded_to(places)),
        unit=_("s"),
        right=lambda context: rounded_answers(exact(context), places),
        slips=(*rounding_slips(exact, places), *writing_slips(exact, places)),
        hints=ROUNDING_HINTS,
        worked=worked,
        uses=exact,
    )


# --- the fall speed --------------------------------------------------------------------------


def exact_speed(context: SumContext) -> Fraction:
    """v = h / t in the class's own unit, from the team's own average, before it is rounded."""
    return Fraction(context.settings["drop_height"]) / average_used(context)


def speed_step(values: Mapping[str, Any]) -> Step:
    """The drop height divided by the average time, rounded."""
    places = int(values["places_speed"])

    def exact(context: SumContext) -> list[Fraction]:
        return [exact_speed(context)]

    def height(context: SumContext) -> Fraction:
        return Fraction(context.settings["drop_height"])

    def worked(context: SumContext) -> list[str]:
        label = system(context.settings).speed_label
        speed = format_display(exact_speed(context), places + 2)
        return [
            gettext("Speed = drop height ÷ time"),
            f"{points(height(context))} ÷ {points(average_used(context))} = {speed}",
            gettext("Rounded: {speed} {unit}").format(
                speed=format_figure(exact_speed(context), places), unit=label
            ),
        ]

    def by_the_sum(context: SumContext) -> Iterator[Number]:
        if len(context.readings) > 1 and any(rounded_times(context)):
            yield height(context) / Fraction(sum(rounded_times(context)))

    def by_one_reading(context: SumContext) -> Iterator[Number]:
        if len(context.readings) > 1:
            for time in (*rounded_times(context), *context.readings):
                if time:
                    yield height(context) / Fraction(time)

    def other_unit(context: SumContext) -> Iterator[Number]:
        own = system(context.settings)
        for unit in (own.length, FOOT, METRE):
            if unit is not own.height:
                yield convert(height(context), own.height, unit) / average_used(context)

    return Step(
        slug="speed",
        label=_("Fall speed"),
        ask=format_lazy(
            _("Work out how far it falls in one second. Round it to {places}."), places=rounded_to(places)
        ),
        unit=system(values).speed_label,
        right=lambda context: rounded_answers(exact(context), places),
        slips=(
            Slip(
                "upside_down",
                lambda context: [average_used(context) / height(context)],
                _("You divided the other way round. How far does it fall in one second?"),
                _("time ÷ drop height"),
                _("dividing the other way round"),
            ),
            Slip(
                "multiplied",
                lambda context: [height(context) * average_used(context)],
                _("You multiplied. How far does it fall in just one second?"),
                _("drop height × time"),
                _("multiplying instead of dividing"),
            ),
            Slip(
                "by_the_sum",
                by_the_sum,
                _("You divided by all the times. Use your average time, just that one."),
                _("drop height ÷ all the times together"),
                _("dividing by all the times together"),
            ),
            Slip(
                "by_one_reading",
                by_one_reading,
                _("Is that the time of one drop? Divide by your average time."),
                _("drop height ÷ the time of one drop"),
                _("dividing by the time of one drop"),
            ),
            Slip(
                "wrong_height_unit",
                other_unit,
                _("Look at the unit of the drop height. Use the height just as it stands."),
                _("I changed the drop height first"),
                _("using another unit for the drop height"),
            ),
            *rounding_slips(exact, places),
            *writing_slips(exact, places),
        ),
        hints=Hints(
            _("How far does it fall in just one second? More than that, or less?"),
            _("Take the drop height. Divide it by your average time. Then round."),
            (
                _("From 20 high in 8 seconds: 20 ÷ 8 is 2.5."),
                _("From 60 high in 8 seconds: 60 ÷ 8 is 7.5."),
            ),
        ),
        worked=worked,
        uses=lambda context: [average_used(context)],
    )


# --- the change ------------------------------------------------------------------------------


def change_step(values: Mapping[str, Any]) -> Step:
    """The bigger of the two rounds' figures minus the smaller; slower or faster is asked apart."""
    by_time = values.get("compare", "speed") == "time"
    places = int(values["places_time" if by_time else "places_speed"])
    unit: Words = _("s") if by_time else system(values).speed_label

    def figures(context: SumContext) -> tuple[Decimal, Decimal]:
        return context.before["performance"], context.now["performance"]

    def exact(context: SumContext) -> list[Fraction]:
        before, after = figures(context)
        return [abs(Fraction(after) - Fraction(before))]

    def right(context: SumContext) -> Right:
        before, after = figures(context)
        change = max(before, after) - min(before, after)
        return Right(change, change, None)

    def added(context: SumContext) -> Iterator[Number]:
        yield sum(figures(context))

    def worked(context: SumContext) -> list[str]:
        before, after = (format_figure(figure, places) for figure in figures(context))
        small, big = sorted((before, after), key=Decimal)
        return [
            gettext("Round before: {before}. This round: {now}.").format(before=before, now=after),
            f"{big} − {small} = {format_figure(exact(context)[0], places)} {unit}",
        ]

    return Step(
        slug="change",
        label=_("The change"),
        ask=_("Take the bigger number. Subtract the smaller one."),
        unit=unit,
        right=right,
        slips=(
            Slip(
                "added",
                added,
                _("You added the two. How far apart are they?"),
                _("one + the other"),
                _("adding the two instead of subtracting"),
            ),
            Slip(
                "one_alone",
                figures,
                _("That is one of the two numbers. How far apart are they?"),
                _("I typed one of the two"),
                _("giving one of the two numbers"),
            ),
            *writing_slips(exact, None),
        ),
        hints=Hints(
            _("How far apart are the two numbers on a number line?"),
            _("Write the big number on top, point under point. Then take the small one away."),
            (
                _("With 9.5 and 2.1: 9.5 − 2.1 is 7.4."),
                _("With 9.8 and 2.5: 9.8 − 2.5 is 7.3."),
            ),
        ),
        worked=worked,
        uses=figures,
    )
