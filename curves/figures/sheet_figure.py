"""The figure of a published sheet, out of kept numbers alone: the stock's curve over the reference's."""

from __future__ import annotations

from collections.abc import Mapping

from curves.figures.sheet import Sheet
from curves.figures.styles import line_style

STOCK_KEY = "stock"


def sheet_figure(
    own: tuple[str, Mapping], reference: tuple[str, Mapping] | None, *, exposure: str, is_reference: bool
) -> dict:
    """Characteristic curves of a stock and the house reference, with their 95 % bands.

    Parameters
    ----------
    own : tuple of (str, mapping)
        Label and curve: lists ``log_exposure``, ``density``, ``low``, ``high`` [log10 lx s, D].
    reference : tuple of (str, mapping) or None
        The same of the house reference.
    exposure : {'absolute', 'relative'}
        Kind of the exposure axis.
    is_reference : bool
        Whether the stock is the house reference itself, and is drawn as such.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.
    """
    style = line_style(0, STOCK_KEY)
    sheet = Sheet([style], align="exposure", exposure=exposure, lit=None)
    entries = [(*reference, None)] if reference else []
    entries.append((*own, None if is_reference else style))
    for label, curve, look in entries:
        if not curve["log_exposure"]:
            sheet.leave_out(label, look, "TOO_FEW_POINTS")
            continue
        sheet.add_line(label, curve["log_exposure"], curve["density"], look, hover="%{y:.2f} D")
        sheet.add_band(curve["log_exposure"], curve["low"], curve["high"], look)
    return sheet.finish("comparison", "gross density", "gross density", "D")
