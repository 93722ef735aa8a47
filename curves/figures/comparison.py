"""Many stocks over the house reference: their curves, their gradients, their differences from it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from curves.figures.sheet import Sheet
from curves.figures.styles import LineStyle
from curves.sensitometry import Analysis, Comparison

DENSITIES = ("gross", "net")


class MixedExposureError(ValueError):
    """Absolute and relative log exposures were asked for on one axis."""


def comparison_figure(
    reference: tuple[str, Analysis] | None,
    tests: Sequence[tuple[str, Analysis, LineStyle]],
    *,
    align: str = "exposure",
    density: str = "gross",
    bands: bool = False,
    lit: Collection[str] | None = None,
) -> dict:
    """Characteristic curves of several stocks over the house reference.

    The reference is always a thick line in the theme's own ink, with its band. A stock that lacks what
    the alignment or the net density needs is left out and named in ``meta["left_out"]`` with the reason
    code; nothing is guessed.

    Parameters
    ----------
    reference : tuple of (str, Analysis) or None
        Label and result of the house reference.
    tests : sequence of (str, Analysis, LineStyle)
        Label, result and style of each stock, in the order of the comparison's address.
    align : {'exposure', 'speed_point'}
    density : {'gross', 'net'}
        Net density is counted from each film's own base plus fog.
    bands : bool
        Whether lit stocks have their 95 % bands, too.
    lit : collection of str, optional
        Keys of the stocks drawn in colour; by default the first six.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.

    Raises
    ------
    MixedExposureError
        When exposures are aligned and some are absolute, others relative.
    ValueError
        For an unknown option.
    """
    if density not in DENSITIES:
        raise ValueError(f"density must be one of {DENSITIES}, not {density!r}")
    entries = _entries(reference, tests)
    sheet = Sheet([s for _, _, s in tests], align=align, exposure=_exposure(entries, align), lit=lit)
    for label, analysis, style in entries:
        shift, reason = _shift(analysis, align, density)
        if shift is None:
            sheet.leave_out(label, style, reason)
            continue
        curve = analysis.curve
        x = curve.log_exposure - shift[0]
        sheet.add_line(label, x, curve.density - shift[1], style, hover="%{y:.2f} D")
        if style is None or (bands and sheet.is_lit(style)):
            sheet.add_band(x, curve.low - shift[1], curve.high - shift[1], style)
    return sheet.finish("comparison", f"{density} density", f"{density} density", "D")


def gradient_figure(
    reference: tuple[str, Analysis] | None,
    tests: Sequence[tuple[str, Analysis, LineStyle]],
    *,
    align: str = "exposure",
    lit: Collection[str] | None = None,
) -> dict:
    """Point gradients of several stocks and of the house reference.

    Parameters
    ----------
    reference : tuple of (str, Analysis) or None
    tests : sequence of (str, Analysis, LineStyle)
    align : {'exposure', 'speed_point'}
    lit : collection of str, optional
        Keys of the stocks drawn in colour; by default the first six.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``.

    Raises
    ------
    MixedExposureError
        When exposures are aligned and some are absolute, others relative.
    ValueError
        For an unknown option.
    """
    entries = _entries(reference, tests)
    sheet = Sheet([s for _, _, s in tests], align=align, exposure=_exposure(entries, align), lit=lit)
    for label, analysis, style in entries:
        shift, reason = _shift(analysis, align, "gross")
        if shift is None:
            sheet.leave_out(label, style, reason)
            continue
        x = analysis.curve.log_exposure - shift[0]
        sheet.add_line(label, x, analysis.curve.gradient, style, hover="gradient %{y:.2f}")
    return sheet.finish("gradient", "gradient (density per unit of log exposure)", "gradient", "")


def difference_figure(
    reference_label: str,
    comparisons: Sequence[tuple[str, Comparison, LineStyle]],
    *,
    align: str = "exposure",
    exposure: str = "absolute",
    bands: bool = True,
    lit: Collection[str] | None = None,
) -> dict:
    """Density differences of several stocks from the house reference.

    The reference is the line at zero. At equal exposure gross densities are compared, aligned at the
    speed points net ones; only where both were measured.

    Parameters
    ----------
    reference_label : str
    comparisons : sequence of (str, Comparison, LineStyle)
        Label, comparison with the reference, and style of each stock.
    align : {'exposure', 'speed_point'}
    exposure : {'absolute', 'relative'}
        Kind of the exposures that were compared.
    bands : bool
        Whether lit stocks have the 95 % bands of their differences.
    lit : collection of str, optional
        Keys of the stocks drawn in colour; by default the first six.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``.

    Raises
    ------
    ValueError
        For an unknown option.
    """
    sheet = Sheet([s for _, _, s in comparisons], align=align, exposure=exposure, lit=lit)
    prefix = "aligned_" if align == "speed_point" else ""
    density = "net density" if prefix else "gross density"
    span: list[float] = []
    for label, comparison, style in comparisons:
        x, y, low, high = (
            comparison.difference[prefix + name] for name in ("log_exposure", "difference", "low", "high")
        )
        if not len(x):
            sheet.leave_out(label, style, "NO_OVERLAP")
            continue
        span += [float(x[0]), float(x[-1])]
        sheet.add_line(label, x, y, style, hover="%{y:+.2f} D")
        if bands and sheet.is_lit(style):
            sheet.add_band(x, low, high, style)
    if span:
        sheet.add_line(reference_label, [min(span), max(span)], [0.0, 0.0], None, hover="no difference")
    return sheet.finish("difference", f"difference in {density}", f"difference in {density}", "D")


def _entries(reference, tests) -> list[tuple[str, Analysis, LineStyle | None]]:
    """The reference, which has no style of its own, and the stocks."""
    first = [(reference[0], reference[1], None)] if reference else []
    return first + [(label, analysis, style) for label, analysis, style in tests]


def _exposure(entries, align: str) -> str:
    """Kind of the common exposure axis."""
    kinds = {analysis.exposure for _, analysis, _ in entries}
    if align == "exposure" and len(kinds) > 1:
        raise MixedExposureError(
            "absolute and relative log exposures share no axis; align the curves at the speed point"
        )
    return kinds.pop() if len(kinds) == 1 else "relative"


def _shift(analysis: Analysis, align: str, density: str) -> tuple[tuple[float, float] | None, str | None]:
    """What is taken from log exposure and density, or the reason why the curve cannot be drawn so."""
    if not len(analysis.curve.log_exposure):
        return None, "TOO_FEW_POINTS"
    x0 = d0 = 0.0
    if align == "speed_point":
        place = analysis.measures["speed_point_log_exposure"]
        if place.value is None:
            return None, place.reason
        x0 = place.value
    if density == "net":
        base = analysis.measures["base_plus_fog"]
        if base.value is None:
            return None, base.reason
        d0 = base.value
    return (x0, d0), None
