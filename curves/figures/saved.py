"""A figure as one HTML file that opens anywhere, in the colours of paper.

This module alone needs the drawing library's Python package; pages draw the dictionaries themselves.
"""

from __future__ import annotations

import copy
import html
from collections.abc import Mapping
from pathlib import Path

import plotly.io

from curves.figures.paper_colours import AXIS, BAND_OPACITY, GRID, INK, PAPER, REFERENCE, SOFT, UNLIT
from curves.figures.styles import HUES

_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
body {{ margin: 1.5rem; font-family: system-ui, sans-serif; color: {ink}; background: {paper}; }}
h1 {{ font-size: 1.25rem; }}
</style>
</head>
<body>
<h1>{title}</h1>
{plot}
<p>{description}</p>
</body>
</html>
"""


def write_html(figure: Mapping, path: str | Path, title: str) -> None:
    """Write a figure as one self-contained HTML file.

    Parameters
    ----------
    figure : mapping
        As the functions of this package return it.
    path : str or Path
        File to write; what was there is replaced.
    title : str

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    plot = plotly.io.to_html(
        in_paper_colours(figure),
        config={"displaylogo": False},
        include_plotlyjs=True,
        full_html=False,
        default_height="34rem",
    )
    page = _PAGE.format(
        title=html.escape(title),
        plot=plot,
        description=html.escape(figure["meta"].get("description", "")),
        ink=INK,
        paper=PAPER,
    )
    Path(path).write_text(page, encoding="utf-8")


def in_paper_colours(figure: Mapping) -> dict:
    """A copy of a figure's data and layout with every colour filled in.

    Parameters
    ----------
    figure : mapping

    Returns
    -------
    dict
        With the keys ``data`` and ``layout``.
    """
    data = copy.deepcopy(figure["data"])
    layout = copy.deepcopy(figure["layout"])
    for trace in data:
        _paint(trace)
    colours = {trace["meta"]["key"]: _colour(trace) for trace in data if "key" in trace["meta"]}
    for note in layout.get("annotations", ()):
        note["font"] = {**note.get("font", {}), "color": colours.get(note.get("name"), SOFT)}
    for axis in (layout[name] for name in ("xaxis", "yaxis")):
        axis.update(
            gridcolor=GRID, linecolor=AXIS, tickcolor=AXIS, zeroline=False, showline=True, ticks="outside"
        )
    layout.update(paper_bgcolor=PAPER, plot_bgcolor=PAPER, font={"color": INK})
    return {"data": data, "layout": layout}


def _colour(trace: Mapping) -> str:
    """Colour of a trace from what it is; mirrors the page's own script."""
    if trace["meta"]["role"] == "construction":
        return SOFT
    ink = trace["meta"].get("ink")
    if ink == "reference":
        return REFERENCE
    return UNLIT if ink is None else HUES[ink % len(HUES)]


def _paint(trace: dict) -> None:
    colour = _colour(trace)
    if trace["meta"]["role"] == "band":
        red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
        trace["fillcolor"] = f"rgba({red},{green},{blue},{BAND_OPACITY})"
        return
    trace["line"] = {**trace.get("line", {}), "color": colour}
    trace["marker"] = {**trace.get("marker", {}), "color": colour}
    trace["textfont"] = {"color": colour}
