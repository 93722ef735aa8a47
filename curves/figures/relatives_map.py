"""The map of stocks by similarity: a point and a name each; only distances mean anything."""

from __future__ import annotations

from collections.abc import Sequence

from curves.figures.parts import REFERENCE_KEY, rounded
from curves.figures.point_names import name_places

MOST_NAMES = 60
POINT_SIZE, REFERENCE_SIZE = 8, 13
# The map's field on a usual screen, in pixels.
FIELD = (640.0, 420.0)


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
        ``data``, ``layout`` and ``meta``; names for which there is no room, and all
        of more than sixty stocks, are shown under the pointer only.
    """
    places = _places(points) if len(points) <= MOST_NAMES else [None] * len(points)
    data = [_point(*point, place) for point, place in zip(points, places, strict=True)]
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


def _places(points: Sequence[tuple[str, str, float, float]]) -> list[str | None]:
    """Where names are written that have room, the reference's first; both axes have one scale."""
    if not points:
        return []
    _, _, across, up = zip(*points, strict=True)
    spans = [max(max(values) - min(values), 1e-9) for values in (across, up)]
    scale = max(span / side for span, side in zip(spans, FIELD, strict=True))
    shares = [((x - min(across)) / scale / FIELD[0], (y - min(up)) / scale / FIELD[1]) for *_, x, y in points]
    first = [number for number, (key, *_) in enumerate(points) if key == REFERENCE_KEY]
    return name_places(shares, [name for _, name, *_ in points], first=first, canvas=FIELD)


def _point(key: str, name: str, x: float, y: float, place: str | None) -> dict:
    is_reference = key == REFERENCE_KEY
    meta = {"role": "point", "key": key} | ({"ink": "reference"} if is_reference else {})
    return {
        "type": "scatter",
        "mode": "markers+text" if place else "markers",
        "name": name,
        "x": rounded([x]),
        "y": rounded([y]),
        "text": [name],
        "textposition": place or "top center",
        "textfont": {"size": 11},
        "marker": {
            "size": REFERENCE_SIZE if is_reference else POINT_SIZE,
            "symbol": "diamond" if is_reference else "circle",
        },
        "hovertemplate": "%{text}<extra></extra>",
        "meta": meta,
    }
