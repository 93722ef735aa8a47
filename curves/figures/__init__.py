"""Figures: results in, Plotly figure dictionaries out. Pure; nothing here draws.

A figure is ``{"data": [...], "layout": {...}, "meta": {...}}``. ``meta["description"]`` is one plain
sentence for those who do not see it; ``meta["left_out"]`` lists curves that could not be drawn, each with
its reason code.

Colours. What depends on the theme (ink, grid, paper, the reference) is not in the dictionaries: the page's
script, or `curves.figures.saved.write_html`, fills it in by what each trace says of itself:

- ``trace.meta.role``: ``reference``, ``stock``, ``band``, ``point`` or ``construction``;
- ``trace.meta.ink``: ``"reference"`` for the theme's own ink, a number for a stock's hue (its place in the
  comparison's address), absent for a curve that is not lit and drawn grey;
- ``trace.meta.key``: the curve that a line, its band and its label belong to. An annotation that is a
  curve's label has that key as its ``name``.

Lit stocks carry their hue, dash and marker as well, since these are the same in the light and the dark
theme; a theme may replace the hue by its ink.
"""

from curves.figures.characteristic import characteristic_figure
from curves.figures.comparison import (
    MixedExposureError,
    comparison_figure,
    difference_figure,
    gradient_figure,
)
from curves.figures.comparison_panels import Panel, PanelSheet, comparison_panels
from curves.figures.description import figure_description
from curves.figures.styles import LIT_LIMIT, LineStyle, line_style

__all__ = [
    "LIT_LIMIT",
    "LineStyle",
    "MixedExposureError",
    "Panel",
    "PanelSheet",
    "characteristic_figure",
    "comparison_figure",
    "comparison_panels",
    "difference_figure",
    "figure_description",
    "gradient_figure",
    "line_style",
]
