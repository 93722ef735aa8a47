"""Small multiples: a panel a stock, each over the reference, as paths of a drawing 120 by 90 units large.

Drawn on the server as plain paths, since fifty figures of the drawing library would take seconds. All panels
share their scales, so that what looks different is different; the reference's path is the same in each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.figures.parts import REFERENCE_KEY, STOP
from curves.sensitometry import Analysis
from curves.sensitometry.comparing.curve_matching import place_curve

WIDTH, HEIGHT = 120.0, 90.0
LEAST_SPAN = 0.1
# Units of the drawing to a decimal: a panel on a page is about twice as many pixels wide.
DECIMALS = 1


@dataclass(frozen=True, slots=True)
class Panel:
    """One stock's panel.

    Attributes
    ----------
    key : str
        By which the page's tables find the curve.
    label : str
    path : str
        The stock's curve as a path; "" where it cannot be laid over the reference.
    reason : str or None
        Code of why there is no path.
    """

    key: str
    label: str
    path: str
    reason: str | None


@dataclass(frozen=True, slots=True)
class PanelSheet:
    """All panels on their common scales.

    Attributes
    ----------
    panels : tuple of Panel
    reference_path : str
        The reference's curve; "" without one.
    exposure_marks, density_marks : tuple of float
        Places of the grid lines in units of the drawing: log exposures and densities of a whole number.
    exposures, densities : tuple of float, shape (2,) [log10 lx s], [D]
        Ends of the scales.
    """

    panels: tuple[Panel, ...]
    reference_path: str
    exposure_marks: tuple[float, ...]
    density_marks: tuple[float, ...]
    exposures: tuple[float, float]
    densities: tuple[float, float]


def comparison_panels(
    reference: tuple[str, Analysis] | None,
    tests: Sequence[tuple[str, Analysis, str]],
    *,
    align: str = "exposure",
    density: str = "gross",
) -> PanelSheet:
    """A panel for every stock, each over the same reference.

    Parameters
    ----------
    reference : tuple of (str, Analysis) or None
        Label and result of the house reference.
    tests : sequence of (str, Analysis, str)
        Label, result and key of each stock.
    align : {'exposure', 'speed_point', 'shadow_density', 'contrast'}
    density : {'gross', 'net'}

    Returns
    -------
    PanelSheet
        A stock that cannot be laid over the reference has a panel without a path, and the reason.
    """
    against = reference[1] if reference else None
    placed: list[tuple[str, str, np.ndarray | None, np.ndarray | None, str | None]] = []
    for label, analysis, key in [*([(*reference, REFERENCE_KEY)] if reference else []), *tests]:
        reason = _kind_fault(analysis, against, align)
        placing, fault = place_curve(analysis, against, align_by=align, density=density)
        if placing is None or reason:
            placed.append((key, label, None, None, reason or fault))
            continue
        x, y = placing.exposures(analysis.curve.log_exposure), placing.densities(analysis.curve.density)
        placed.append((key, label, x, y, None))
    exposures = _scale([x for _, _, x, _, _ in placed if x is not None])
    densities = _scale([y for _, _, _, y, _ in placed if y is not None], start=0.0)
    panels = [
        Panel(key, label, "" if x is None else _path(x, y, exposures, densities), reason)
        for key, label, x, y, reason in placed
    ]
    own = panels.pop(0) if reference else None
    return PanelSheet(
        panels=tuple(panels),
        reference_path=own.path if own else "",
        exposure_marks=_marks(exposures, WIDTH),
        density_marks=tuple(round(HEIGHT - at, DECIMALS) for at in _marks(densities, HEIGHT)),
        exposures=exposures,
        densities=densities,
    )


def _kind_fault(analysis: Analysis, against: Analysis | None, align: str) -> str | None:
    is_mixed = against is not None and align == "exposure" and analysis.exposure != against.exposure
    return "MIXED_EXPOSURE" if is_mixed else None


def _scale(values: list[np.ndarray], start: float | None = None) -> tuple[float, float]:
    """Ends that hold all values, with a little room; from ``start`` where nothing lies below it."""
    if not values:
        return 0.0, 1.0
    low, high = min(float(each.min()) for each in values), max(float(each.max()) for each in values)
    low = min(low, start) if start is not None else low - STOP / 2
    room = max(high - low, LEAST_SPAN) * 0.04
    return round(low, 3), round(high + room, 3)


def _path(x, y, exposures, densities) -> str:
    across = WIDTH * (x - exposures[0]) / (exposures[1] - exposures[0])
    down = HEIGHT * (1.0 - (y - densities[0]) / (densities[1] - densities[0]))
    points = [f"{a:.{DECIMALS}f},{b:.{DECIMALS}f}" for a, b in zip(across, down, strict=True)]
    return "M" + " ".join(points)


def _marks(ends: tuple[float, float], length: float) -> tuple[float, ...]:
    whole = np.arange(np.ceil(ends[0]), np.floor(ends[1]) + 1e-9)
    return tuple(round(float(length * (at - ends[0]) / (ends[1] - ends[0])), DECIMALS) for at in whole)
