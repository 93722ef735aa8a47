"""The map of stocks by similarity: a point and a name each; only distances mean anything."""

from __future__ import annotations

from collections.abc import Sequence

from curves.figures.parts import REFERENCE_KEY, rounded

MOST_NAMES = 60
POINT_SIZE, REFERENCE_SIZE = 8, 13


def relatives_map_figure(points: Sequence[tuple[str, str, float, float]], shown_share: float) -> dict:
    """A map of stocks.

    Parameters
    ----------
    points : sequence of (str, str, float, float)
        Key, name, place across and place up [margins]; the reference's key is ``reference``.
    shown_share : float, scalar [1]
        Share of the spread between stocks that the plane shows.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; with more than sixty stocks names are shown under the pointer only.
    """
    mode = "markers+text" if len(points) <= MOST_NAMES else "markers"
    data = [_point(key, name, x, y, mode) for key, name, x, y in points]
    axis = {"showticklabels": True, "zeroline": False}
    share = f"{100 * shown_share:.0f} %"
    return {
        "data": data,
        "layout": {
            "xaxis": axis | {"title": {"text": "distance in margins"}},
            "yaxis": axis | {"title": {"text": "distance in margins"}, "scaleanchor": "x"},
            "margin": {"l": 56, "r": 24, "t": 16, "b": 72},
            "hovermode": "closest",
            "showlegend": False,
        },
        "meta": {
            "kind": "relatives map",
            "left_out": [],
            "description": (
                f"A map of {len(points)} stocks: near relatives lie near each other. Distances are in"
                f" multiples of the margins; the plane shows {share} of the spread between the stocks,"
                " and its directions have no meaning of their own."
            ),
        },
    }


def _point(key: str, name: str, x: float, y: float, mode: str) -> dict:
    is_reference = key == REFERENCE_KEY
    meta = {"role": "point", "key": key} | ({"ink": "reference"} if is_reference else {})
    return {
        "type": "scatter",
        "mode": mode,
        "name": name,
        "x": rounded([x]),
        "y": rounded([y]),
        "text": [name],
        "textposition": "top center",
        "textfont": {"size": 11},
        "marker": {
            "size": REFERENCE_SIZE if is_reference else POINT_SIZE,
            "symbol": "diamond" if is_reference else "circle",
        },
        "hovertemplate": "%{text}<extra></extra>",
        "meta": meta,
    }
