"""The parts that all figures share: rounded numbers, axes, traces and the labels at the ends of lines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from curves.figures.styles import REFERENCE_WIDTH, STOCK_WIDTH, UNLIT_WIDTH, LineStyle

DECIMALS = 4
"""Figures are read to 0.01; four decimals keep a zoomed curve smooth and the page small."""

STOP = math.log10(2.0)
"""One stop, scalar [log10]."""

ABSOLUTE_TITLE = "log exposure (log₁₀ lux·s)"
RELATIVE_TITLE = "relative log exposure (log₁₀)"
SPEED_POINT_TITLE = "log exposure from the speed point (log₁₀)"
SHADOW_TITLE = "log exposure from net density 0.30 (log₁₀)"
# No markup in it but a line break: the drawing library turns any other tag into a style attribute, which
# the site's content security policy blocks.
STOP_NOTE = "<br>short marks: one stop (0.30)"

REFERENCE_KEY = "reference"


def rounded(values: Iterable[float]) -> list[float]:
    """Numbers as a plain list rounded to four decimals.

    Parameters
    ----------
    values : array_like, shape (n,) [any]

    Returns
    -------
    list of float, shape (n,) [the same]

    Examples
    --------
    >>> rounded([0.123456, -0.00001])
    [0.1235, 0.0]
    """
    return [float(value) + 0.0 for value in np.round(np.asarray(values, dtype=float), DECIMALS) + 0.0]


def exposure_axis(title: str) -> dict:
    """The axis of log exposure, with short marks a stop apart.

    Parameters
    ----------
    title : str

    Returns
    -------
    dict
    """
    return {
        "title": {"text": title + STOP_NOTE, "font": {"size": 12}},
        "minor": {"dtick": STOP, "ticks": "outside", "ticklen": 3, "showgrid": False},
    }


def density_axis(title: str) -> dict:
    """The axis of density or of what is counted in densities.

    Parameters
    ----------
    title : str

    Returns
    -------
    dict
    """
    return {"title": {"text": title}, "rangemode": "tozero"}


def figure(
    data: list[dict],
    xaxis: dict,
    yaxis: dict,
    meta: dict,
    annotations: Sequence[dict] = (),
    *,
    notes_inside: bool = False,
) -> dict:
    """Put a figure together.

    Parameters
    ----------
    data : list of dict
    xaxis, yaxis, meta : dict
    annotations : sequence of dict
    notes_inside : bool
        Whether the annotations stand among the curves, and not in a column to the right.

    Returns
    -------
    dict
        With the keys ``data``, ``layout`` and ``meta``.
    """
    longest = 0 if notes_inside else max((len(note["text"]) for note in annotations), default=0)
    # Numbers of two decimals fit the margins; finding that out would mean to lay the figure out twice.
    is_signed = any(value < 0 for trace in data for value in trace["y"])
    layout = {
        "xaxis": xaxis | _range(data) | {"automargin": False},
        "yaxis": yaxis | {"automargin": False},
        "margin": {"l": 74 if is_signed else 60, "r": 20 + min(7 * longest, 160), "t": 16, "b": 76},
        "hovermode": "closest",
        "showlegend": False,
        "annotations": list(annotations),
    }
    return {"data": data, "layout": layout, "meta": meta}


def _range(data: list[dict]) -> dict:
    """The drawn exposures with a little room; stated, as labels would otherwise widen the axis."""
    x = [value for trace in data for value in trace["x"]]
    if not x:
        return {}
    room = 0.02 * (max(x) - min(x)) or STOP
    return {"range": rounded([min(x) - room, max(x) + room])}


def reference_line(label: str, x, y, *, hover: str) -> dict:
    """The house reference: a thick line without a colour of its own.

    Parameters
    ----------
    label : str
    x, y : array_like, shape (n,) [log10 lx s], [D]
    hover : str
        Template of what is shown under the pointer.

    Returns
    -------
    dict
    """
    return {
        "type": "scatter",
        "mode": "lines",
        "name": label,
        "x": rounded(x),
        "y": rounded(y),
        "line": {"width": REFERENCE_WIDTH},
        "hovertemplate": hover,
        "meta": {"role": "reference", "ink": "reference", "key": REFERENCE_KEY},
    }


def stock_line(label: str, x, y, style: LineStyle, *, hover: str, is_lit: bool = True) -> dict:
    """The curve of a stock, in its style when it is lit and grey when it is not.

    Parameters
    ----------
    label : str
    x, y : array_like, shape (n,) [log10 lx s], [D]
    style : LineStyle
    hover : str
    is_lit : bool

    Returns
    -------
    dict
    """
    trace = {"type": "scatter", "name": label, "x": rounded(x), "y": rounded(y)}
    if not is_lit:
        return trace | {
            "mode": "lines",
            "line": {"width": UNLIT_WIDTH},
            "hoverinfo": "skip",
            "meta": {"role": "stock", "key": style.key},
        }
    return trace | {
        "mode": "lines+markers",
        "line": {"width": STOCK_WIDTH, "dash": style.dash, "color": style.hue},
        "marker": {"symbol": style.marker, "size": 7, "maxdisplayed": 6, "color": style.hue},
        "hovertemplate": hover,
        "meta": {"role": "stock", "ink": style.ink, "key": style.key},
    }


def band_trace(x, low, high, *, ink: int | str, key: str) -> dict:
    """A band about a curve, as one closed outline.

    Parameters
    ----------
    x, low, high : array_like, shape (n,) [log10 lx s], [D], [D]
    ink : int or str
    key : str

    Returns
    -------
    dict
    """
    x, low, high = np.asarray(x, dtype=float), np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    return {
        "type": "scatter",
        "mode": "lines",
        "x": rounded(np.concatenate([x, x[::-1]])),
        "y": rounded(np.concatenate([high, low[::-1]])),
        "fill": "toself",
        "line": {"width": 0},
        "hoverinfo": "skip",
        "showlegend": False,
        "meta": {"role": "band", "ink": ink, "key": key},
    }
