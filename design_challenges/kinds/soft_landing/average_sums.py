"""The sums of the times: all of them together, their mean, or the middle one of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from design_challenges.services.common_slips import rounded_answers, rounding_slips, writing_slips
from design_challenges.services.rounding import format_display, format_figure, round_half_up
from design_challenges.services.statistics import mean, median
from design_challenges.services.working import Hints, Number, Right, Slip, Step, SumContext

from .plan_sums import rounded_to
from .result_sums import rounded_times


def average_step(values: Mapping[str, Any]) -> Step:
    """The mean of the rounded times, rounded again, or the middle one of them."""
    return _middle_step(values) if values["average"] == "median" else _mean_step(values)


def _one_reading_off(times: Sequence[Decimal]) -> Iterator[tuple[Fraction, int]]:
    """The sums with one reading left out or used twice, each with the number of readings in it."""
    total = Fraction(sum(times))
    for time in times:
        if len(times) > 1:
            yield total - Fraction(time), len(times) - 1
        yield total + Fraction(time), len(times) + 1


def time_sum_step(values: Mapping[str, Any]) -> Step:
    """All rounded times together."""
    places = int(values["places_time"])

    def exact(context: SumContext) -> list[Fraction]:
        return [Fraction(sum(rounded_times(context)))]

    def right(context: SumContext) -> Right:
        total = sum(rounded_times(context), Decimal(0))
        return Right(total, total, None)

    def one_reading(context: SumContext) -> Iterator[Number]:
        for total, _count in _one_reading_off(rounded_times(context)):
            yield total

    def not_carried(context: SumContext) -> Iterator[Number]:
        if places > 0 and len(context.readings) > 1:
            parts = sum(time % 1 for time in rounded_times(context))
            for lost in range(1, int(parts) + 1):
                yield exact(context)[0] - lost

    def worked(context: SumContext) -> list[str]:
        shown = " + ".join(format_figure(time, places) for time in rounded_times(context))
        return [f"{shown} = {format_figure(exact(context)[0], places)} s"]

    def already_divided(context: SumContext) -> Iterator[Number]:
        if len(context.readings) > 1:
            average = mean(rounded_times(context))
            yield average
            yield round_half_up(average, places)

    return Step(
        slug="time_sum",
        label=_("Times together"),
        ask=_("Add up your rounded times."),
        unit=_("s"),
        right=right,
        slips=(
            Slip(
                "one_left_out",
                one_reading,
                _("Count the times you added. Use each time that counts once."),
                _("I left one out, or used one twice"),
                _("leaving a reading out or using one twice"),
                family="one_reading",
            ),
            Slip(
                "raw_times",
                lambda context: [sum(context.readings)],
                _("Did you use the stopwatch times? Your class uses the rounded ones."),
                _("I added the stopwatch times"),
                _("using the stopwatch times, not the rounded ones"),
            ),
            Slip(
                "already_divided",
                already_divided,
                _("You are one step ahead. First type all your times together."),
                _("I added, then I divided"),
                _("dividing already"),
            ),
            Slip(
                "not_carried",
                not_carried,
                _("Add once more, column by column. What do you carry over?"),
                _("I added by hand"),
                _("losing what is carried over"),
            ),
            *writing_slips(exact, places),
        ),
        hints=Hints(
            _("About how much is it? Add just the whole seconds first."),
            _("Write the times under each other, point under point. Then add."),
            (
                _("With 9.1, 9.2 and 9.4: together 27.7."),
                _("With 1.1, 1.2 and 1.4: together 3.7."),
                _("With 20.1, 30.2 and 70.4: together 120.7."),
            ),
        ),
        worked=worked,
        uses=rounded_times,
    )


def _mean_step(values: Mapping[str, Any]) -> Step:
    places = int(values["places_time"])

    def exact(context: SumContext) -> list[Fraction]:
        return [mean(rounded_times(context))]

    def total(context: SumContext) -> Iterator[Number]:
        yield sum(rounded_times(context))

    def wrong_count(context: SumContext) -> Iterator[Number]:
        times = rounded_times(context)
        planned = int(context.settings.get("trials_per_round", len(times)))
        for count in sorted({2, 3, len(times) - 1, len(times) + 1, planned} - {0, 1, len(times)}):
            yield Fraction(sum(times)) / count

    def middle(context: SumContext) -> Iterator[Number]:
        yield median(rounded_times(context))

    def not_rounded_first(context: SumContext) -> Iterator[Number]:
        yield mean(context.readings)

    def one_reading(context: SumContext) -> Iterator[Number]:
        times = rounded_times(context)
        for total, used in _one_reading_off(times):
            yield from (total / count for count in (used, len(times)))

    def worked(context: SumContext) -> list[str]:
        times = rounded_times(context)
        shown = " + ".join(format_figure(time, places) for time in times)
        whole = format_figure(sum(times), places)
        return [
            f"{shown} = {whole}",
            f"{whole} ÷ {len(times)} = {format_display(mean(times), places + 2)}",
            gettext("Rounded: {time} s").format(time=format_figure(mean(times), places)),
        ]

    return Step(
        slug="mean",
        label=_("Mean fall time"),
        ask=format_lazy(
            _("Find the mean of your rounded times. Round it to {places}."), places=rounded_to(places)
        ),
        unit=_("s"),
        right=lambda context: rounded_answers(exact(context), places),
        slips=(
            Slip(
                "not_divided",
                total,
                _("That is all your times together. What comes next for a mean?"),
                _("I added all the times"),
                _("not dividing the sum"),
            ),
            Slip(
                "wrong_count",
                wrong_count,
                _("Count the drops that count. Divide by that many."),
                _("I shared it out by more, or by fewer"),
                _("dividing by a wrong count"),
            ),
            Slip(
                "middle_for_mean",
                middle,
                _("That is the middle time. For the mean, share the sum out equally."),
                _("I took the time in the middle"),
                _("taking the middle one for the mean"),
            ),
            Slip(
                "one_left_out",
                one_reading,
                _("Count the times you added. Use each time that counts once."),
                _("I left one out, or used one twice"),
                _("leaving a reading out or using one twice"),
                family="one_reading",
            ),
            Slip(
                "raw_times",
                not_rounded_first,
                _("Did you use the stopwatch times? Your class uses the rounded ones."),
                _("I used the stopwatch times"),
                _("using the stopwatch times, not the rounded ones"),
            ),
            *rounding_slips(exact, places),
            *writing_slips(exact, places),
        ),
        hints=Hints(
            _("Is your mean more than your shortest time, and less than your longest?"),
            _("Add the rounded times. Divide by how many drops count. Then round."),
            (
                _("With 7, 8 and 12: 7 + 8 + 12 is 27. Then 27 ÷ 3 is 9."),
                _("With 1, 2 and 6: 1 + 2 + 6 is 9. Then 9 ÷ 3 is 3."),
                _("With 20, 30 and 70: they make 120. Then 120 ÷ 3 is 40."),
            ),
        ),
        worked=worked,
        uses=rounded_times,
    )


def _middle_step(values: Mapping[str, Any]) -> Step:
    places = int(values["places_time"])

    def exact(context: SumContext) -> list[Fraction]:
        return [median(rounded_times(context))]

    def the_mean(context: SumContext) -> Iterator[Number]:
        yield mean(rounded_times(context))

    def unsorted(context: SumContext) -> Iterator[Number]:
        times = rounded_times(context)
        yield times[len(times) // 2]

    def at_the_end(context: SumContext) -> Iterator[Number]:
        times = rounded_times(context)
        yield from (min(times), max(times))

    def worked(context: SumContext) -> list[str]:
        times = sorted(rounded_times(context))
        shown = ", ".join(format_figure(time, places) for time in times)
        lines = [gettext("In order: {times}").format(times=shown)]
        if len(times) % 2 == 0:
            lines.append(gettext("Two are in the middle: go half way between them."))
        return [
            *lines,
            gettext("The middle one: {time} s").format(time=format_figure(median(times), places)),
        ]

    return Step(
        slug="mean",
        label=_("Middle fall time"),
        ask=_("Put your rounded times in order. Which one is in the middle?"),
        unit=_("s"),
        right=lambda context: rounded_answers(exact(context), places),
        slips=(
            Slip(
                "not_in_order",
                unsorted,
                _("Put the times in order first, shortest to longest."),
                _("I took the one that I wrote in the middle"),
                _("not putting the times in order"),
                family="not_the_middle",
            ),
            Slip(
                "end_for_middle",
                at_the_end,
                _("Put the times in order. Which one is in the middle?"),
                _("I took the shortest or the longest"),
                _("taking the shortest or longest for the middle one"),
                family="not_the_middle",
            ),
            Slip(
                "mean_for_middle",
                the_mean,
                _("No sum needed. Just find the time in the middle."),
                _("I added them and divided"),
                _("working out the mean instead of the middle one"),
            ),
            *rounding_slips(exact, places),
            *writing_slips(exact, places),
        ),
        hints=Hints(
            _("As many times are shorter as are longer. Is that so for yours?"),
            _("Write the times in order. Cross off one at each end until one is left."),
            (
                _("With 12, 7 and 8: in order 7, 8, 12. The middle one is 8."),
                _("With 6, 1 and 2: in order 1, 2, 6. The middle one is 2."),
                _("With 70, 20 and 30: in order 20, 30, 70. The middle one is 30."),
            ),
        ),
        worked=worked,
        uses=rounded_times,
    )
