"""How curves are told apart: a hue, a dash and a marker for each place in a list of stocks."""

from __future__ import annotations

from dataclasses import dataclass

HUES = ("#0072b2", "#d55e00", "#009e73", "#cc79a7")
"""The four hues of M. Okabe and K. Ito, Color Universal Design, 2008, that reach a contrast of 3:1 both on
white and on the dark theme's ground."""

DASHES = (
    "solid",
    "10px,4px",
    "2px,3px",
    "10px,3px,2px,3px",
    "18px,5px",
    "18px,4px,2px,4px",
    "5px,5px",
    "3px,2px",
)
"""The same patterns as in the page's own script, so that a saved figure matches the page."""

MARKERS = ("circle", "square", "diamond", "triangle-up", "cross", "triangle-down", "x")
"""Seven, so that hue, dash and marker together repeat only after 56 stocks."""

LIT_LIMIT = 6
"""More curves than this in colour cannot be told apart at a glance; the rest are drawn grey."""

REFERENCE_WIDTH = 3.5
STOCK_WIDTH = 2.0
UNLIT_WIDTH = 1.0


@dataclass(frozen=True, slots=True)
class LineStyle:
    """Look of one stock's curve.

    Attributes
    ----------
    ink : int
        Place of the stock in the comparison's address, from 0. It decides all the rest.
    key : str
        Short name by which the page's lists and tables find the curve.
    """

    ink: int
    key: str

    @property
    def hue(self) -> str:
        """Colour as ``#rrggbb``."""
        return HUES[self.ink % len(HUES)]

    @property
    def dash(self) -> str:
        """Line pattern in the drawing library's notation."""
        return DASHES[self.ink % len(DASHES)]

    @property
    def marker(self) -> str:
        """Symbol in the drawing library's notation."""
        return MARKERS[self.ink % len(MARKERS)]


def line_style(position: int, key: str | None = None) -> LineStyle:
    """The style of the stock at a place in a comparison's address.

    It depends on the place alone, so that a stock keeps its look whatever the table is sorted by.

    Parameters
    ----------
    position : int
        From 0.
    key : str, optional
        Defaults to ``curve-`` and the position.

    Returns
    -------
    LineStyle

    Raises
    ------
    ValueError
        For a position below 0.

    Examples
    --------
    >>> style = line_style(5)
    >>> style.hue, style.dash, style.marker, style.key
    ('#d55e00', '18px,4px,2px,4px', 'triangle-down', 'curve-5')
    """
    if position < 0:
        raise ValueError("position counts from 0")
    return LineStyle(position, key or f"curve-{position}")
