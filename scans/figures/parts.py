"""Parts that the figures of scans share: lines with bands, points with intervals, the frame."""

from __future__ import annotations

from curves.figures.parts import band_trace, rounded


def line(name: str, x, y, *, ink: int = 0, hover: str = "", dash: str | None = None) -> dict:
    """A line of one hue.

    Parameters
    ----------
    name : str
    x, y : array_like, shape (n,) [any]
        A place without a value is None and leaves a gap.
    ink : int
        Place among the hues.
    hover : str
        Template of what is shown under the pointer.
    dash : str, optional

    Returns
    -------
    dict
    """
    trace = {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": list(x),
        "y": list(y),
        "hovertemplate": hover,
        "meta": {"role": "stock", "ink": ink, "key": name},
    }
    return trace | ({"line": {"dash": dash}} if dash else {})


def points(name: str, x, y, *, low=None, high=None, ink: int = 0, hover: str = "") -> dict:
    """Points, with the ends of their intervals where they are known.

    Parameters
    ----------
    name : str
    x, y : array_like, shape (n,) [any]
    low, high : array_like, shape (n,) [as y], optional
    ink : int
    hover : str

    Returns
    -------
    dict
    """
    trace = {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "x": list(x),
        "y": rounded(y),
        "hovertemplate": hover,
        "meta": {"role": "point", "ink": ink, "key": name},
    }
    if low is not None and high is not None:
        trace["error_y"] = {
            "type": "data",
            "symmetric": False,
            "array": rounded([top - value for top, value in zip(high, y, strict=True)]),
            "arrayminus": rounded([value - bottom for bottom, value in zip(low, y, strict=True)]),
        }
    return trace


def zero_line(low: float, high: float) -> dict:
    """A line at nothing, to judge residuals by.

    Parameters
    ----------
    low, high : float, scalar [as the axis]
        Its ends.

    Returns
    -------
    dict
    """
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [low, high],
        "y": [0, 0],
        "hoverinfo": "skip",
        "meta": {"role": "construction", "ink": "reference", "key": "zero"},
    }


def frame(data: list[dict], across: str, up: str, description: str, **axes) -> dict:
    """Put a figure together.

    Parameters
    ----------
    data : list of dict
    across, up : str
        Titles of the axes, with units.
    description : str
        One plain sentence for those who do not see it.
    **axes : dict
        More of ``xaxis`` or ``yaxis``.

    Returns
    -------
    dict
    """
    return {
        "data": data,
        "layout": {
            "xaxis": {"title": {"text": across}} | axes.get("xaxis", {}),
            "yaxis": {"title": {"text": up}} | axes.get("yaxis", {}),
            "margin": {"l": 64, "r": 20, "t": 16, "b": 56},
            "hovermode": "closest",
            "showlegend": False,
            "annotations": [],
        },
        "meta": {"description": description},
    }


__all__ = ["band_trace", "frame", "line", "points", "rounded", "zero_line"]
