"""Two instruments held against each other: the difference of each step against its mean density."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curves.figures.parts import rounded
from curves.sensitometry.agreeing.study_corrections import Comparison

KEY = "steps"


def difference_figure(comparison: Comparison, first: str, second: str, steps: Sequence[int]) -> dict:
    """Differences with their mean, the limits of agreement and the fitted line.

    Parameters
    ----------
    comparison : Comparison
        Of the first instrument against the second, with five pairs or more [D].
    first, second : str
        What they are called.
    steps : sequence of int, shape (n,)
        Step of each pair.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.
    """
    plot = comparison.plot
    mean, difference = plot.mean, plot.difference
    ends = [float(mean.min()), float(mean.max())]
    data = [
        _level(ends, plot.mean_difference.value, "mean difference", "solid"),
        _level(ends, plot.low_limit.value, "lower limit of agreement", "dash"),
        _level(ends, plot.high_limit.value, "upper limit of agreement", "dash"),
    ]
    if comparison.correction.is_known:
        data.append(_fitted(comparison))
    data.append(
        {
            "type": "scatter",
            "mode": "markers",
            "name": "steps",
            "x": rounded(mean),
            "y": rounded(difference),
            "text": [f"step {step}" for step in steps],
            "marker": {"size": 7, "symbol": "circle"},
            "hovertemplate": "%{text}: mean %{x:.2f} D, difference %{y:.3f} D<extra></extra>",
            "meta": {"role": "stock", "ink": 0, "key": KEY},
        }
    )
    layout = {
        "xaxis": {"title": {"text": f"mean of {first} and {second} (D)", "standoff": 6}},
        "yaxis": {"title": {"text": "difference (D)"}, "zeroline": True},
        "margin": {"l": 64, "r": 20, "t": 16, "b": 56},
        "hovermode": "closest",
        "showlegend": False,
        "annotations": [],
    }
    meta = {
        "kind": "difference",
        "value_name": f"{first} less {second}",
        "value_unit": "D",
        "description": describe_difference(comparison, first, second),
    }
    return {"data": data, "layout": layout, "meta": meta}


def describe_difference(comparison: Comparison, first: str, second: str) -> str:
    """The plot in a sentence or two.

    Parameters
    ----------
    comparison : Comparison
        Of the first instrument against the second [D].
    first, second : str
        What they are called.

    Returns
    -------
    str
    """
    plot = comparison.plot
    middle = plot.mean_difference
    if middle.value is None:
        return f"{first} and {second} have too few steps in common to be compared."
    how = "higher" if middle.value > 0 else "lower"
    text = (
        f"{first} reads {abs(middle.value):.3f} D {how} than {second} on average over "
        f"{plot.mean.size} steps; "
        f"19 of 20 differences lie between {_signed(plot.low_limit.value)} and "
        f"{_signed(plot.high_limit.value)} D."
    )
    if plot.is_level is False:
        text += " The difference changes with density, so the limits mislead at the ends: see the line."
    return text


def _signed(value: float) -> str:
    return f"{'−' if value < 0 else '+'}{abs(value):.3f}"


def _level(ends: Sequence[float], value: float, name: str, dash: str) -> dict:
    return _line(ends, [value, value], name, dash)


def _fitted(comparison: Comparison) -> dict:
    """The straight line through both, as the difference that it leaves at each mean."""
    line = comparison.correction
    reading = np.array(line.tested)
    reference = line.offset.value + line.slope.value * reading
    return _line((reading + reference) / 2, reading - reference, "fitted line", "dot")


def _line(x, y, name: str, dash: str) -> dict:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": rounded(x),
        "y": rounded(y),
        "line": {"dash": dash, "width": 1.5},
        "hoverinfo": "skip",
        "meta": {"role": "construction"},
    }
