"""Names at the ends of curves, so that a figure can be read without a legend and without colour."""

from __future__ import annotations

from collections.abc import Sequence

from curves.figures.parts import DECIMALS


def end_labels(traces: Sequence[dict], *, beside: Sequence[dict] = (), limit: int = 22) -> list[dict]:
    """Names to the right of the curves' ends, in one column, moved apart where they would meet.

    Parameters
    ----------
    traces : sequence of dict
        The curves to label.
    beside : sequence of dict
        What else is drawn. The axis reaches over it, so that names need more room in its unit.
    limit : int
        Longest label, in characters.

    Returns
    -------
    list of dict
        Annotations; each has the key of its curve as its name.
    """
    traces = [trace for trace in traces if trace["x"]]
    if not traces:
        return []
    heights = [value for trace in (*traces, *beside) for value in trace["y"]]
    gap = 0.055 * (max(heights) - min(heights))
    ends = [trace["y"][-1] for trace in traces]
    column = max(trace["x"][-1] for trace in traces)
    return [
        {
            "name": trace["meta"]["key"],
            "text": name if len(name) <= limit else name[: limit - 1] + "…",
            "x": column,
            "y": height,
            "xanchor": "left",
            "yanchor": "middle",
            "xshift": 6,
            "showarrow": False,
        }
        for trace, height in zip(traces, spread(ends, gap), strict=True)
        for name in [trace["name"]]
    ]


def spread(heights: Sequence[float], gap: float) -> list[float]:
    """Heights moved apart by as little as a least gap asks for, keeping their order.

    Runs of heights that are too close are spread evenly about their common mean.

    Parameters
    ----------
    heights : sequence of float, shape (n,) [D]
    gap : float, scalar [D]

    Returns
    -------
    list of float, shape (n,) [D]

    Examples
    --------
    >>> spread([1.0, 1.0, 3.0], 0.5)
    [0.75, 1.25, 3.0]
    """
    order = sorted(range(len(heights)), key=lambda at: heights[at])
    runs: list[tuple[float, list[int]]] = []
    for at in order:
        middle, members = heights[at], [at]
        while runs and middle - gap * (len(members) - 1) / 2 - _top(runs[-1], gap) < gap:
            below, earlier = runs.pop()
            total = below * len(earlier) + middle * len(members)
            members = earlier + members
            middle = total / len(members)
        runs.append((middle, members))
    moved = list(heights)
    for middle, members in runs:
        for place, at in enumerate(members):
            moved[at] = round(middle + gap * (place - (len(members) - 1) / 2), DECIMALS)
    return moved


def _top(run: tuple[float, list[int]], gap: float) -> float:
    middle, members = run
    return middle + gap * (len(members) - 1) / 2
