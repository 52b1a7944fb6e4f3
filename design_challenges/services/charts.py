"""Builds the charts as Plotly figures in JSON; the page only draws them.

A chart is made from a frozen description of what it shows, and kept by it: the same
numbers give the same text without being built again, whatever else was saved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any

from django.utils.translation import gettext as _

from design_challenges.services.label_places import Mark, place_names, text_width
from design_challenges.services.nice_axis import Axis, round_axis

INK, SOFT, GRID = "#1d2b4f", "#4a567a", "#dfd6c1"
ROUND_BLUE, WORSE, NEXT = "#0a4f8f", "#d55e00", "#f0a61f"
SHEET, CLEAR = "#fffdf7", "rgba(0,0,0,0)"
FONT = "Second Build Sans, system-ui, sans-serif"
KEPT = 128


@dataclass(frozen=True)
class Size:
    """The box that a chart is laid out for, in px: places of names hold in it and in larger ones."""

    width: int
    height: int
    font: int
    mark: int
    title_font: int


BOARD_HALF = Size(width=556, height=258, font=28, mark=16, title_font=23)
BOARD_WHOLE = Size(width=1200, height=520, font=28, mark=22, title_font=28)


@dataclass(frozen=True)
class ScatterPoint:
    """One team's round: what stands at its mark, the variable, the figure, and both as they are written.

    `range` are the least and the greatest figure of its own drops, for a bar through its mark.
    """

    team: str
    round: int
    x: Fraction
    y: Decimal
    said: str
    range: tuple[Decimal, ...] = ()


@dataclass(frozen=True)
class ScatterChart:
    """The figure against one variable; `x_title` and `y_title` carry the unit.

    `places` are the figure's decimals: its axis has no more. The spans are values that
    the axes must hold besides the points: those of the other pages of the board, so
    that the axes stay where they are. `bare` axes have no numbers.
    """

    points: tuple[ScatterPoint, ...]
    x_title: str
    y_title: str
    size: Size
    x_span: tuple[Fraction, ...] = ()
    y_span: tuple[Fraction, ...] = ()
    places: int = 1
    line: tuple[float, float] | None = None
    bare: bool = False


@dataclass(frozen=True)
class Pair:
    """One team's figures of both rounds; None where there is none."""

    team: str
    first: Decimal | None
    second: Decimal | None
    verdict: str
    said: str


@dataclass(frozen=True)
class PairChart:
    """Each team's two figures joined, from top to bottom in the order given."""

    pairs: tuple[Pair, ...]
    first_median: Decimal | None
    second_median: Decimal | None
    first_median_said: str
    second_median_said: str
    x_title: str
    places: int = 1


# --- the figure against a variable -----------------------------------------------------------------------


@lru_cache(maxsize=KEPT)
def scatter_json(chart: ScatterChart) -> str:
    """Return the scatter of a figure against a variable as JSON, "" where there is no point.

    A trace a round: hollow marks for round 1, filled ones from round 2 on. Each team's
    rounds are joined by a thin line, and its name stands at the latest of them.
    """
    if not chart.points:
        return ""
    size = chart.size
    x_axis = round_axis([*(point.x for point in chart.points), *chart.x_span])
    y_axis = round_axis(
        [*(Fraction(point.y) for point in chart.points), *chart.y_span],
        steps=size.height // 80,
        places=chart.places,
    )
    traces = [*_paths(chart.points), *_ranges(chart.points), *_trend(chart)]
    for number in sorted({point.round for point in chart.points}):
        own = [point for point in chart.points if point.round == number]
        traces.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": _("Round {n}").format(n=number),
                "x": [float(point.x) for point in own],
                "y": [float(point.y) for point in own],
                "text": [point.said for point in own],
                "hoverinfo": "text",
                "marker": _mark(number, size.mark),
            }
        )
    margin = {
        "l": round(size.title_font * 1.3 + max(text_width(text, size.font) for text in y_axis.texts) + 10),
        "r": round(size.font * 0.8),
        "t": round(size.font * 0.9),
        "b": round(size.font * 1.3 + size.title_font * 1.5),
    }
    return _finish(
        traces,
        {
            **_frame(size.font, margin),
            "annotations": _names(chart, x_axis, y_axis, margin),
            "xaxis": _axis(x_axis, chart.x_title, size.font, size.title_font, bare=chart.bare),
            "yaxis": _axis(y_axis, chart.y_title, size.font, size.title_font, bare=chart.bare),
            "hovermode": "closest",
        },
    )


def _paths(points: Sequence[ScatterPoint]) -> list[dict[str, Any]]:
    """Return one trace, with gaps, of the lines that join each team's rounds."""
    by_team: dict[str, list[ScatterPoint]] = {}
    for point in sorted(points, key=lambda point: point.round):
        by_team.setdefault(point.team, []).append(point)
    x: list[float | None] = []
    y: list[float | None] = []
    for own in by_team.values():
        if len(own) > 1:
            x += [*(float(point.x) for point in own), None]
            y += [*(float(point.y) for point in own), None]
    if not x:
        return []
    line = {"color": SOFT, "width": 1.5, "dash": "dot"}
    return [{"type": "scatter", "mode": "lines", "x": x, "y": y, "line": line, "hoverinfo": "skip"}]


def _ranges(points: Sequence[ScatterPoint]) -> list[dict[str, Any]]:
    """Return one trace, with gaps, of the bars from each point's least to its greatest figure."""
    x: list[float | None] = []
    y: list[float | None] = []
    for point in points:
        if point.range:
            x += [float(point.x)] * 2 + [None]
            y += [float(min(point.range)), float(max(point.range)), None]
    if not x:
        return []
    line = {"color": ROUND_BLUE, "width": 2}
    return [{"type": "scatter", "mode": "lines", "x": x, "y": y, "line": line, "hoverinfo": "skip"}]


def _trend(chart: ScatterChart) -> list[dict[str, Any]]:
    """Return the straight line over the points' own reach, where one was asked for."""
    if chart.line is None:
        return []
    at_zero, slope = chart.line
    ends = [float(find(point.x for point in chart.points)) for find in (min, max)]
    line = {"color": WORSE, "width": 2, "dash": "dash"}
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "name": _("Trend line"),
            "x": ends,
            "y": [at_zero + slope * end for end in ends],
            "line": line,
            "hoverinfo": "skip",
        }
    ]


def _names(chart: ScatterChart, x_axis: Axis, y_axis: Axis, margin: dict[str, int]) -> list[dict[str, Any]]:
    """Return an annotation for each team's name, at the latest of its marks."""
    size = chart.size
    width = size.width - margin["l"] - margin["r"]
    height = size.height - margin["t"] - margin["b"]
    latest = {
        point.team: max(p.round for p in chart.points if p.team == point.team) for point in chart.points
    }
    marks = [
        Mark(
            x_axis.share(float(point.x)) * width,
            (1 - y_axis.share(float(point.y))) * height,
            point.team if point.round == latest[point.team] else "",
        )
        for point in chart.points
    ]
    # A bar is kept free of names like a mark: by a mark without a name at each of its ends.
    ends = [
        Mark(mark.x, (1 - y_axis.share(float(end))) * height)
        for mark, point in zip(marks, chart.points, strict=True)
        for end in point.range
    ]
    places = place_names([*marks, *ends], width, height, size.font, size.mark / 2 + 1)
    names = []
    for point, place in zip(chart.points, places, strict=False):
        if place is None:
            continue
        name: dict[str, Any] = {
            "x": float(point.x),
            "y": float(point.y),
            "text": escape_label(point.team),
            "ax": round(place.dx, 1),
            "ay": round(place.dy, 1),
            "showarrow": True,
            "arrowhead": 0,
            "arrowwidth": 1,
            "arrowcolor": SOFT if place.far else CLEAR,
            "standoff": size.mark / 2,
            "borderpad": 0,
            "font": {"size": size.font, "color": INK},
        }
        names.append(name)
    return names


# --- round 1 beside round 2 ------------------------------------------------------------------------------


@lru_cache(maxsize=KEPT)
def pair_json(chart: PairChart) -> str:
    """Return the picture of both rounds as JSON, "" where no team has a figure.

    A row a team: hollow for round 1, filled for round 2, a whole line between them
    where it got better and a dotted one where it did not; the medians run across.
    """
    figures = [figure for pair in chart.pairs for figure in (pair.first, pair.second) if figure is not None]
    if not figures:
        return ""
    medians = [median for median in (chart.first_median, chart.second_median) if median is not None]
    axis = round_axis([Fraction(figure) for figure in [*figures, *medians]], steps=6, places=chart.places)
    rows = len(chart.pairs)
    traces = [
        *_joins(chart.pairs),
        _ends(chart.pairs, 1),
        _ends(chart.pairs, 2),
    ]
    font = 15
    longest = max(text_width(pair.team, font) for pair in chart.pairs)
    return _finish(
        traces,
        {
            **_frame(font, {"l": round(longest) + 16, "r": 20, "t": 64, "b": 48}),
            "xaxis": _axis(axis, chart.x_title, font, font),
            "yaxis": {
                "range": [rows - 0.4, -0.6],
                "tickvals": list(range(rows)),
                "ticktext": [escape_label(pair.team) for pair in chart.pairs],
                "showgrid": True,
                "gridcolor": GRID,
                "zeroline": False,
                "ticks": "",
                "fixedrange": True,
                "tickfont": {"size": font, "color": INK},
            },
            "shapes": _median_lines(chart),
            "annotations": _median_names(chart, axis, font),
            "hovermode": "closest",
            "showlegend": True,
            "legend": {
                "orientation": "h",
                "x": 0,
                "xanchor": "left",
                "xref": "paper",
                "y": 1,
                "yref": "container",
                "yanchor": "top",
                "bgcolor": CLEAR,
                "font": {"size": font, "color": INK},
                "itemclick": False,
                "itemdoubleclick": False,
            },
        },
    )


def _joins(pairs: Sequence[Pair]) -> list[dict[str, Any]]:
    """Return the lines between both rounds, one trace for better and one for not, with gaps."""
    kinds = (
        (("better",), _("better"), {"color": ROUND_BLUE, "width": 4}),
        (("worse",), _("not as good"), {"color": WORSE, "width": 3, "dash": "dot"}),
    )
    traces = []
    for verdicts, name, line in kinds:
        x: list[float | None] = []
        y: list[float | None] = []
        for row, pair in enumerate(pairs):
            if pair.verdict in verdicts and pair.first is not None and pair.second is not None:
                x += [float(pair.first), float(pair.second), None]
                y += [row, row, None]
        if x:
            traces.append(
                {
                    "type": "scatter",
                    "mode": "lines",
                    "name": name,
                    "x": x,
                    "y": y,
                    "line": line,
                    "hoverinfo": "skip",
                }
            )
    return traces


def _ends(pairs: Sequence[Pair], number: int) -> dict[str, Any]:
    figures = [pair.first if number == 1 else pair.second for pair in pairs]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": _("Round {n}").format(n=number),
        "x": [None if figure is None else float(figure) for figure in figures],
        "y": list(range(len(pairs))),
        "text": [pair.said for pair in pairs],
        "hoverinfo": "text",
        # The hollow mark is the larger one: where both stand on one spot, both are seen.
        "marker": _mark(number, 17 if number == 1 else 11),
    }


def _median_lines(chart: PairChart) -> list[dict[str, Any]]:
    return [
        {
            "type": "line",
            "x0": float(median),
            "x1": float(median),
            "yref": "paper",
            "y0": 0,
            "y1": 1,
            "layer": "below",
            "line": {"color": INK, "width": 2, "dash": dash},
        }
        for median, dash in ((chart.first_median, "dash"), (chart.second_median, "solid"))
        if median is not None
    ]


def _median_names(chart: PairChart, axis: Axis, font: int) -> list[dict[str, Any]]:
    """Return the words at the top of each median's line, each on its own side of the pair."""
    first, second = chart.first_median, chart.second_median
    names = []
    for median, other, said in (
        (first, second, chart.first_median_said),
        (second, first, chart.second_median_said),
    ):
        if median is None or (median is second and first == second):
            continue
        share = axis.share(float(median))
        if other is None or other == median:
            left = share > 0.5
        else:
            left = median < other
        names.append(
            {
                "x": float(median),
                "y": 1,
                "yref": "paper",
                "yanchor": "bottom",
                "xanchor": "right" if left else "left",
                "text": said,
                "showarrow": False,
                "font": {"size": font, "color": INK},
            }
        )
    return names


# --- each team's change with its interval ----------------------------------------------------------------


@dataclass(frozen=True)
class ChangeRow:
    """One team's change and the ends of its interval; None where it has none."""

    team: str
    change: float
    low: float | None
    high: float | None


@lru_cache(maxsize=KEPT)
def change_json(rows: tuple[ChangeRow, ...], x_title: str) -> str:
    """Return the changes as JSON, a row a team: a mark, its interval, and a line at no change."""
    font = 15
    count = len(rows)
    x: list[float | None] = []
    y: list[float | None] = []
    for place, row in enumerate(rows):
        if row.low is not None and row.high is not None:
            x += [row.low, row.high, None]
            y += [place, place, None]
    bars = {"type": "scatter", "mode": "lines", "x": x, "y": y, "hoverinfo": "skip"}
    marks = {
        "type": "scatter",
        "mode": "markers",
        "x": [row.change for row in rows],
        "y": list(range(count)),
        "hoverinfo": "x",
        "marker": _mark(2, 12),
    }
    longest = max(text_width(row.team, font) for row in rows)
    ends = [0.0, *(row.change for row in rows), *(end for end in x if end is not None)]
    room = 0.04 * (max(ends) - min(ends)) or 1.0
    no_change = {"type": "line", "x0": 0, "x1": 0, "yref": "paper", "y0": 0, "y1": 1, "layer": "below"}
    return _finish(
        [bars | {"line": {"color": ROUND_BLUE, "width": 2}}, marks],
        {
            **_frame(font, {"l": round(longest) + 16, "r": 20, "t": 20, "b": 56}),
            "xaxis": {
                "title": {"text": escape_label(x_title), "font": {"size": font, "color": INK}},
                # A bar that ends on the frame looks cut off.
                "range": [min(ends) - room, max(ends) + room],
                "tickfont": {"size": font, "color": INK},
                "gridcolor": GRID,
                "zeroline": False,
                "fixedrange": True,
            },
            "yaxis": {
                "range": [count - 0.4, -0.6],
                "tickvals": list(range(count)),
                "ticktext": [escape_label(row.team) for row in rows],
                "gridcolor": GRID,
                "zeroline": False,
                "ticks": "",
                "fixedrange": True,
                "tickfont": {"size": font, "color": INK},
            },
            "shapes": [no_change | {"line": {"color": INK, "width": 2}}],
            "hovermode": "closest",
        },
    )


# --- what every chart has --------------------------------------------------------------------------------


def _mark(number: int, size: int) -> dict[str, Any]:
    """Return a round's mark: 1 hollow, 2 filled, later ones a filled square."""
    if number == 1:
        return {
            "symbol": "circle",
            "size": size,
            "color": SHEET,
            "line": {"color": ROUND_BLUE, "width": max(2, size // 5)},
        }
    return {
        "symbol": "circle" if number == 2 else "square",
        "size": size,
        "color": ROUND_BLUE,
        "line": {"color": SHEET, "width": 1},
    }


def _axis(axis: Axis, title: str, font: int, title_font: int, *, bare: bool = False) -> dict[str, Any]:
    return {
        "range": [axis.low, axis.high],
        "tickvals": list(axis.ticks),
        "ticktext": [""] * len(axis.texts) if bare else list(axis.texts),
        "title": {"text": escape_label(title), "font": {"size": title_font, "color": INK}, "standoff": 6},
        "tickfont": {"size": font, "color": INK},
        "showgrid": True,
        "gridcolor": GRID,
        "zeroline": False,
        "linecolor": INK,
        "linewidth": 2,
        "showline": True,
        "ticks": "",
        "fixedrange": True,
    }


def _frame(font: int, margin: dict[str, int]) -> dict[str, Any]:
    return {
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "font": {"family": FONT, "size": font, "color": INK},
        "margin": margin,
        "showlegend": False,
        "dragmode": False,
        "hoverlabel": {
            "bgcolor": SHEET,
            "bordercolor": INK,
            "font": {"family": FONT, "size": font, "color": INK},
        },
    }


def escape_label(text: str) -> str:
    """Return a text as a chart shows it letter by letter: a team name is never markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _finish(traces: list[dict[str, Any]], layout: dict[str, Any]) -> str:
    """Return the figure as JSON, every part of it checked by Plotly's own validators."""
    from plotly import graph_objects  # 0.1 s that only a page with a chart should wait for

    figure = graph_objects.Figure(data=traces, layout={"template": None, **layout})
    return str(figure.to_json())
