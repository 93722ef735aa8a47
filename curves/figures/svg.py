"""A figure as an SVG picture that needs no script: for paper, for files, and for pages that must not move.

Every part has the colour of paper as an attribute and a class beside it, by which a page's style sheet
gives it the colours of the page's theme.
"""

from __future__ import annotations

import html
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.figures.labels import spread
from curves.figures.paper_colours import AXIS, BAND_OPACITY, GRID, INK, PAPER, REFERENCE, SOFT, UNLIT
from curves.figures.parts import STOP
from curves.figures.styles import HUES

LEFT, TOP, BOTTOM, EDGE = 52.0, 10.0, 50.0, 14.0
TEXT_SIZE, SMALL_SIZE = 13.0, 12.0
LETTER = 6.6
"""Width of a letter of the labels, on average; measured on the faces that browsers take for sans-serif."""
MARKS = 6


@dataclass(frozen=True)
class _Plot:
    """Where numbers lie in the picture."""

    width: float
    height: float
    right: float
    x_range: tuple[float, float]
    y_range: tuple[float, float]

    def x(self, value: float) -> float:
        low, high = self.x_range
        return round(LEFT + (value - low) / (high - low) * (self.width - LEFT - self.right), 2)

    def y(self, value: float) -> float:
        low, high = self.y_range
        return round(self.height - BOTTOM - (value - low) / (high - low) * (self.height - TOP - BOTTOM), 2)


def figure_svg(figure: Mapping, *, width: float = 720.0, height: float = 400.0) -> str:
    """Draw a figure of curves.

    Parameters
    ----------
    figure : mapping
        As `comparison_figure` and its kin return it; bands, lines and names at their ends are drawn.
    width, height : float, scalar [px]

    Returns
    -------
    str
        One ``svg`` element with title and description.
    """
    plot = _plot(figure, width, height)
    title = html.escape(figure["meta"].get("title", "Characteristic curves"))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="curve-picture" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}" '
        f'role="img" aria-labelledby="curve-picture-title curve-picture-text" font-family="sans-serif" '
        f'font-size="{TEXT_SIZE:g}" fill="{INK}">',
        f'<title id="curve-picture-title">{title}</title>',
        f'<desc id="curve-picture-text">{html.escape(figure["meta"].get("description", ""))}</desc>',
        f'<rect class="cp-paper" width="{width:g}" height="{height:g}" fill="{PAPER}"/>',
        *_axes(plot, figure["layout"]),
        *[part for trace in figure["data"] for part in _trace(trace, plot)],
        *_names(figure["layout"].get("annotations", ()), plot, _inks(figure["data"])),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def nice_ticks(low: float, high: float, most: int) -> list[float]:
    """Round numbers along an axis, at most so many.

    Parameters
    ----------
    low, high : float, scalar [any]
    most : int, scalar [1]

    Returns
    -------
    list of float, shape (n,) [the same]

    Examples
    --------
    >>> nice_ticks(0.0, 2.1, 6)
    [0.0, 0.5, 1.0, 1.5, 2.0]
    """
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10, 20) if (high - low) / (power * factor) <= most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(number * step, 10) + 0.0 for number in range(first, last + 1)]


def _plot(figure: Mapping, width: float, height: float) -> _Plot:
    data, layout = figure["data"], figure["layout"]
    heights = [value for trace in data for value in trace["y"]]
    top = max([*heights, 1.0])
    names = [note["text"] for note in layout.get("annotations", ())]
    longest = max((len(name) for name in names), default=0)
    bottom = min([*heights, 0.0])
    return _Plot(
        width,
        height,
        EDGE + (8 + LETTER * longest if longest else 0),
        tuple(layout["xaxis"].get("range", (-1.0, 1.0))),
        (bottom, top + 0.04 * (top - bottom)),
    )


def _axes(plot: _Plot, layout: Mapping) -> list[str]:
    (x0, x1), (y0, y1) = plot.x_range, plot.y_range
    left, right, low, high = plot.x(x0), plot.x(x1), plot.y(y0), plot.y(y1)
    parts = []
    for value in nice_ticks(y0, y1, 7):
        y = plot.y(value)
        parts += [_line(left, y, right, y, "grid"), _text(left - 7, y + 4, _number(value), "end")]
    for value in nice_ticks(x0, x1, 8):
        x = plot.x(value)
        parts += [
            _line(x, high, x, low, "grid"),
            _line(x, low, x, low + 6, "axis"),
            _text(x, low + 20, _number(value), "middle"),
        ]
    for count in range(math.ceil(x0 / STOP), math.floor(x1 / STOP) + 1):
        parts.append(_line(plot.x(count * STOP), low, plot.x(count * STOP), low + 3, "axis"))
    parts += [_line(left, low, right, low, "axis"), _line(left, high, left, low, "axis")]
    title = layout["xaxis"]["title"]["text"].replace("<br>", "; ")
    middle = (left + right) / 2
    parts.append(_text(middle, low + 40, title, "middle", size=SMALL_SIZE, is_soft=True))
    y_middle = round((low + high) / 2, 1)
    parts.append(
        f'<text class="cp-soft" x="15" y="{y_middle:g}" transform="rotate(-90 15 {y_middle:g})" '
        f'text-anchor="middle" font-size="{SMALL_SIZE:g}" fill="{SOFT}">'
        f"{html.escape(layout['yaxis']['title']['text'])}, D</text>"
    )
    return parts


def _trace(trace: Mapping, plot: _Plot) -> list[str]:
    if not trace["x"]:
        return []
    ink, colour = _ink(trace)
    places = [(plot.x(x), plot.y(y)) for x, y in zip(trace["x"], trace["y"], strict=True)]
    path = " ".join(f"{x:g},{y:g}" for x, y in places)
    if trace["meta"]["role"] == "band":
        return [
            f'<polygon class="cp-fill-{ink}" points="{path}" fill="{colour}" fill-opacity="{BAND_OPACITY}"/>'
        ]
    line = trace.get("line", {})
    dash = line.get("dash", "solid")
    dashed = "" if dash == "solid" else f' stroke-dasharray="{dash.replace("px", "")}"'
    drawn = [
        f'<polyline class="cp-line-{ink}" points="{path}" fill="none" stroke="{colour}" '
        f'stroke-width="{line.get("width", 1):g}" stroke-linejoin="round"{dashed}/>'
    ]
    if "markers" in trace["mode"]:
        chosen = np.linspace(0, len(places) - 1, MARKS).round().astype(int)
        drawn += [
            f'<circle class="cp-fill-{ink}" cx="{x:g}" cy="{y:g}" r="3.6" fill="{colour}"/>'
            for x, y in (places[at] for at in chosen)
        ]
    return drawn


def _names(annotations: Sequence[Mapping], plot: _Plot, inks: Mapping) -> list[str]:
    parts = []
    # Names were moved apart for a tall figure; here a line of text takes a larger share of the height.
    heights = spread([plot.y(note["y"]) for note in annotations], TEXT_SIZE + 1)
    for note, height in zip(annotations, heights, strict=True):
        ink, colour = inks.get(note.get("name"), ("unlit", UNLIT))
        x, y = plot.x(note["x"]) + note.get("xshift", 0), height + 4
        name = html.escape(note["text"])
        parts.append(f'<text class="cp-fill-{ink}" x="{x:g}" y="{y:g}" fill="{colour}">{name}</text>')
    return parts


def _inks(data: Sequence[Mapping]) -> dict:
    return {trace["meta"]["key"]: _ink(trace) for trace in data}


def _ink(trace: Mapping) -> tuple[str, str]:
    """What a trace is called in style sheets, and its colour on paper."""
    ink = trace["meta"].get("ink")
    if ink is None:
        return "unlit", UNLIT
    if ink == "reference":
        return "reference", REFERENCE
    return str(ink % len(HUES) + 1), HUES[ink % len(HUES)]


def _line(x0: float, y0: float, x1: float, y1: float, kind: str) -> str:
    colour = GRID if kind == "grid" else AXIS
    return f'<line class="cp-{kind}" x1="{x0:g}" y1="{y0:g}" x2="{x1:g}" y2="{y1:g}" stroke="{colour}"/>'


def _text(x: float, y: float, text: str, anchor: str, *, size: float = 0.0, is_soft: bool = False) -> str:
    name, colour = ("cp-soft", SOFT) if is_soft else ("cp-text", INK)
    sized = f' font-size="{size:g}"' if size else ""
    return (
        f'<text class="{name}" x="{x:g}" y="{y:g}" text-anchor="{anchor}"{sized} '
        f'fill="{colour}">{html.escape(text)}</text>'
    )


def _number(value: float) -> str:
    return f"{value + 0.0:.1f}".replace("-", "−")
