"""A figure of many stocks and the reference, while it is drawn."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from curves.figures.description import figure_description
from curves.figures.labels import end_labels
from curves.figures.parts import (
    ABSOLUTE_TITLE,
    REFERENCE_KEY,
    RELATIVE_TITLE,
    SHADOW_TITLE,
    SPEED_POINT_TITLE,
    band_trace,
    density_axis,
    exposure_axis,
    figure,
    reference_line,
    stock_line,
)
from curves.figures.styles import LIT_LIMIT, LineStyle
from curves.sensitometry.comparing.curve_matching import ALIGNMENTS

COMMON_TITLES = {
    "speed_point": SPEED_POINT_TITLE,
    "shadow_density": SHADOW_TITLE,
    "contrast": SPEED_POINT_TITLE,
}


class Sheet:
    """Gathers lines, bands and what could not be drawn; `finish` puts them in order.

    Parameters
    ----------
    styles : sequence of LineStyle
        Of all stocks, in the order of the comparison's address.
    align : {'exposure', 'speed_point', 'shadow_density', 'contrast'}
    exposure : {'absolute', 'relative'}
        Kind of the exposure axis.
    lit : collection of str, optional
        Keys of the stocks drawn in colour; by default the first six.
    """

    def __init__(
        self, styles: Sequence[LineStyle], *, align: str, exposure: str, lit: Collection[str] | None
    ) -> None:
        if align not in ALIGNMENTS:
            raise ValueError(f"align must be one of {ALIGNMENTS}, not {align!r}")
        self._align = align
        self._exposure = exposure
        self._lit = {style.key for style in styles[:LIT_LIMIT]} if lit is None else set(lit)
        self._grey: list[dict] = []
        self._bands: list[dict] = []
        self._reference: list[dict] = []
        self._lines: list[dict] = []
        self._left_out: list[dict] = []

    def is_lit(self, style: LineStyle) -> bool:
        """Whether the stock is drawn in its own colour."""
        return style.key in self._lit

    def leave_out(self, label: str, style: LineStyle | None, reason: str | None) -> None:
        """Note that a curve cannot be drawn, with the reason code."""
        key = REFERENCE_KEY if style is None else style.key
        self._left_out.append({"label": label, "key": key, "reason": reason})

    def add_line(self, label: str, x, y, style: LineStyle | None, *, hover: str) -> None:
        """Add the line of the reference (without a style) or of a stock."""
        hover = f"{hover} at %{{x:.2f}}"
        if style is None:
            self._reference.append(reference_line(label, x, y, hover=hover))
        else:
            is_lit = self.is_lit(style)
            into = self._lines if is_lit else self._grey
            into.append(stock_line(label, x, y, style, hover=hover, is_lit=is_lit))

    def add_band(self, x, low, high, style: LineStyle | None) -> None:
        """Add a band in the ink of its line."""
        ink, key = ("reference", REFERENCE_KEY) if style is None else (style.ink, style.key)
        self._bands.append(band_trace(x, low, high, ink=ink, key=key))

    def finish(self, kind: str, y_title: str, value_name: str, value_unit: str) -> dict:
        """The figure: grey curves at the bottom, then bands, the reference, and the lit stocks on top."""
        title = ABSOLUTE_TITLE if self._exposure == "absolute" else RELATIVE_TITLE
        title = COMMON_TITLES.get(self._align, title)
        meta = {
            "kind": kind,
            "align": self._align,
            "exposure": self._exposure,
            "value_name": value_name,
            "value_unit": value_unit,
            "left_out": self._left_out,
        }
        data = [*self._grey, *self._bands, *self._reference, *self._lines]
        labels = end_labels([*self._reference, *self._lines], beside=[*self._grey, *self._bands])
        drawn = figure(data, exposure_axis(title), density_axis(y_title), meta, labels)
        meta["description"] = figure_description(drawn)
        return drawn
