"""Speed against the reference from whole curves: the shift between two films in the shadows.

Where two films have the same net shadow density, the distance between their curves along log exposure is
the shift of exposure index between them. Averaged over a stretch of net densities it uses many readings and
depends little on any one of them.
"""

import math
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.exposing.bracket import LEAST_SLOPE
from curves.sensitometry.intervals import is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

SHADOW_RANGE = (0.06, 0.40)  # net D over which two films are matched
LEVELS = 35  # densities read within it
GREATEST_LOSS = 0.3  # share of the range that may be missing because a curve was not measured there


@dataclass(frozen=True)
class _Exposures:
    """Log exposures of one curve at the levels, and their error in the curve's modes."""

    log_exposure: np.ndarray
    error: np.ndarray


def match_shadows(
    test: SampledCurve,
    reference: SampledCurve,
    *,
    shadow_range: tuple[float, float] = SHADOW_RANGE,
    exposure_sd: float = 0.0,
    reference_exposure_sd: float = 0.0,
) -> Measure:
    """Speed of a film against the reference by equal net shadow density, averaged over a range of it.

    Parameters
    ----------
    test, reference : SampledCurve
        Curves with their base plus fog, both against the same kind of exposure: absolute, or camera
        exposure at the same index plus patch log luminance [D against log10 exposure].
    shadow_range : tuple of float, shape (2,) [D]
        Net densities between which the curves are matched.
    exposure_sd, reference_exposure_sd : float, scalars [log10 exposure]
        Error of each roll's exposure as a whole: meter, light, and the mean error of the settings.

    Returns
    -------
    Measure
        ``shadow_speed`` [stop], positive for a film faster than the reference. ``NO_BASE_FOG`` when a
        base is not known, ``NO_OVERLAP`` when the curves share less than 70 % of the range as
        measured (the note says what was used), ``NO_RISE`` where one is flat within it.

    Notes
    -----
    The mean over 35 levels of ``x_reference - x_test`` at equal net density, with the errors of both
    curves and of both bases, which are correlated, to first order.
    """
    name, unit = "shadow_speed", "stop"
    if not is_usable(exposure_sd, reference_exposure_sd, *shadow_range):
        raise SensitometryError("IMPOSSIBLE_ERROR", "Standard errors and the range must be numbers.")
    if not 0 < shadow_range[0] < shadow_range[1]:
        raise SensitometryError("IMPOSSIBLE_RANGE", "The range of net densities must rise from above zero.")
    if test.base is None or reference.base is None:
        return withheld(name, "NO_BASE_FOG", unit)
    shared = _shared_range((test, reference), shadow_range)
    if shared is None:
        return withheld(name, "NO_OVERLAP", unit, "the curves do not both reach these shadows")
    levels = np.linspace(*shared, LEVELS)
    found = [_exposures(curve, levels) for curve in (test, reference)]
    for one in found:
        if isinstance(one, str):
            return withheld(
                name, one, unit, f"a curve is flat between {shared[0]:.2f} and {shared[1]:.2f} net"
            )
    value = float(np.mean(found[1].log_exposure - found[0].log_exposure))
    errors = [float(np.linalg.norm(np.mean(one.error, axis=1))) for one in found]
    sd = math.hypot(*errors, exposure_sd, reference_exposure_sd) / STOP
    note = f"at net densities from {shared[0]:.2f} to {shared[1]:.2f}"
    return measure_with_error(name, value / STOP, sd or None, unit, note)


def _shared_range(curves, shadow_range: tuple[float, float]) -> tuple[float, float] | None:
    """The part of the range of net densities that both curves were measured over, if it is enough."""
    low = max(shadow_range[0], *(curve.density[0] - curve.base for curve in curves))
    high = min(shadow_range[1], *(curve.density[-1] - curve.base for curve in curves))
    if high - low < (1 - GREATEST_LOSS) * (shadow_range[1] - shadow_range[0]):
        return None
    return low, high


def _exposures(curve: SampledCurve, levels: np.ndarray) -> _Exposures | str:
    x = curve.exposure_at(curve.base + levels)
    gradient = curve.gradient_at(x)
    if not np.min(gradient) > LEAST_SLOPE:
        return "NO_RISE"
    return _Exposures(x, (curve.base_modes[:, None] - curve.error_at(x)) / gradient)
