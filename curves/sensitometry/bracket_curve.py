"""A film's curve from a bracket of patches, with the exposure error of every frame found and taken out.

Every patch of every frame is a point of the curve, at the frame's exposure plus the patch's log luminance.
A shutter or aperture that is off moves all patches of its frame together; since the frames' points overlap
along the curve, the move shows as a residual common to the frame, and can be told apart from reading noise.
What cannot be seen is the mean of all frames' errors: it moves the whole curve, and stays in its error.
"""

import math
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.analysing import analyse_readings
from curves.sensitometry.analysis import Analysis
from curves.sensitometry.intervals import GREATEST, is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.readings import Readings
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

ROUNDS = 3  # fits of the curve; the frames' errors settle within a tenth of their own error by then
LEAST_FRAMES = 4  # with fewer the curve and the frames' errors cannot be told apart


@dataclass(frozen=True)
class BracketAnalysis:
    """The curve of a bracket and the errors of its frames.

    Parameters
    ----------
    analysis : Analysis
        Of all points, at the frames' exposures as corrected; the exposure is relative.
    frame_errors : tuple of Measure, shape (n,)
        ``frame_error`` of each frame [stop]: true exposure less the one set, against the mean of all.
    setting_sd : float, scalar [log10 exposure]
        Standard deviation of a frame's error, as given or as found.
    exposure_sd : float, scalar [log10 exposure]
        Error that the frames leave in the place of the whole curve.
    """

    analysis: Analysis
    frame_errors: tuple[Measure, ...]
    setting_sd: float
    exposure_sd: float


def analyse_bracket(
    frame_log_exposure,
    patch_log_luminance,
    density,
    unexposed,
    setting_sd: float | None = None,
) -> BracketAnalysis:
    """Curve, measures and frame errors of a bracket of patches.

    Parameters
    ----------
    frame_log_exposure : array_like, shape (n,) [log10 exposure]
        True exposure of each frame as set, against the metered one.
    patch_log_luminance : array_like, shape (p,) [log10]
        Log luminance of each patch against the tone that was metered.
    density : array_like, shape (n, p) [D]
        Gross densities; NaN for a patch that was not read.
    unexposed : array_like, shape (k,) [D]
        Gross densities of the unexposed area.
    setting_sd : float or None, scalar [log10 exposure]
        Standard deviation of a frame's error; None finds it from the residuals.

    Returns
    -------
    BracketAnalysis
        With fewer than four frames, or when no curve can be drawn, the frames' errors are withheld
        and the points stand as they were set.

    Raises
    ------
    SensitometryError
        When the shapes do not fit or the error is negative.

    Notes
    -----
    Turn by turn: the engine's curve through the points, then for each frame the shift that best explains its
    residuals ``r = gradient * shift + noise``, shrunk by the ratio of the two variances, and centred.
    """
    frame, patch = (np.asarray(a, dtype=float) for a in (frame_log_exposure, patch_log_luminance))
    density = np.asarray(density, dtype=float)
    if frame.ndim != 1 or patch.ndim != 1 or density.shape != (frame.size, patch.size):
        raise SensitometryError("BAD_SHAPE", "Give one density for every patch of every frame.")
    if setting_sd is not None and not (is_usable(setting_sd) and setting_sd >= 0):
        raise SensitometryError("IMPOSSIBLE_ERROR", "The error of the settings is zero or more.")
    as_set = frame[:, None] + patch
    shift = np.zeros(frame.size)
    found = None
    for _ in range(ROUNDS):
        analysis = _analyse(as_set + shift[:, None], density, unexposed)
        if analysis.curve.density.size < 2 or frame.size < LEAST_FRAMES:
            return _as_set(analysis, frame.size, setting_sd or 0.0)
        found = _frame_shifts(analysis, as_set, shift, density, setting_sd)
        if found.setting_sd == 0:
            break
        shift = found.shift
    analysis = _analyse(as_set + shift[:, None], density, unexposed)
    # The mean of the frames' errors cannot be seen; frames that say nothing do not lessen it.
    exposure_sd = found.setting_sd / math.sqrt(max(1.0, found.telling_frames))
    errors = tuple(
        measure_with_error("frame_error", value / STOP, float(sd) / STOP or None, "stop")
        for value, sd in zip(found.shift, found.sd, strict=True)
    )
    return BracketAnalysis(analysis, errors, found.setting_sd, exposure_sd)


def _analyse(log_exposure: np.ndarray, density: np.ndarray, unexposed) -> Analysis:
    readings = Readings(
        log_exposure=log_exposure.ravel(), density=density.ravel(), unexposed=unexposed, exposure="relative"
    )
    return analyse_readings(readings)


def _as_set(analysis: Analysis, frames: int, setting_sd: float) -> BracketAnalysis:
    reason = "TOO_FEW_FRAMES" if frames < LEAST_FRAMES else "TOO_FEW_POINTS"
    errors = tuple(withheld("frame_error", reason, "stop") for _ in range(frames))
    return BracketAnalysis(analysis, errors, setting_sd, setting_sd / math.sqrt(max(1, frames)))


@dataclass(frozen=True)
class _FrameShifts:
    """Shift of each frame and its error [log10 exposure], and the frames that say something."""

    shift: np.ndarray
    sd: np.ndarray
    setting_sd: float
    telling_frames: float


def _frame_shifts(
    analysis: Analysis, as_set: np.ndarray, shift: np.ndarray, density: np.ndarray, setting_sd: float | None
) -> _FrameShifts:
    curve = SampledCurve.of(analysis.curve)
    x = as_set + shift[:, None]
    inside = (x >= curve.log_exposure[0]) & (x <= curve.log_exposure[-1]) & (np.abs(density) < GREATEST)
    gradient = np.where(inside, curve.gradient_at(x), 0.0)
    # Residuals against the points as set: the shift so far is not to be counted twice.
    residual = np.where(inside, density - curve.density_at(x), 0.0) + gradient * shift[:, None]
    power = np.sum(gradient**2, axis=1)
    told = power > 1e-6
    raw = np.divide(np.sum(gradient * residual, axis=1), power, out=np.zeros(power.size), where=told)
    left = np.where(inside, residual - gradient * raw[:, None], 0.0)
    # Degrees: points less a shift a frame, less the six constants of a curve.
    degrees = max(1, int(inside.sum()) - int(told.sum()) - 6)
    noise_variance = max(float(np.sum(left**2)) / degrees, 1e-8)
    raw_variance = np.divide(noise_variance, power, out=np.zeros(power.size), where=told)
    if setting_sd is None:
        setting_sd = _setting_sd(raw[told], raw_variance[told])
    if setting_sd == 0:
        # No error shows; how large a one could hide is what reading noise leaves of it.
        return _FrameShifts(np.zeros(power.size), np.sqrt(raw_variance), 0.0, float(told.sum()))
    weight = setting_sd**2 * power / (setting_sd**2 * power + noise_variance)
    shrunk = weight * raw
    shrunk = np.where(told, shrunk - np.sum(weight * shrunk) / max(np.sum(weight), 1e-12), 0.0)
    sd = setting_sd * np.sqrt(1 - weight)
    return _FrameShifts(shrunk, sd, setting_sd, float(np.sum(weight) ** 2 / max(np.sum(weight**2), 1e-12)))


def _setting_sd(raw: np.ndarray, variance: np.ndarray) -> float:
    """Spread of the frames beyond reading noise, by moments; zero when noise explains it."""
    if raw.size < LEAST_FRAMES:
        return 0.0
    weight = 1 / variance
    mean = np.sum(weight * raw) / np.sum(weight)
    excess = float(np.sum(weight * (raw - mean) ** 2)) - (raw.size - 1)
    scale = float(np.sum(weight) - np.sum(weight**2) / np.sum(weight))
    return math.sqrt(max(0.0, excess / scale))
