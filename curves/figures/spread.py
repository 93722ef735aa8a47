"""Where a lab's spread comes from: one standard deviation a level, with its interval, on one axis."""

from __future__ import annotations

from collections.abc import Mapping

from curves.figures.parts import rounded
from curves.sensitometry.measures import Measure

OPEN_REACH = 1.15
"""So far beyond the farthest known end a bar is drawn whose upper end the data do not set."""


def spread_figure(components: Mapping[str, Measure], *, title: str, unit: str) -> dict:
    """Components of one measure, the outermost level on top.

    Parameters
    ----------
    components : mapping of str to Measure
        Standard deviation by level [unit of the measure]; withheld ones stand without a mark.
    title, unit : str
        What is measured, and its unit as it is read.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.
    """
    levels = list(components)
    rows = {level: len(levels) - place for place, level in enumerate(levels)}
    told = {level: each for level, each in components.items() if each.value is not None}
    farthest = max((each.high or each.value for each in told.values()), default=1.0) or 1.0
    x, y = [], []
    for level, each in told.items():
        high = OPEN_REACH * farthest if each.high is None else each.high
        x += [*rounded([each.low or 0.0, high]), None]
        y += [rows[level], rows[level], None]
    bars = {
        "type": "scatter",
        "mode": "lines",
        "name": "95 % interval",
        "x": x,
        "y": y,
        "line": {"width": 3, "dash": "solid"},
        "hoverinfo": "skip",
        "meta": {"role": "stock", "ink": 0, "key": "intervals"},
    }
    marks = {
        "type": "scatter",
        "mode": "markers",
        "name": "standard deviation",
        "x": rounded([each.value for each in told.values()]),
        "y": [rows[level] for level in told],
        "text": [_told(level, each) for level, each in told.items()],
        "marker": {"size": 11, "symbol": "diamond"},
        "hovertemplate": "%{text}<extra></extra>",
        "meta": {"role": "point", "ink": 0},
    }
    xaxis = {
        "title": {"text": f"standard deviation, {unit}"},
        "range": rounded([0.0, 1.05 * OPEN_REACH * farthest]),
    }
    yaxis = {
        "tickvals": list(rows.values()),
        "ticktext": levels,
        "range": [0.4, len(levels) + 0.6],
        "fixedrange": True,
        "zeroline": False,
    }
    layout = {
        "xaxis": xaxis,
        "yaxis": yaxis,
        "margin": {"l": 76, "r": 20, "t": 12, "b": 60},
        "hovermode": "closest",
        "showlegend": False,
    }
    return {
        "data": [bars, marks],
        "layout": layout,
        "meta": {"description": _description(components, f"{title}, {unit}")},
    }


def _told(level: str, each: Measure) -> str:
    end = "without a known upper end" if each.high is None else f"to {each.high:.3g}"
    return f"{level} {each.value:.3g} ({each.low or 0:.3g} {end})"


def _description(components: Mapping[str, Measure], title: str) -> str:
    told = [_told(level, each) for level, each in components.items() if each.value is not None]
    untold = [level for level, each in components.items() if each.value is None]
    parts = [f"Standard deviation by level, {title}", *told]
    if untold:
        parts.append(f"not told: {', '.join(untold)}")
    return "; ".join(parts) + "."
