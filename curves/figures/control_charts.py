"""Control charts: runs in their order, the limits that they are held to, and what breaks a rule.

The line is drawn whole, however many runs there are; each run has a mark of its own only where the chart has
no more than a few hundred, as more marks would hide one another. A run that breaks a rule always has its
mark.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from curves.figures.parts import rounded
from curves.sensitometry.controlling.chart_form import Chart

MOST_MARKED = 400
"""More marks than this lie on one another."""

MOST_NAMED_PHASES = 8
LEAST_NAMED_SHARE = 0.12
KEY = "runs"
TITLES = {
    "individuals": "single runs",
    "moving_range": "moving ranges",
    "means": "means of replicates",
    "ranges": "ranges of replicates",
    "ewma": "weighted moving average",
    "cusum_high": "cumulative sum above the aim",
    "cusum_low": "cumulative sum below the aim",
}


def control_chart_figure(
    chart: Chart, texts: Sequence[str], *, title: str, notes: Sequence[tuple[int, str]] = ()
) -> dict:
    """One control chart.

    Parameters
    ----------
    chart : Chart
    texts : sequence of str, shape (n,)
        What is told of each run under the pointer.
    title : str
        What is charted, with which unit.
    notes : sequence of tuple
        Place (run from 0) and words of what happened.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.
    """
    low, high = _reach(chart)
    broken = _broken(chart)
    data = [_breaks(chart, low, high)] if len(chart.phases) > 1 else []
    data += _limits(chart)
    data.append(_runs(chart, texts))
    data += _signals(chart, texts, broken)
    if notes:
        data.append(_notes(notes, high))
    meta = {
        "kind": "control",
        "value_name": title,
        "value_unit": chart.unit,
        "description": _description(chart, title, broken, len(notes)),
    }
    room = 0.02 * max(chart.values.size, 1) + 0.5
    layout = {
        "xaxis": {
            "title": {"text": "run, in the order of time", "standoff": 6},
            "range": [1 - room, chart.values.size + room],
            "tickformat": "d",
        },
        "yaxis": {"title": {"text": title}},
        "margin": {"l": 56, "r": 20, "t": 16, "b": 60},
        "hovermode": "closest",
        "dragmode": "pan",
        "showlegend": False,
        "annotations": _phase_names(chart, high),
    }
    return {"data": data, "layout": layout, "meta": meta}


def _line(x, y, name: str, *, role: str = "construction", **more) -> dict:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": x,
        "y": y,
        "hoverinfo": "skip",
        "meta": {"role": role},
        **more,
    }


def _runs(chart: Chart, texts: Sequence[str]) -> dict:
    """The runs as one line that ends where a phase does."""
    x, y, shown = [], [], []
    starts = {phase.start for phase in chart.phases}
    for place, value in enumerate(chart.values.tolist()):
        if place in starts and place:
            x, y, shown = [*x, None], [*y, None], [*shown, None]
        x.append(place + 1)
        y.append(round(value, 4) if math.isfinite(value) else None)
        shown.append(texts[place])
    is_marked = chart.values.size <= MOST_MARKED
    return {
        "type": "scatter",
        "mode": "lines+markers" if is_marked else "lines",
        "name": "runs",
        "x": x,
        "y": y,
        "text": shown,
        "line": {"width": 1.5, "dash": "solid"},
        "marker": {"size": 6, "symbol": "circle"},
        "hovertemplate": "%{text}<extra></extra>",
        "meta": {"role": "stock", "ink": 0, "key": KEY},
    }


def _signals(chart: Chart, texts: Sequence[str], broken: dict[int, str]) -> list[dict]:
    if not broken:
        return []
    places = sorted(broken)
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "name": "breaks a rule",
            "x": [place + 1 for place in places],
            "y": rounded(chart.values[places]),
            "text": [f"{texts[place]}<br>{broken[place]}" for place in places],
            "marker": {"symbol": "diamond", "size": 11},
            "hovertemplate": "%{text}<extra></extra>",
            "meta": {"role": "point", "ink": 1},
        }
    ]


def _limits(chart: Chart) -> list[dict]:
    lines = [
        ("aim", chart.centre, {"width": 1.5, "dash": "solid"}),
        ("warning limit", chart.warning_low, {"width": 1, "dash": "2px,3px"}),
        ("warning limit", chart.warning_high, {"width": 1, "dash": "2px,3px"}),
        ("action limit", chart.action_low, {"width": 1.5, "dash": "10px,4px"}),
        ("action limit", chart.action_high, {"width": 1.5, "dash": "10px,4px"}),
    ]
    return [
        _line(*_steps(values), name, line=line) for name, values, line in lines if np.isfinite(values).any()
    ]


def _steps(values: np.ndarray) -> tuple[list, list]:
    """A line that is level over each stretch of equal values, with a gap where there is none."""
    edges = [0, *(np.flatnonzero(~np.isclose(values[1:], values[:-1], equal_nan=True)) + 1).tolist()]
    x, y = [], []
    for start, stop in zip(edges, [*edges[1:], values.size], strict=True):
        value = float(values[start])
        if not math.isfinite(value):
            continue
        x += [start + 0.5, stop + 0.5, None]
        y += [round(value, 4), round(value, 4), None]
    return x, y


def _breaks(chart: Chart, low: float, high: float) -> dict:
    x, y = [], []
    for phase in chart.phases[1:]:
        x += [phase.start + 0.5, phase.start + 0.5, None]
        y += [round(low, 4), round(high, 4), None]
    return _line(x, y, "phases", role="grid", line={"width": 1, "dash": "5px,5px"})


def _phase_names(chart: Chart, high: float) -> list[dict]:
    """Names of phases that are wide enough for one; all are told under the pointer and in the table."""
    if not 1 < len(chart.phases) <= MOST_NAMED_PHASES:
        return []
    narrowest = LEAST_NAMED_SHARE * chart.values.size
    return [
        {
            "x": phase.start + 0.5,
            "y": round(high, 4),
            "text": phase.label,
            "showarrow": False,
            "xanchor": "left",
            "yanchor": "bottom",
            "textangle": 0,
            "font": {"size": 11},
        }
        for phase in chart.phases
        if phase.stop - phase.start >= narrowest
    ]


def _notes(notes: Sequence[tuple[int, str]], high: float) -> dict:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "notes",
        "x": [place + 1 for place, _ in notes],
        "y": [round(high, 4)] * len(notes),
        "text": [words for _, words in notes],
        "marker": {"symbol": "triangle-down", "size": 11},
        "hovertemplate": "%{text}<extra></extra>",
        "meta": {"role": "construction"},
    }


def _reach(chart: Chart) -> tuple[float, float]:
    lines = [chart.values, chart.action_low, chart.action_high, chart.centre]
    known = np.concatenate([line[np.isfinite(line)] for line in lines])
    if not known.size:
        return 0.0, 1.0
    room = 0.08 * (known.max() - known.min()) or 0.01
    return float(known.min() - room), float(known.max() + room)


def _broken(chart: Chart) -> dict[int, str]:
    """Place → the rules that it breaks, in words."""
    found: dict[int, str] = {}
    for signal in chart.signals:
        found[signal.index] = f"{found.get(signal.index, '')} {signal.text}".strip()
    return found


def _description(chart: Chart, title: str, broken: dict[int, str], notes: int) -> str:
    known = chart.values[np.isfinite(chart.values)]
    if not known.size:
        return f"Control chart of {title}; no run could be charted."
    parts = [
        f"Control chart, {TITLES[chart.kind]}: {title} of {chart.values.size} runs, {known.min():.3f} to "
        f"{known.max():.3f} {chart.unit}",
        f"{len(chart.phases)} phase{'s' if len(chart.phases) != 1 else ''}",
        f"{len(broken)} run{'s' if len(broken) != 1 else ''} break{'' if len(broken) != 1 else 's'} a rule",
    ]
    if notes:
        parts.append(f"{notes} note{'s' if notes != 1 else ''}")
    return ("; ".join(parts) + ".").replace("-", "−")
