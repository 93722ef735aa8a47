"""A film's curve from a bracket of patches, with the exposure error of every frame found and taken out.

Every patch of every frame is a point of the curve, at the frame's exposure plus the patch's log luminance.
A shutter or aperture that is off moves all patches of its frame together; since the frames' points overlap
along the curve, the move shows as a residual common to the frame, and can be told apart from reading noise.
What cannot be seen is the mean of all frames' errors: it moves the whole curve, and stays in its error.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.analysing import analyse_readings
from curves.sensitometry.analysis import Analysis
from curves.sensitometry.intervals import GREATEST, is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.readings import Readings
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

ROUNDS = 2  # a third changes the matched speed by less than a hundredth of its error
LEAST_FRAMES = 4  # with fewer the curve and the frames' errors cannot be told apart


@dataclass(frozen=True)
class BracketAnalysis:
    """The curve of a bracket and the errors of its frames.

    Parameters
    ----------
    analysis : Analysis
        Of all points, at the frames' exposures as corrected; the exposure is relative.
    curve : SampledCurve or None
        The curve for matching, its base plus fog being the mean of the unexposed readings and nothing
        else: a bracket seldom reaches down the toe far enough for the fit to say anything of the base.
        None when no curve can be drawn.
    frame_errors : tuple of Measure, shape (n,)
        ``frame_error`` of each frame [stop]: true exposure less the one set, against the mean of all.
    setting_sd : float, scalar [log10 exposure]
        Standard deviation of a frame's error, as given or as found.
    exposure_sd : float, scalar [log10 exposure]
        Error that the frames leave in the place of the whole curve.
    """

    analysis: Analysis
    curve: SampledCurve | None
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

    References
    ----------
    Morris, C. N., J. Am. Stat. Assoc. 78, 47 (1983), shrinkage with an estimated spread (from memory).
    """
    frame, patch = (np.asarray(a, dtype=float) for a in (frame_log_exposure, patch_log_luminance))
    density = np.asarray(density, dtype=float)
    if frame.ndim != 1 or patch.ndim != 1 or density.shape != (frame.size, patch.size):
        raise SensitometryError("BAD_SHAPE", "Give one density for every patch of every frame.")
    if setting_sd is not None and not (is_usable(setting_sd) and setting_sd >= 0):
        raise SensitometryError("IMPOSSIBLE_ERROR", "The error of the settings is zero or more.")
    as_set = frame[:, None] + patch
    shift = np.zeros(frame.size)
    for _ in range(ROUNDS):
        analysis = _analyse(as_set + shift[:, None], density, unexposed)
        if analysis.curve.density.size < 2 or frame.size < LEAST_FRAMES:
            return _as_set(analysis, frame.size, setting_sd or 0.0, unexposed)
        found = _frame_shifts(analysis, as_set, shift, density, setting_sd)
        shift = found.shift
    analysis = _analyse(as_set + shift[:, None], density, unexposed)
    # The mean of the frames' errors cannot be seen; frames that say nothing do not lessen it.
    exposure_sd = found.setting_sd / math.sqrt(max(1.0, found.telling_frames))
    errors = tuple(
        measure_with_error("frame_error", value / STOP, float(sd) / STOP or None, "stop")
        for value, sd in zip(found.shift, found.sd, strict=True)
    )
    return BracketAnalysis(analysis, _curve(analysis, unexposed), errors, found.setting_sd, exposure_sd)


def _analyse(log_exposure: np.ndarray, density: np.ndarray, unexposed) -> Analysis:
    readings = Readings(
        log_exposure=log_exposure.ravel(), density=density.ravel(), unexposed=unexposed, exposure="relative"
    )
    return analyse_readings(readings)


def _curve(analysis: Analysis, unexposed) -> SampledCurve | None:
    if analysis.curve.density.size < 2:
        return None
    curve = SampledCurve.of(analysis.curve)
    base = np.asarray(unexposed, dtype=float).ravel()
    base = base[np.isfinite(base)]
    if base.size == 0 or analysis.noise_sd is None:
        return replace(curve, base=None)
    # The base errs on its own, so it gets a mode of its own.
    silent = np.zeros((1, curve.modes.shape[1]))
    base_modes = np.append(np.zeros(curve.modes.shape[0]), analysis.noise_sd / math.sqrt(base.size))
    return replace(
        curve, base=float(base.mean()), base_modes=base_modes, modes=np.vstack([curve.modes, silent])
    )


def _as_set(analysis: Analysis, frames: int, setting_sd: float, unexposed) -> BracketAnalysis:
    reason = "TOO_FEW_FRAMES" if frames < LEAST_FRAMES else "TOO_FEW_POINTS"
    errors = tuple(withheld("frame_error", reason, "stop") for _ in range(frames))
    exposure_sd = setting_sd / math.sqrt(max(1, frames))
    return BracketAnalysis(analysis, _curve(analysis, unexposed), errors, setting_sd, exposure_sd)


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
    return _shrunk(raw, raw_variance, told, setting_sd)


def _shrunk(
    raw: np.ndarray, variance: np.ndarray, told: np.ndarray, setting_sd: float | None
) -> _FrameShifts:
    """Frames' shifts drawn towards their mean by how much of their scatter is reading noise.

    With a spread that is itself found from these frames the shrinkage is a little less and the error a
    little more, by Morris's corrections for the spread's own error.
    """
    count = int(told.sum())
    is_found = setting_sd is None
    if setting_sd is None:
        setting_sd = _setting_sd(raw[told], variance[told])
    total = np.where(told, variance + setting_sd**2, np.inf)
    precision = 1 / total
    share = np.where(told, variance / total, 1.0)
    if is_found and count > LEAST_FRAMES:
        share = share * (count - 3) / (count - 1)
    apart = np.where(told, raw - np.sum(precision * raw) / max(np.sum(precision), 1e-12), 0.0)
    error = variance * (1 - share * (count - 1) / max(count, 1))
    if is_found and count > LEAST_FRAMES:
        error = error + 2 / (count - 3) * (share * apart) ** 2
    telling = np.sum(precision) ** 2 / max(np.sum(precision**2), 1e-12)
    sd = np.where(told, np.sqrt(error), setting_sd)
    return _FrameShifts((1 - share) * apart, sd, setting_sd, float(telling))


def _setting_sd(raw: np.ndarray, variance: np.ndarray) -> float:
    """Spread of the frames beyond reading noise, by moments; zero when noise explains it."""
    if raw.size < LEAST_FRAMES:
        return 0.0
    weight = 1 / variance
    mean = np.sum(weight * raw) / np.sum(weight)
    excess = float(np.sum(weight * (raw - mean) ** 2)) - (raw.size - 1)
    scale = float(np.sum(weight) - np.sum(weight**2) / np.sum(weight))
    return math.sqrt(max(0.0, excess / scale))
