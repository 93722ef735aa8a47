"""How measures are read off a curve: the lines and marks of each construction, with a few words beside."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from curves.figures.parts import STOP, rounded
from curves.sensitometry import Analysis

_SIDES = {
    "right": {"xanchor": "left", "yanchor": "middle", "xshift": 6},
    "left": {"xanchor": "right", "yanchor": "middle", "xshift": -6},
    "above": {"xanchor": "right", "yanchor": "bottom", "yshift": 2},
    "below": {"xanchor": "center", "yanchor": "top", "xshift": 14, "yshift": -18},
    "over": {"xanchor": "center", "yanchor": "bottom", "yshift": 2},
}
_TICK = {"symbol": "line-ns-open", "size": 14}


def drawn_constructions(analysis: Analysis) -> list[tuple[dict, dict]]:
    """The constructions of which an analysis gives the numbers.

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    list of (dict, dict)
        A trace, and the annotation with its words.
    """
    return [
        draw(analysis.constructions[name], analysis)
        for name, draw in _DRAWINGS.items()
        if analysis.constructions.get(name)
    ]


def _drawn(
    name: str,
    x,
    y,
    *,
    says: str,
    note: str,
    at: tuple[float, float] | None = None,
    side: str = "right",
    marker: Mapping | None = None,
) -> tuple[dict, dict]:
    """A construction: what it says under the pointer, and the note beside a point (by default its last)."""
    x, y = rounded(x), rounded(y)
    trace = {
        "type": "scatter",
        "mode": "lines+markers" if marker and len(x) > 1 else "markers" if marker else "lines",
        "name": name,
        "x": x,
        "y": y,
        "line": {"width": 1.25, "dash": "3px,3px"},
        "hovertemplate": says.replace("-", "−") + "<extra></extra>",
        "meta": {"role": "construction"},
    }
    if marker:
        trace["marker"] = dict(marker)
    across, up = rounded(at or (x[-1], y[-1]))
    words = {"text": note.replace("-", "−"), "x": across, "y": up, "showarrow": False, "font": {"size": 11}}
    return trace, words | _SIDES[side]


def _base(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
    ends = analysis.curve.log_exposure[[0, -1]]
    note = f"base plus fog {parts['density']:.2f}"
    return _drawn("base plus fog", ends, [parts["density"]] * 2, says=f"{note} D", note=note, side="above")


def _speed_point(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
    place, density = parts["log_exposure"], parts["density"]
    says = f"speed point: {density:.2f} D at {place:.2f}"
    marker = {"symbol": "diamond", "size": [0, 10]}
    y = [parts["base_density"], density]
    return _drawn("speed point", [place, place], y, says=says, note="speed point", side="left", marker=marker)


def _chord(name: str, span: str, side: str):
    def draw(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
        low, high = parts["start_density"], parts["end_density"]
        x = [parts["start"], parts["end"], parts["end"]]
        says = f"density rises by {high - low:.2f} D over {span}"
        note = f"{high - low:.2f} over {span}"
        at = (parts["end"], low + 0.5 * (high - low))
        return _drawn(name, x, [low, low, high], says=says, note=note, at=at, side=side)

    return draw


def _contrast_index(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
    x = [parts["origin"], parts["inner"], parts["outer"]]
    y = [parts["base_density"], parts["inner_density"], parts["outer_density"]]
    note = f"contrast index {parts['slope']:.2f}"
    says = f"{note}: marks 0.2 and 2.2 from the origin"
    marker = {"symbol": "line-ns-open", "size": 9}
    return _drawn("contrast index", x, y, says=says, note=note, side="left", marker=marker)


def _straight_part(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
    start, end = parts.get("start", parts["first_step"]), parts.get("end", parts["last_step"])
    x = np.array([start, end])
    y = parts["density"] + parts["slope"] * (x - parts["log_exposure"])
    note = f"gamma {parts['slope']:.2f}"
    at = (end, y[-1])
    return _drawn("straight part", x, y, says=f"straight part, {note}", note=note, at=at, side="left")


def _toe(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
    x = [parts["end"]]
    y = np.interp(x, analysis.curve.log_exposure, analysis.curve.density)
    says = f"toe ends {parts['end'] - parts['start']:.2f} above the speed point"
    return _drawn("end of the toe", x, y, says=says, note="toe ends", side="above", marker=_TICK)


def _shoulder(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
    is_bound = analysis.measures["shoulder_onset"].high is None
    x, y = [parts["onset"]], [parts["density"]]
    note = "shoulder, if any" if is_bound else "shoulder starts"
    says = f"shoulder starts at {parts['onset']:.2f}{' or later' if is_bound else ''}"
    return _drawn("start of the shoulder", x, y, says=says, note=note, side="below", marker=_TICK)


def _useful_range(parts: Mapping, analysis: Analysis) -> tuple[dict, dict]:
    start, end, is_open = parts["start"], parts["end"], bool(parts["is_open"])
    least = "at least " if is_open else ""
    note = f"useful range {least}{(end - start) / STOP:.1f} stops"
    says = f"useful range {least}{end - start:.2f}: {(end - start) / STOP:.1f} stops"
    # Below the curve and clear of it: nearer to zero than to base plus fog.
    height = 0.4 * analysis.constructions["speed_point"]["base_density"]
    marker = {"symbol": ["line-ns-open", "triangle-right" if is_open else "line-ns-open"], "size": 9}
    at = ((start + end) / 2, height)
    y = [height, height]
    return _drawn("useful range", [start, end], y, says=says, note=note, at=at, side="over", marker=marker)


_DRAWINGS = {
    "base": _base,
    "speed_point": _speed_point,
    "contrast_pair": _chord("rise over 1.30", "1.30", "left"),
    "average_gradient": _chord("rise over 1.50", "1.50", "right"),
    "contrast_index": _contrast_index,
    "straight_part": _straight_part,
    "toe": _toe,
    "shoulder": _shoulder,
    "useful_range": _useful_range,
}
