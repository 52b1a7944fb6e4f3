"""The soft landing's own settings, their usual values and the two presets."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from design_challenges.kinds.base import Preset, SettingField
from design_challenges.words import Words

ONCE, TWICE = "once", "twice"
_TURNS = [(ONCE, _("once")), (TWICE, _("twice, by two children apart"))]
_WITHIN = [
    ("1/10", _("1/10 (0.1)")),
    ("1/8", _("1/8")),
    ("1/4", _("1/4")),
    ("1/2", _("1/2 (0.5)")),
    ("1", _("1")),
    ("3/2", _("1 1/2 (1.5)")),
    ("2", _("2")),
]


def _measured(slug: str, label: Words, help_text: Words) -> SettingField:
    return SettingField(
        slug, label, help_text, "choice", {"us": ONCE, "metric": ONCE}, choices=_TURNS, group="measuring"
    )


def _agree(slug: str, label: Words, us: str, metric: str) -> SettingField:
    return SettingField(
        slug,
        label,
        _("Two readings this close agree. Further apart, both children are asked about it."),
        "fraction",
        {"us": us, "metric": metric},
        choices=_WITHIN,
        unit=lambda system: system.length.symbol,
        group="measuring",
    )


FIELDS = [
    SettingField(
        "drop_height",
        _("Drop height"),
        _("From the bottom of the load at release to the floor. Higher is easier to time."),
        "decimal",
        {"us": "15", "metric": "4.5"},
        least=Decimal(1),
        most=Decimal(100),
        unit=lambda system: system.height.symbol,
        length=lambda system: system.height,
    ),
    SettingField(
        "load_mass",
        _("Load"),
        _("What hangs from the lines, in grams. A light load falls slowly enough to time."),
        "decimal",
        {"us": "6", "metric": "6"},
        least=Decimal("0.5"),
        most=Decimal(500),
        unit=lambda _system: _("g"),
    ),
    SettingField(
        "film_mass",
        _("Canopy film weighs"),
        _("A thin plastic bag weighs about 20. Weigh ten sheets together to know yours."),
        "decimal",
        {"us": "20", "metric": "20"},
        least=Decimal(1),
        most=Decimal(500),
        unit=lambda _system: _("g a square metre"),
    ),
    SettingField(
        "line_mass",
        _("Line weighs"),
        _("Sewing thread or thin string weighs about 0.5."),
        "decimal",
        {"us": "0.5", "metric": "0.5"},
        least=Decimal("0.01"),
        most=Decimal(50),
        unit=lambda _system: _("g a metre"),
    ),
    SettingField(
        "line_count",
        _("Lines"),
        _("How many lines hold the load. All of them are cut to the same length."),
        "whole",
        {"us": "4", "metric": "4"},
        least=Decimal(2),
        most=Decimal(12),
    ),
    SettingField(
        "price_area",
        _("Points for canopy"),
        _("What each square of canopy costs, in points."),
        "decimal",
        {"us": "1", "metric": "1"},
        least=Decimal("0.01"),
        most=Decimal(1000),
        unit=lambda system: _("points per %(square)s") % {"square": system.area_label},
        group="limit",
    ),
    SettingField(
        "price_line",
        _("Points for line"),
        _("What each inch or centimetre of line costs, in points."),
        "decimal",
        {"us": "3", "metric": "8"},
        least=Decimal("0.01"),
        most=Decimal(1000),
        unit=lambda system: _("points per %(length)s") % {"length": system.length.symbol},
        group="limit",
    ),
    SettingField(
        "limit",
        _("Material limit"),
        _("A plan may use this many points and no more. The best design lies inside it, not at its edge."),
        "decimal",
        {"us": "375", "metric": "2400"},
        least=Decimal(1),
        most=Decimal(1_000_000),
        unit=lambda _system: _("points"),
        group="limit",
    ),
    SettingField(
        "built_over",
        _("Made thing over the limit by"),
        _("The made thing may pass the limit by this much; above it, trim or ask the teacher."),
        "decimal",
        {"us": "5", "metric": "5"},
        least=Decimal(0),
        most=Decimal(50),
        unit=lambda _system: _("%"),
        group="limit",
    ),
    SettingField(
        "places_time",
        _("Round times to"),
        _("The children round each time themselves; the stopwatch shows hundredths."),
        "whole",
        {"us": "1", "metric": "1"},
        least=Decimal(0),
        most=Decimal(2),
        choices=[
            ("0", _("whole seconds")),
            ("1", _("tenths (0.1)")),
            ("2", _("hundredths (0.01)")),
        ],
        group="rounding",
    ),
    SettingField(
        "places_speed",
        _("Round fall speed to"),
        _("In metres a speed to tenths hides real differences: hundredths are better there."),
        "whole",
        {"us": "1", "metric": "2"},
        least=Decimal(0),
        most=Decimal(3),
        choices=[
            ("0", _("whole numbers")),
            ("1", _("tenths (0.1)")),
            ("2", _("hundredths (0.01)")),
            ("3", _("thousandths (0.001)")),
        ],
        group="rounding",
    ),
    SettingField(
        "places_area",
        _("Round areas to"),
        _("The table always gives whole squares."),
        "whole",
        {"us": "0", "metric": "0"},
        least=Decimal(0),
        most=Decimal(2),
        choices=[
            ("0", _("whole numbers")),
            ("1", _("tenths (0.1)")),
            ("2", _("hundredths (0.01)")),
        ],
        group="rounding",
    ),
    SettingField(
        "tape_division",
        _("Smallest mark on the tape"),
        _("What the children read to."),
        "choice",
        {"us": "1/4", "metric": "1/2"},
        choices=[
            ("1", _("whole")),
            ("1/2", _("1/2 (0.5)")),
            ("1/4", _("1/4")),
            ("1/8", _("1/8")),
            ("1/10", _("1/10 (0.1)")),
        ],
        unit=lambda system: system.length.symbol,
        group="measuring",
    ),
    _measured(
        "measure_canopy",
        _("Canopy is measured"),
        _("Twice takes longer and catches a tape that did not start at 0."),
    ),
    _agree("agree_canopy", _("Canopy readings agree within"), "1/2", "1"),
    _measured(
        "measure_lines",
        _("Lines are measured"),
        _("Each line by itself, once or by two children apart."),
    ),
    _agree("agree_line", _("Line readings agree within"), "1/4", "1/2"),
    SettingField(
        "area_method",
        _("Canopy area comes from"),
        _("The formula, a printed table in whole points, or squares counted on paper (within 8 %)."),
        "choice",
        {"us": "formula", "metric": "formula"},
        choices=[
            ("formula", _("the formula π × r × r")),
            ("table", _("a table")),
            ("squares", _("counting squares")),
        ],
        group="sums",
    ),
    SettingField(
        "sums_asked",
        _("Sums asked for"),
        _("Fewer keeps a plan quick. Every step adds the way across, all the line, and the times together."),
        "choice",
        {"us": "fewer", "metric": "fewer"},
        choices=[("fewer", _("fewer, larger ones")), ("every", _("every step on its own"))],
        group="sums",
    ),
    SettingField(
        "squares_tolerance",
        _("Squares counted may be off by"),
        _("A count this close to the true area is right."),
        "decimal",
        {"us": "8", "metric": "8"},
        least=Decimal(1),
        most=Decimal(25),
        unit=lambda _system: _("%"),
        group="sums",
    ),
    SettingField(
        "compare",
        _("Teams compare"),
        _("Fall speed (lower is better), or the time itself (longer is better)."),
        "choice",
        {"us": "speed", "metric": "speed"},
        choices=[("speed", _("fall speed")), ("time", _("fall time"))],
        group="sums",
    ),
]

PRESETS = [
    Preset(
        "older",
        _("Older"),
        _("The whole chain: area by formula, the mean of the times, fall speed, the change."),
    ),
    Preset(
        "younger",
        _("Younger"),
        _("Area from a table, the middle one of three times, seconds compared: longer is better."),
        common={"average": "median", "trials_per_round": 3},
        values={"area_method": "table", "compare": "time"},
    ),
]
