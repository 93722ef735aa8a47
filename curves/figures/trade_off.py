"""Two goals against each other: a point with intervals for each stock, and a band of what none betters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.figures.parts import REFERENCE_KEY, rounded
from curves.figures.point_names import AWAY, BEYOND_ENDS, PLACES, name_places
from curves.figures.styles import line_style

MOST_NAMES = 30
SIZES = {"on": 11, "possible": 10, "off": 8, "": 8}
SYMBOLS = {"on": "circle", "possible": "circle-open", "off": "x-thin-open", "": "square-open"}
WORDS = {
    "on": "not bettered",
    "possible": "perhaps not bettered",
    "off": "bettered",
    "": "by another rig, not in the running",
}
MARGIN = 0.05
MOST_APART = 150
#: What the field measures on a screen of 1280 pixels.
FIELD = (1100.0, 560.0)


@dataclass(frozen=True, slots=True)
class TradePoint:
    """A stock on the plot.

    Attributes
    ----------
    key, name : str
        The reference's key is ``reference``.
    across, up : tuple of float, shape (3,) [units of the axes]
        Value and both ends of the interval.
    verdict : str
        ``on``, ``possible``, ``off``, or empty where it is not in the running.
    ink : int or None
        Place among the chosen stocks; None: not chosen.
    """

    key: str
    name: str
    across: tuple[float, float, float]
    up: tuple[float, float, float]
    verdict: str
    ink: int | None = None


def trade_off_figure(
    points: Sequence[TradePoint],
    edges: Sequence,
    *,
    titles: tuple[str, str],
    is_more_better: tuple[bool, bool],
    is_log_across: bool = False,
    description: str = "",
) -> dict:
    """Draw the stocks and the frontier between the best that is reached for certain and the best at most.

    Parameters
    ----------
    points : sequence of TradePoint
    edges : sequence of array_like, shape (k, 2) each [units of the axes]
        Step lines through the values, the worst ends and the best ends of what none betters.
    titles : tuple of str
        Of the axes.
    is_more_better : tuple of bool
        Of each axis.
    is_log_across : bool
    description : str

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``.
    """
    limits = _limits(points)
    lines = [_extended(np.asarray(edge, dtype=float), limits, is_more_better) for edge in edges]
    data = []
    if len(lines[0]):
        data = [_band(lines[1], lines[2]), _edge(lines[0])]
    places = _places(points, limits, is_log_across)
    crowd = [] if len(points) <= MOST_APART else [p for p in points if p.verdict == "off" and p.ink is None]
    crowd = [point for point in crowd if point.key != REFERENCE_KEY]
    data += [_crowd(crowd)] if crowd else []
    data += [_point(point, places.get(point.key)) for point in points if point not in crowd]
    if unnamed := len(points) - len(places):
        count = f"{unnamed} of {len(points)}"
        description += f" {count} names have no room, on a phone more: point at a mark, or see the table."
    across = {"title": {"text": titles[0]}} | (_stops(limits[0]) if is_log_across else {})
    return {
        "data": data,
        "layout": {
            "xaxis": across,
            "yaxis": {"title": {"text": titles[1]}},
            "margin": {"l": 56, "r": 24, "t": 20, "b": 56},
            "hovermode": "closest",
            "showlegend": False,
            "annotations": [
                _note(point, place, is_log_across)
                for point in points
                if (place := places.get(point.key)) in BEYOND_ENDS
            ],
        },
        "meta": {"kind": "trade-off", "left_out": [], "description": description},
    }


def _limits(points: Sequence[TradePoint]) -> list[tuple[float, float]]:
    """What the intervals of the points span on either axis, with a little room."""
    if not points:
        return [(0.0, 1.0), (0.0, 1.0)]
    ends = [[end for point in points for end in axis(point)] for axis in (_across, _up)]
    return [(min(each) * (1 - MARGIN), max(each) * (1 + MARGIN)) for each in ends]


def _across(point: TradePoint) -> tuple[float, float, float]:
    return point.across


def _up(point: TradePoint) -> tuple[float, float, float]:
    return point.up


def _extended(edge: np.ndarray, limits, is_more_better) -> np.ndarray:
    """The step line, drawn on to where the plot ends: nothing beyond its ends is reached."""
    if not len(edge):
        return edge
    worst = [
        limit[0] if is_better else limit[1] for limit, is_better in zip(limits, is_more_better, strict=True)
    ]
    return np.vstack([[worst[0], edge[0, 1]], edge, [edge[-1, 0], worst[1]]])


def _band(sure: np.ndarray, hoped: np.ndarray) -> dict:
    outline = np.vstack([hoped, sure[::-1]])
    return {
        "type": "scatter",
        "mode": "lines",
        "x": rounded(outline[:, 0]),
        "y": rounded(outline[:, 1]),
        "fill": "toself",
        "hoverinfo": "skip",
        "meta": {"role": "band"},
    }


def _edge(line: np.ndarray) -> dict:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "not bettered",
        "x": rounded(line[:, 0]),
        "y": rounded(line[:, 1]),
        "line": {"dash": "solid", "width": 1.5},
        "hoverinfo": "skip",
        "meta": {"role": "construction"},
    }


def _named(points: Sequence[TradePoint]) -> set[str]:
    """Whose name is written: all of few; of many the chosen ones and those that none betters."""
    if len(points) <= MOST_NAMES:
        return {point.key for point in points}
    return {point.key for point in points if point.ink is not None or point.verdict == "on"}


def _places(points: Sequence[TradePoint], limits, is_log: bool) -> dict[str, str]:
    """Where names are written that have room, those of the reference and the chosen stocks first."""
    named = _named(points)
    shown = [point for point in points if point.key in named]
    if not shown:
        return {}
    share = _share_of(limits, is_log)
    at = {point.key: (share(0, point.across[0]), share(1, point.up[0])) for point in points}
    reaches = {
        point.key: (
            share(0, point.across[1]),
            share(1, point.up[1]),
            share(0, point.across[2]),
            share(1, point.up[2]),
        )
        for point in points
    }
    whiskers = []
    for key, (left, low, right, high) in reaches.items():
        x, y = at[key]
        whiskers += [(left, y, right, y), (x, low, x, high)]
    places = name_places(
        [at[point.key] for point in shown],
        [point.name for point in shown],
        first=[n for n, point in enumerate(shown) if point.ink is not None or point.key == REFERENCE_KEY],
        reaches=[reaches[point.key] for point in shown],
        lines=whiskers,
        canvas=FIELD,
    )
    return {point.key: place for point, place in zip(shown, places, strict=True) if place}


def _share_of(limits, is_log: bool):
    """Where on an axis (0 across, 1 up) a value stands, as a share of what the axis spans."""
    scales = (np.log if is_log else np.asarray, np.asarray)
    ends = [scale(limit) for scale, limit in zip(scales, limits, strict=True)]

    def share(axis: int, value: float) -> float:
        low, high = ends[axis]
        return float((scales[axis](value) - low) / (high - low))

    return share


def _note(point: TradePoint, place: str, is_log: bool) -> dict:
    """The name of a point beyond the end of one of its whiskers."""
    (x, left, right), (y, low, high) = point.across, point.up
    x, y = {"right": (right, y), "left": (left, y), "above": (x, high), "below": (x, low)}[place]
    # Annotations of a logarithmic axis are placed by the logarithm.
    x = float(np.log10(x)) if is_log else x
    anchors = {
        "right": {"xanchor": "left", "yanchor": "middle", "xshift": AWAY},
        "left": {"xanchor": "right", "yanchor": "middle", "xshift": -AWAY},
        "above": {"xanchor": "center", "yanchor": "bottom", "yshift": AWAY / 2},
        "below": {"xanchor": "center", "yanchor": "top", "yshift": -AWAY / 2},
    }
    return {
        "name": point.key,
        "text": point.name,
        "x": rounded([x])[0],
        "y": rounded([y])[0],
        "showarrow": False,
        "font": {"size": 11},
        "borderpad": 0,
    } | anchors[place]


def _point(point: TradePoint, place: str | None) -> dict:
    meta = {"role": "point", "key": point.key}
    marker = {"size": SIZES[point.verdict], "symbol": SYMBOLS[point.verdict]}
    if point.verdict == "off":
        marker["line"] = {"width": 1.5}
    if point.key == REFERENCE_KEY:
        meta["ink"] = "reference"
        marker = {"size": 13, "symbol": "diamond" if point.verdict == "on" else "diamond-open"}
    elif point.ink is not None:
        meta["ink"] = point.ink
        style = line_style(point.ink, point.key)
        shape = style.marker if point.verdict == "on" else f"{style.marker}-open"
        marker = {"size": 12, "symbol": shape}
    (x, *x_ends), (y, *y_ends) = point.across, point.up
    return {
        "type": "scatter",
        "mode": "markers+text" if place in PLACES else "markers",
        "name": point.name,
        "x": rounded([x]),
        "y": rounded([y]),
        "error_x": _error(x, x_ends),
        "error_y": _error(y, y_ends),
        "text": [point.name],
        "textposition": place if place in PLACES else "top right",
        "textfont": {"size": 11},
        "marker": marker,
        "hovertemplate": f"%{{text}}: {WORDS[point.verdict]}<extra></extra>",
        "meta": meta,
    }


def _crowd(points: Sequence[TradePoint]) -> dict:
    """Those that are bettered, of very many stocks, as one trace: their intervals would hide all else."""
    return {
        "type": "scatter",
        "mode": "markers",
        "name": WORDS["off"],
        "x": rounded([point.across[0] for point in points]),
        "y": rounded([point.up[0] for point in points]),
        "text": [point.name for point in points],
        "marker": {"size": 6, "symbol": SYMBOLS["off"], "line": {"width": 1}},
        "hovertemplate": f"%{{text}}: {WORDS['off']}<extra></extra>",
        "meta": {"role": "point", "keys": [point.key for point in points]},
    }


def _error(value: float, ends: list[float]) -> dict:
    low, high = ends
    return {
        "type": "data",
        "symmetric": False,
        "array": rounded([high - value]),
        "arrayminus": rounded([value - low]),
    }


def _stops(limits: tuple[float, float]) -> dict:
    """A logarithmic axis with a mark at each stop, as film speeds are written."""
    marks = (3, 6, 12, 25, 50, 100, 200, 400, 800, 1600, 3200, 6400)
    shown = [each for each in marks if limits[0] / 2 <= each <= limits[1] * 2]
    return {"type": "log", "tickvals": shown, "ticktext": [str(each) for each in shown]}
