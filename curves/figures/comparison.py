"""Many stocks over the house reference: their curves, their gradients, their differences from it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from curves.figures.sheet import Sheet
from curves.figures.styles import LineStyle
from curves.sensitometry import Analysis, Comparison
from curves.sensitometry.comparing.curve_matching import DENSITIES, place_curve

DIFFERENCE_NAMES = ("log_exposure", "difference", "low", "high")


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
    align : {'exposure', 'speed_point', 'shadow_density', 'contrast'}
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
        placing, reason = place_curve(
            analysis, reference[1] if reference else None, align_by=align, density=density
        )
        if placing is None:
            sheet.leave_out(label, style, reason)
            continue
        curve = analysis.curve
        x = placing.exposures(curve.log_exposure)
        sheet.add_line(label, x, placing.densities(curve.density), style, hover="%{y:.2f} D")
        if style is None or (bands and sheet.is_lit(style)):
            sheet.add_band(x, placing.densities(curve.low), placing.densities(curve.high), style)
    matched = ", contrast matched" if align == "contrast" else ""
    return sheet.finish("comparison", f"{density} density{matched}", f"{density} density", "D")


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
    align : {'exposure', 'speed_point', 'shadow_density', 'contrast'}
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
        placing, reason = place_curve(analysis, reference[1] if reference else None, align_by=align)
        if placing is None:
            sheet.leave_out(label, style, reason)
            continue
        x = placing.exposures(analysis.curve.log_exposure)
        sheet.add_line(label, x, analysis.curve.gradient / placing.stretch, style, hover="gradient %{y:.2f}")
    matched = ", contrast matched" if align == "contrast" else ""
    return sheet.finish("gradient", f"gradient (density per unit of log exposure){matched}", "gradient", "")


def difference_figure(
    reference_label: str,
    comparisons: Sequence[tuple[str, Comparison | Mapping, LineStyle]],
    *,
    align: str = "exposure",
    density: str | None = None,
    exposure: str = "absolute",
    bands: bool = True,
    lit: Collection[str] | None = None,
    reasons: Mapping[str, str] | None = None,
) -> dict:
    """Density differences of several stocks from the house reference.

    The reference is the line at zero. Only where both were measured is there a difference.

    Parameters
    ----------
    reference_label : str
    comparisons : sequence of (str, Comparison or mapping, LineStyle)
        Label; comparison with the reference, or what `matched_difference` gave; and style of each stock.
    align : {'exposure', 'speed_point', 'shadow_density', 'contrast'}
    density : {'gross', 'net'}, optional
        What was compared; a comparison's own differences are gross at equal exposure, otherwise net.
    exposure : {'absolute', 'relative'}
        Kind of the exposures that were compared.
    bands : bool
        Whether lit stocks have the 95 % bands of their differences.
    lit : collection of str, optional
        Keys of the stocks drawn in colour; by default the first six.
    reasons : mapping of str to str, optional
        Key of a stock without a difference → reason code; ``NO_OVERLAP`` where none is given.

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
    said = f"{density or ('net' if prefix else 'gross')} density"
    span: list[float] = []
    for label, compared, style in comparisons:
        found = compared
        if isinstance(compared, Comparison):
            found = {name: compared.difference[prefix + name] for name in DIFFERENCE_NAMES}
        x, y, low, high = (found[name] for name in DIFFERENCE_NAMES)
        if not len(x):
            sheet.leave_out(label, style, (reasons or {}).get(style.key, "NO_OVERLAP"))
            continue
        span += [float(x[0]), float(x[-1])]
        sheet.add_line(label, x, y, style, hover="%{y:+.2f} D")
        if bands and sheet.is_lit(style):
            sheet.add_band(x, low, high, style)
    if span:
        sheet.add_line(reference_label, [min(span), max(span)], [0.0, 0.0], None, hover="no difference")
    matched = ", contrast matched" if align == "contrast" else ""
    return sheet.finish("difference", f"difference in {said}{matched}", f"difference in {said}", "D")


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
