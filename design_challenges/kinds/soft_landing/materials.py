"""What the devices of a class are made from: the largest canopy that the limit allows, and line for all."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Needs, Thing, Values

from .advice import SHORTEST, longest_line


def needs(values: Values, longest: Fraction) -> Needs | None:
    """Return what to lay out, lengths in the class's unit; None where not even the smallest device fits.

    `longest` is the longest radius or line that can be meant. The largest canopy is the widest one, on a
    mark of the tape, that leaves the shortest lines inside the limit. No team makes both the widest canopy
    and the longest lines, so lines are planned for a device whose lines are as long as its canopy is wide.
    """
    mark = Fraction(values["tape_division"])

    def widest(fits: Callable[[Fraction], bool]) -> Fraction:
        low, high = 0, int(2 * longest / mark)
        while low < high:
            middle = (low + high + 1) // 2
            low, high = (middle, high) if fits(middle * mark) else (low, middle - 1)
        return low * mark

    largest = widest(lambda across: longest_line(values, across / 2) >= SHORTEST)
    if largest < 2 * SHORTEST:
        return None
    as_wide = widest(lambda across: longest_line(values, across / 2) >= across)
    return Needs(
        piece=_("Canopies"),
        string=_("Line"),
        largest=largest,
        line_count=int(values["line_count"]),
        line=max(as_wide, SHORTEST),
        why_line=_(
            "The longest lines inside the limit that are as long as their canopy is wide. Teams with small "
            "canopies may want longer ones."
        ),
        things=(
            Thing(format_lazy(_("Load of {grams} g"), grams=f"{values['load_mass']:f}"), "device"),
            Thing(_("Labelled bag for the device"), "device"),
            Thing(_("Tape measure that starts at 0"), "team"),
            Thing(_("Pair of scissors"), "team"),
            Thing(_("Pencil and squared paper"), "team"),
            Thing(_("Roll of sticky tape"), "team"),
            Thing(_("Compass, or string with a pin and a pencil"), "team"),
            Thing(_("Stopwatch"), "class", 3),
            Thing(_("Tape measure as long as the drop height"), "class"),
        ),
    )
