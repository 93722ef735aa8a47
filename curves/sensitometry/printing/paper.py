"""The curve of a printing paper: exposure range, speed and maximum density.

Conventions. Densities are reflection densities against a perfect white; the range is taken between the
points T, 0.04 above base plus fog, and S, at 0.90 of the greatest density net of base plus fog.

References
----------
ISO 6846:1992, Photography: black-and-white continuous-tone papers, determination of ISO speed and ISO
range for printing (points T and S and the range from an encyclopaedia's account; the net greatest
density, the rounding, and speed at 0.60 from memory). Grade numbers: appendix of the American standard
PH2.2-1966, inner limits from memory.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from curves.sensitometry.intervals import NO_INTERVAL_NOTE, is_usable, measure_with_error
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.registry.measure_definition import DISTANCE
from curves.sensitometry.sampled_curve import SampledCurve

TOE_ABOVE_BASE = 0.04  # D
SHOULDER_SHARE = 0.90  # of the net greatest density
SPEED_ABOVE_BASE = 0.60  # D
FLATTEST = 0.02  # D per log10 exposure; the exposure of a point on a flatter curve means nothing
STILL_RISING = 0.1  # share of the greatest slope at the last step above which Dmax is a lower bound
GRADE_LIMITS = (1.70, 1.40, 1.15, 0.95, 0.80, 0.65, 0.50)  # grade n spans limits n to n + 1


@dataclass(frozen=True, slots=True)
class _Point:
    """A place on the curve [log10 lx s] and the ends of its interval, None where one is open."""

    log_exposure: float
    low: float | None
    high: float | None
    is_exact: bool


def _point(curve: SampledCurve, density: float, density_error: np.ndarray) -> _Point | str:
    reason = curve.reason_at(density)
    if reason:
        return reason
    x = float(curve.exposure_at(density))
    if float(curve.gradient_at(x)) < FLATTEST:
        return "ILL_DEFINED"
    is_exact = not (curve.modes.size or np.any(density_error))
    low, high = (None, None) if is_exact else curve.exposure_interval(density, density_error)
    return _Point(x, low, high, is_exact)


def _note(*points: _Point) -> str:
    if any(point.is_exact for point in points):
        return NO_INTERVAL_NOTE
    is_open = any(point.low is None or point.high is None for point in points)
    return "one side of the interval runs out of the measured curve" if is_open else ""


def _point_measure(name: str, point: _Point | str) -> Measure:
    if isinstance(point, str):
        return withheld(name, point, "log10 lx s")
    return Measure(name, point.log_exposure, point.low, point.high, "log10 lx s", None, _note(point))


def analyse_paper(
    curve: SampledCurve, base_plus_fog: float | None, base_plus_fog_sd: float = 0.0
) -> dict[str, Measure]:
    """Every measure of a paper's curve.

    Parameters
    ----------
    curve : SampledCurve
        Reflection density against exposure [D against log10 lx s].
    base_plus_fog : float or None, scalar [D]
        Density of unexposed, processed paper; without it every measure that stands on it is withheld.
    base_plus_fog_sd : float, scalar [D]
        Its standard error.

    Returns
    -------
    dict of str to Measure
        ``paper_base_plus_fog`` and ``paper_d_max`` [D, gross], ``paper_toe_point``,
        ``paper_shoulder_point`` and ``paper_speed_point`` [log10 lx s], ``paper_exposure_range``
        [log10], ``iso_range`` [1] rounded to ten, and ``paper_speed`` [ISO P], ``1000 / Hm``.

    Notes
    -----
    A curve that still rises at its last step has no known greatest density: it is given as a lower
    bound and the range is withheld (``NOT_REACHED``).
    """
    modes = curve.modes.shape[0]
    base_known = is_usable(base_plus_fog, base_plus_fog_sd) and -0.5 < base_plus_fog < 1.5
    top_error = np.append(curve.error_at(curve.log_exposure[-1])[:, 0], 0.0)
    d_max = _greatest_density(curve, top_error)
    names = ("paper_toe_point", "paper_shoulder_point", "paper_speed_point")
    if not base_known:
        reason = "NO_BASE_FOG" if base_plus_fog is None else "INVALID_INPUT"
        measures = {name: withheld(name, reason, "log10 lx s") for name in names}
        measures["paper_exposure_range"] = withheld("paper_exposure_range", reason, DISTANCE)
        return {
            "paper_base_plus_fog": withheld("paper_base_plus_fog", reason, "D"),
            "paper_d_max": d_max,
            **measures,
            "iso_range": withheld("iso_range", reason),
            "paper_speed": withheld("paper_speed", reason, "ISO P"),
        }
    base_error = np.append(np.zeros(modes), base_plus_fog_sd)
    toe = _point(curve, base_plus_fog + TOE_ABOVE_BASE, base_error)
    speed_point = _point(curve, base_plus_fog + SPEED_ABOVE_BASE, base_error)
    shoulder: _Point | str = "NOT_REACHED"
    if not d_max.is_lower_bound:
        net = d_max.value - base_plus_fog
        mixed = SHOULDER_SHARE * top_error + (1 - SHOULDER_SHARE) * base_error
        shoulder = _point(curve, base_plus_fog + SHOULDER_SHARE * net, mixed)
    exposure_range, iso_range = _ranges(toe, shoulder)
    return {
        "paper_base_plus_fog": measure_with_error(
            "paper_base_plus_fog", base_plus_fog, base_plus_fog_sd or None, "D"
        ),
        "paper_d_max": d_max,
        "paper_toe_point": _point_measure("paper_toe_point", toe),
        "paper_shoulder_point": _point_measure("paper_shoulder_point", shoulder),
        "paper_speed_point": _point_measure("paper_speed_point", speed_point),
        "paper_exposure_range": exposure_range,
        "iso_range": iso_range,
        "paper_speed": _speed(speed_point),
    }


def _greatest_density(curve: SampledCurve, error: np.ndarray) -> Measure:
    value, sd = float(curve.density[-1]), float(np.linalg.norm(error))
    # The slope over the last step, since a monotone cubic's end slope is only an estimate of it.
    last_slope = (curve.density[-1] - curve.density[-2]) / (curve.log_exposure[-1] - curve.log_exposure[-2])
    if last_slope > STILL_RISING * curve.steepest:
        low = measure_with_error("paper_d_max", value, sd, "D").low
        return Measure("paper_d_max", value, low, None, "D", None, "still rising at the last step: at least")
    return measure_with_error("paper_d_max", value, sd or None, "D")


def _ranges(toe: _Point | str, shoulder: _Point | str) -> tuple[Measure, Measure]:
    for point in (toe, shoulder):
        if isinstance(point, str):
            return withheld("paper_exposure_range", point, DISTANCE), withheld("iso_range", point)
    value = shoulder.log_exposure - toe.log_exposure
    low = _end(value, -1, shoulder.log_exposure, shoulder.low, toe.log_exposure, toe.high)
    high = _end(value, 1, shoulder.log_exposure, shoulder.high, toe.log_exposure, toe.low)
    note = _note(toe, shoulder)
    exact = Measure("paper_exposure_range", value, low, high, DISTANCE, None, note)
    ends = (None if end is None else float(iso_range_number(end)) for end in (low, high))
    return exact, Measure("iso_range", float(iso_range_number(value)), *ends, "", None, note)


def _end(value: float, side: int, place: float, place_end, other: float, other_end) -> float | None:
    """End of the interval of a difference from the ends of its two places, taken as independent."""
    if place_end is None or other_end is None:
        return None
    return value + side * math.hypot(place_end - place, other_end - other)


def _speed(point: _Point | str) -> Measure:
    if isinstance(point, str):
        return withheld("paper_speed", point, "ISO P")
    low, high = (None if end is None else 1000 / 10**end for end in (point.high, point.low))
    return Measure("paper_speed", 1000 / 10**point.log_exposure, low, high, "ISO P", None, _note(point))


def iso_range_number(log_exposure_range: float) -> int:
    """A log exposure range, scalar [log10 lx s], as the standard writes it: times 100, to the nearest ten.

    Examples
    --------
    >>> iso_range_number(1.05)
    110
    """
    # Decimal noise first: 1.05 is stored as 1.04999..., and a half is to be rounded up.
    return 10 * math.floor(round(log_exposure_range * 10, 6) + 0.5)


def grade_number(log_exposure_range: float) -> int | None:
    """The old grade number that a log exposure range falls in.

    Parameters
    ----------
    log_exposure_range : float, scalar [log10 lx s]
        Range of the paper.

    Returns
    -------
    int or None
        0 (softest) to 5, scalar [grade]; a limit belongs to the harder grade; None outside the scale.

    Examples
    --------
    >>> grade_number(1.05)
    2
    """
    for grade, (upper, lower) in enumerate(pairwise(GRADE_LIMITS)):
        if lower < log_exposure_range <= upper:
            return grade
    return None
