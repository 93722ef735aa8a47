"""Speed against the reference from whole brackets: the shift between two curves in the shadows.

Every frame and every patch of a bracket is a point of the film's curve, at the frame's exposure plus the
patch's log luminance. Where two films' curves, fitted to their brackets, have the same net shadow density,
the distance between them along log exposure is the shift of exposure index between them. Averaged over a
stretch of net densities it uses many frames and patches, and depends little on any one reading.

An error of a frame's exposure moves all its patches together, so it does not average out over patches. The
interval holds it by the weight that each frame has in the shadows.
"""

import math
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.intervals import is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

SHADOW_RANGE = (0.06, 0.40)  # net D over which two films are matched
LEVELS = 35  # densities read within it, 0.01 D apart


@dataclass(frozen=True)
class BracketDesign:
    """Where the frames and patches of a bracket lie on the exposure axis.

    Parameters
    ----------
    frame_log_exposure : ndarray, shape (n,) [log10 exposure]
        True exposure of each frame against the metered one.
    patch_log_luminance : ndarray, shape (p,) [log10]
        Log luminance of each patch against the tone that was metered.
    """

    frame_log_exposure: np.ndarray
    patch_log_luminance: np.ndarray

    @property
    def log_exposure(self) -> np.ndarray:
        """Exposure of every patch of every frame, shape (n, p) [log10 exposure]."""
        frame, patch = (
            np.asarray(a, dtype=float) for a in (self.frame_log_exposure, self.patch_log_luminance)
        )
        return frame[:, None] + patch


@dataclass(frozen=True)
class _Shift:
    """Log exposures of one curve at the levels, and their error in the curve's modes."""

    log_exposure: np.ndarray
    error: np.ndarray
    gradient: np.ndarray


def match_shadows(
    test: SampledCurve,
    reference: SampledCurve,
    *,
    shadow_range: tuple[float, float] = SHADOW_RANGE,
    design: BracketDesign | None = None,
    setting_sd: float = 0.0,
    roll_sd: float = 0.0,
    reference_has_bracket: bool = True,
) -> Measure:
    """Speed of a film against the reference by equal net shadow density, averaged over a range of it.

    Parameters
    ----------
    test, reference : SampledCurve
        Curves with their base plus fog, both against the same kind of exposure: camera exposure at the
        same index plus patch log luminance [D against log10 exposure].
    shadow_range : tuple of float, shape (2,) [D]
        Net densities between which the curves are matched.
    design : BracketDesign or None
        Frames and patches of the brackets; without it errors of the settings are not counted.
    setting_sd : float, scalar [log10 exposure]
        Error of shutter and aperture, different in every frame.
    roll_sd : float, scalar [log10 exposure]
        Error of all frames of a roll together (meter, light, process); counted for both rolls.
    reference_has_bracket : bool
        Whether the reference's curve is from such a bracket too, so that its settings err as well.

    Returns
    -------
    Measure
        ``shadow_speed`` [stop], positive for a film faster than the reference. ``NO_BASE_FOG`` when a
        base is not known, ``NO_OVERLAP`` when the curves were not measured over the whole range,
        ``NO_RISE`` where one is flat within it.

    Notes
    -----
    The mean over 35 levels of ``x_reference - x_test`` at equal net density. Its variance holds both
    curves' errors, base plus fog included, and ``setting_sd**2 (sum w_frame**2 - sum w_point**2)`` for each
    bracket: the curve's own error already counts the settings as if every patch had erred alone.
    """
    name, unit = "shadow_speed", "stop"
    if not is_usable(setting_sd, roll_sd, *shadow_range) or min(setting_sd, roll_sd) < 0:
        raise SensitometryError("IMPOSSIBLE_ERROR", "Standard errors are zero or more.")
    if not 0 < shadow_range[0] < shadow_range[1]:
        raise SensitometryError("IMPOSSIBLE_RANGE", "The range of net densities must rise from above zero.")
    if test.base is None or reference.base is None:
        return withheld(name, "NO_BASE_FOG", unit)
    levels = np.linspace(*shadow_range, LEVELS)
    shifts = [_exposures(curve, levels) for curve in (test, reference)]
    for shift in shifts:
        if isinstance(shift, str):
            return withheld(name, shift, unit, f"matched from {levels[0]:.2f} to {levels[-1]:.2f} net")
    value = float(np.mean(shifts[1].log_exposure - shifts[0].log_exposure))
    variance = sum(float(np.sum(np.mean(shift.error, axis=1) ** 2)) for shift in shifts)
    rolls = 2 if reference_has_bracket else 1
    if design is not None:
        for curve, shift in ((test, shifts[0]), (reference, shifts[1]))[:rolls]:
            variance += setting_sd**2 * _extra_share(curve, shift, design)
    variance += rolls * roll_sd**2
    sd = math.sqrt(variance) / STOP
    return measure_with_error(
        name, value / STOP, sd or None, unit, f"net {levels[0]:.2f} to {levels[-1]:.2f} D"
    )


def _exposures(curve: SampledCurve, levels: np.ndarray) -> _Shift | str:
    x = curve.exposure_at(curve.base + levels)
    if not np.all(np.isfinite(x)):
        return "NO_OVERLAP"
    gradient = curve.gradient_at(x)
    if np.min(gradient) < 0.02:
        return "NO_RISE"
    error = (curve.base_modes[:, None] - curve.error_at(x)) / gradient
    return _Shift(x, error, gradient)


def _extra_share(curve: SampledCurve, shift: _Shift, design: BracketDesign) -> float:
    """By how much errors shared within frames count more than if every point erred alone.

    A point's pull on the curve's place in the shadows goes as the square of the slope there; points
    outside the matched stretch hardly pull on it.
    """
    x = design.log_exposure
    inside = (x >= shift.log_exposure[0]) & (x <= shift.log_exposure[-1])
    pull = np.where(inside, np.nan_to_num(curve.gradient_at(x)) ** 2, 0.0)
    total = float(pull.sum())
    if total <= 0:
        return 1.0
    return float(np.sum(pull.sum(axis=1) ** 2) - np.sum(pull**2)) / total**2
