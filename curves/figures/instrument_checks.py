"""How an instrument's check readings moved over time, with the limits that they are held to."""

from __future__ import annotations

from collections.abc import Sequence

from curves.figures.parts import rounded
from curves.figures.styles import DASHES, MARKERS
from curves.sensitometry.agreeing.check_trend import CheckTrend
from curves.sensitometry.number_text import signed_number

DRAWN = {"zero": "zero", "span": "span", "bend": "middle off the line"}


def check_figure(trend: CheckTrend, days: Sequence[str]) -> dict:
    """Zero, span and straightness of every check.

    Parameters
    ----------
    trend : CheckTrend
        Of the checks in the order of time [D].
    days : sequence of str, shape (n,)
        Their days as 2026-11-25.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.
    """
    data = [_limit(days, sign * trend.tolerance) for sign in (-1, 1)]
    for ink, (name, title) in enumerate(DRAWN.items()):
        values = rounded(trend.quantities[name].deviations)
        data.append(
            {
                "type": "scatter",
                "mode": "lines+markers",
                "name": title,
                "x": list(days),
                "y": values,
                "line": {"width": 1.5, "dash": DASHES[ink]},
                "marker": {"size": 8, "symbol": MARKERS[ink]},
                "hovertemplate": f"{title}, %{{x}}: %{{y:.3f}} D<extra></extra>",
                "meta": {"role": "stock", "ink": ink, "key": name},
            }
        )
    layout = {
        "xaxis": {"type": "date", "title": {"text": "day of the check"}},
        "yaxis": {"title": {"text": "deviation (D)"}, "rangemode": "tozero"},
        "margin": {"l": 60, "r": 20, "t": 12, "b": 56},
        "hovermode": "closest",
        "showlegend": False,
    }
    return {"data": data, "layout": layout, "meta": {"description": _description(trend, days)}}


def _limit(days: Sequence[str], level: float) -> dict:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "limit",
        "x": [days[0], days[-1]],
        "y": rounded([level, level]),
        "line": {"width": 1.5, "dash": "10px,4px"},
        "hoverinfo": "skip",
        "meta": {"role": "construction"},
    }


def _description(trend: CheckTrend, days: Sequence[str]) -> str:
    parts = [f"{len(days)} checks from {days[0]} to {days[-1]}, limits ±{trend.tolerance:g} D"]
    for name, title in DRAWN.items():
        found = trend.quantities[name].deviations
        parts.append(f"{title} {signed_number(min(found), 3)} to {signed_number(max(found), 3)} D")
    return "; ".join(parts) + "."
