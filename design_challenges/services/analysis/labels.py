"""What each number that a claim cites is called where the numbers stand by themselves."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext_lazy as _

from design_challenges.words import Words

LABELS: Mapping[str, Words] = {
    "better": _("teams that did better"),
    "by_itself": _("gain that comes by itself"),
    "change": _("change, round 2 less round 1"),
    "clear": _("intervals that leave out no change"),
    "count": _("how many"),
    "designs": _("different designs"),
    "df": _("degrees of freedom"),
    "drops": _("drops"),
    "expected": _("slope by physics"),
    "f": _("F"),
    "first_drops": _("drops in round 1"),
    "first_figure": _("first figure"),
    "gain": _("gain"),
    "height_adds": _("by the height, to all alike"),
    "high": _("interval, upper end"),
    "intervals": _("intervals"),
    "least": _("least probability there could be"),
    "low": _("interval, lower end"),
    "luck": _("expected by luck"),
    "m": _("drops of the first build"),
    "margin": _("margin asked for"),
    "mean": _("mean change, round 2 less round 1"),
    "most": _("19 times out of 20 within"),
    "most_drops": _("drops of a build"),
    "moved": _("teams that changed"),
    "n": _("drops of the second build"),
    "needed": _("drops needed"),
    "p": _("probability"),
    "r": _("correlation"),
    "r_terms": _("correlation of the terms"),
    "ratio": _("times as long as on the first day"),
    "same": _("teams that stayed the same"),
    "sd": _("standard deviation within teams"),
    "second_drops": _("drops in round 2"),
    "second_figure": _("second figure"),
    "share": _("repeatability of one drop"),
    "slope": _("slope"),
    "teams": _("teams"),
    "times": _("times as small a standard error"),
    "timing": _("by the thumb, one drop"),
    "usual": _("drops a team"),
    "wanted": _("drops asked for"),
    "worse": _("teams that did not do as well"),
    "worth": _("unrelated designs they are worth"),
}

NAMES = frozenset(
    {
        "assumptions",
        "day",
        "first",
        "first_day",
        "firsts",
        "half",
        "height",
        "label",
        "mates",
        "names",
        "once",
        "round",
        "second",
        "seconds",
        "team",
        "term",
        "twice",
        "variable",
        "worst",
    }
)
"""What fills in a sentence without being a number that it rests on."""
