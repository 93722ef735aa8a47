"""Laying curves together: by exposure, speed point, equal shadow density, or with contrast matched too.

What is drawn and what is subtracted go through the same placing, so that a figure of curves and a figure of
differences cannot disagree. The contrast of a stock is matched by dividing its rise above the speed point
by its contrast ratio to the reference; the reference itself is never stretched.
"""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.analysis import CURVE_DIGITS, Analysis
from curves.sensitometry.comparing.curve_alignment import (
    AlignedCurve,
    align,
    align_at,
    interpolate,
    interpolate_modes,
)
from curves.sensitometry.comparing.shape_difference import CONTRAST_SPAN, LEAST_SPAN
from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.measuring.row_summaries import NORMAL_95
from curves.sensitometry.measuring.speed_points import SPEED_DENSITY

DIFFERENCE_POINTS = 101
ALIGNMENTS = ("exposure", "speed_point", "shadow_density", "contrast")
DENSITIES = ("gross", "net")
# Net density at which shadows are laid together: about where they begin to print with detail. House choice.
SHADOW_DENSITY = 0.30


@dataclass(frozen=True, slots=True)
class Placing:
    """How a curve is moved and stretched to be laid over the reference.

    Parameters
    ----------
    origin : float, scalar [log10 lx s]
        Exposure that is taken off.
    base : float, scalar [D]
        Base plus fog that is taken off; 0 for gross density.
    foot : float, scalar [D]
        Gross density that stays where it is when contrast is matched.
    stretch : float, scalar [1]
        What the rise above ``foot`` is divided by; 1 leaves it.
    """

    origin: float = 0.0
    base: float = 0.0
    foot: float = 0.0
    stretch: float = 1.0

    def exposures(self, log_exposure):
        """Exposures from the common origin.

        Parameters
        ----------
        log_exposure : ndarray, shape (n,) [log10 lx s]

        Returns
        -------
        ndarray, shape (n,) [log10]
        """
        return log_exposure - self.origin

    def densities(self, density):
        """Densities as they are drawn.

        Parameters
        ----------
        density : ndarray, shape (n,) [D]
            Gross densities.

        Returns
        -------
        ndarray, shape (n,) [D]
        """
        return self.foot + (density - self.foot) / self.stretch - self.base


def place_curve(
    analysis: Analysis, reference: Analysis | None, *, align_by: str = "exposure", density: str = "gross"
) -> tuple[Placing | None, str | None]:
    """Where a curve goes, or the reason why it cannot be laid there.

    Parameters
    ----------
    analysis : Analysis
        The stock's result.
    reference : Analysis or None
        The reference's; only matching of contrast needs it.
    align_by : {"exposure", "speed_point", "shadow_density", "contrast"}
    density : {"gross", "net"}

    Returns
    -------
    placing : Placing or None
        In log10 lx s and D.
    reason : str or None
        Code out of `codes.REASONS` where there is none.
    """
    _check(align_by, density)
    curve = analysis.curve
    if not curve.log_exposure.size:
        return None, "TOO_FEW_POINTS"
    if curve.base is None and density == "net":
        return None, "NO_BASE_FOG"
    base = curve.base if density == "net" else 0.0
    if align_by == "exposure":
        return Placing(base=base), None
    place = analysis.measures["speed_point_log_exposure"]
    if place.value is None:
        return None, place.reason
    if align_by == "speed_point":
        return Placing(origin=place.value, base=base), None
    if align_by == "shadow_density":
        view = align_at(analysis, SHADOW_DENSITY)
        return (None, "NOT_REACHED") if view is None else (Placing(origin=view.place, base=base), None)
    if reference is None:
        return None, "NO_REFERENCE"
    ratio = _contrast(align(analysis), align(reference))
    if ratio is None:
        return None, "NO_OVERLAP"
    return Placing(place.value, base, curve.base + SPEED_DENSITY, ratio[0]), None


def matched_difference(
    test: Analysis, reference: Analysis, *, align_by: str = "exposure", density: str = "gross"
) -> dict[str, np.ndarray]:
    """Difference of two curves laid together, with its 95 % band.

    Parameters
    ----------
    test, reference : Analysis
        Two analyses.
    align_by : {"exposure", "speed_point", "shadow_density", "contrast"}
    density : {"gross", "net"}

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``log_exposure`` (from the common origin) [log10 lx s], ``difference``, ``low``, ``high`` [D]; empty
        arrays where the two cannot be laid together or share no range.

    Notes
    -----
    The errors of the two films are independent. That of the place where they are laid together, of the
    base and of the contrast ratio is worked in by first-order terms.
    """
    _check(align_by, density)
    seen = _at_equal_exposure if align_by == "exposure" else _from_a_common_place
    found = seen(test, reference, align_by, density)
    if found is None:
        blank = np.empty(0)
        return {name: blank for name in ("log_exposure", "difference", "low", "high")}
    grid, difference, variance = found
    half = NORMAL_95 * np.sqrt(variance)
    values = {
        "log_exposure": grid,
        "difference": difference,
        "low": difference - half,
        "high": difference + half,
    }
    return {name: np.round(each, CURVE_DIGITS) + 0.0 for name, each in values.items()}


def unmatched_reason(
    test: Analysis, reference: Analysis, *, align_by: str = "exposure", density: str = "gross"
) -> str:
    """Why two curves have no difference: what either lacks to be laid there, else what they do not share.

    Parameters
    ----------
    test, reference : Analysis
        Two analyses of which `matched_difference` gave nothing [D].
    align_by : {"exposure", "speed_point", "shadow_density", "contrast"}
    density : {"gross", "net"}

    Returns
    -------
    str
        Code out of `codes.REASONS`; the test's own comes first.
    """
    for analysis in (test, reference):
        _, reason = place_curve(analysis, reference, align_by=align_by, density=density)
        if reason:
            return reason
    is_mixed = align_by == "exposure" and test.exposure != reference.exposure
    return "MIXED_EXPOSURE" if is_mixed else "NO_OVERLAP"


def _check(align_by: str, density: str) -> None:
    if align_by not in ALIGNMENTS or density not in DENSITIES:
        raise SensitometryError(
            "UNKNOWN_OPTION", f"Curves are laid together by {', '.join(ALIGNMENTS)} only."
        )


def _at_equal_exposure(test, reference, align_by, density):
    curves = test.curve, reference.curve
    if test.exposure != reference.exposure or not all(curve.log_exposure.size for curve in curves):
        return None
    if density == "net" and None in (curves[0].base, curves[1].base):
        return None
    low = max(curve.log_exposure[0] for curve in curves)
    high = min(curve.log_exposure[-1] for curve in curves)
    if high <= low:
        return None
    grid = np.linspace(low, high, DIFFERENCE_POINTS)
    values, variance = [], 0.0
    for curve in curves:
        modes = interpolate_modes(curve, grid)
        base = curve.base if density == "net" else 0.0
        modes = modes - curve.base_modes[:, None] if density == "net" else modes
        values.append(interpolate(curve, curve.density, grid) - base)
        variance = variance + (modes**2).sum(axis=0)
    return grid, values[0] - values[1], variance


def _from_a_common_place(test, reference, align_by, density):
    level = SHADOW_DENSITY if align_by == "shadow_density" else SPEED_DENSITY
    ours, theirs = align_at(test, level), align_at(reference, level)
    if ours is None or theirs is None:
        return None
    low, high = max(ours.reach[0], theirs.reach[0]), min(ours.reach[1], theirs.reach[1])
    if high <= low:
        return None
    grid = np.linspace(low, high, DIFFERENCE_POINTS)
    (rise, modes), (their_rise, their_modes) = ours.rise(grid), theirs.rise(grid)
    if align_by == "contrast":
        matched = _contrast(ours, theirs)
        if matched is None:
            return None
        ratio, ratio_modes, their_ratio_modes = matched
        modes = modes / ratio - np.outer(ratio_modes, rise / ratio**2)
        their_modes = their_modes + np.outer(their_ratio_modes, rise / ratio**2)
        rise = rise / ratio
    difference = rise - their_rise
    if density == "gross":
        difference = difference + ours.curve.base - theirs.curve.base
        modes = modes + ours.curve.base_modes[:, None]
        their_modes = their_modes + theirs.curve.base_modes[:, None]
    return grid, difference, (modes**2).sum(axis=0) + (their_modes**2).sum(axis=0)


def _contrast(ours: AlignedCurve | None, theirs: AlignedCurve | None):
    """Contrast ratio with its error by either film's modes; None without a common span."""
    if ours is None or theirs is None:
        return None
    span = np.array([min(CONTRAST_SPAN, ours.reach[1], theirs.reach[1])])
    if span[0] < LEAST_SPAN:
        return None
    (rise, modes), (their_rise, their_modes) = ours.rise(span), theirs.rise(span)
    if min(rise[0], their_rise[0]) < 0.05:
        return None
    ratio = float(rise[0] / their_rise[0])
    return ratio, modes[:, 0] / their_rise[0], ratio * their_modes[:, 0] / their_rise[0]
