"""Matching a bracket to the reference: which frame has the reference's shadow density, and between which.

A bracket holds the same subject at several exposure indices. The index at which the test film gives the
density that the reference has at its own index is found between frames, in log exposure; its ratio to the
reference's index is the film's speed against the reference's. Say of both densities alike whether they are
net or gross: equal net shadows mean equal exposure, whatever the base.

References
----------
Common practice; formulas derived. Fitting the densities without falling steps: pool-adjacent-violators,
Barlow, R. E. et al., Statistical Inference under Order Restrictions (1972), from memory.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import isotonic_regression

from curves.sensitometry.exposing.exposure_settings import true_exposure_index
from curves.sensitometry.intervals import (
    is_usable,
    measure_with_error,
    measure_with_log_error,
    mixed_half_width,
)
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.speed_scale import STOP

SLOPE_REACH = 0.25  # log10 exposure to both sides over which the local slope is taken: five third stops
LEAST_SLOPE = 0.02  # D per log10 exposure; on a flatter stretch no exposure can be told


@dataclass(frozen=True)
class Bracket:
    """Shadow densities of the frames of a bracket, and what is known of their errors.

    Parameters
    ----------
    exposure_index : ndarray, shape (n,) [ISO arithmetic]
        True index each frame was exposed for, falling (exposure rising).
    density : ndarray, shape (n,) [D]
        Density of the shadow patch.
    density_sd : float, scalar [D]
        Standard error of a density.
    setting_sd : float, scalar [log10 exposure]
        Error of shutter and aperture, different in every frame.
    roll_sd : float, scalar [log10 exposure]
        Error common to all frames (meter, light, process); no number of frames lessens it.
    """

    exposure_index: np.ndarray
    density: np.ndarray
    density_sd: float = 0.0
    setting_sd: float = 0.0
    roll_sd: float = 0.0

    @classmethod
    def of(
        cls,
        exposure_index,
        density,
        *,
        density_sd: float = 0.0,
        setting_sd: float = 0.0,
        roll_sd: float = 0.0,
        is_nominal: bool = True,
    ) -> "Bracket":
        """The bracket of readings in any order; frames at the same index are averaged.

        Parameters
        ----------
        exposure_index : array_like, shape (n,) [ISO arithmetic]
            Index of each frame; frames not finite or not above zero are left out.
        density : array_like, shape (n,) [D]
            Density of the shadow patch of each frame.
        density_sd, setting_sd, roll_sd : float, scalars [D], [log10 exposure], [log10 exposure]
            As in the class.
        is_nominal : bool
            Whether the indices are rounded third-stop marks (320 for 317.48), to be taken as true ones.

        Returns
        -------
        Bracket
            Sorted by rising exposure.

        Raises
        ------
        SensitometryError
            When the lists differ in length or an error is negative.
        """
        index, density = np.asarray(exposure_index, dtype=float), np.asarray(density, dtype=float)
        if index.ndim != 1 or index.shape != density.shape:
            raise SensitometryError("BAD_SHAPE", "Give one density for each frame.")
        if not is_usable(density_sd, setting_sd, roll_sd) or min(density_sd, setting_sd, roll_sd) < 0:
            raise SensitometryError("IMPOSSIBLE_ERROR", "Standard errors are zero or more.")
        with np.errstate(invalid="ignore"):
            usable = (index > 1e-3) & (index < 1e7) & (np.abs(density) < 20)
        index, density = index[usable], density[usable]
        if is_nominal:
            index = np.array([true_exposure_index(mark) for mark in index])
        different, group = np.unique(-index, return_inverse=True)
        mean = np.bincount(group, density, minlength=different.size) / np.bincount(group)
        return cls(-different, mean, density_sd, setting_sd, roll_sd)

    @property
    def log_exposure(self) -> np.ndarray:
        """Exposure of each frame against that for an index of 1, shape (n,) [log10 exposure]."""
        return -np.log10(self.exposure_index)


def match_bracket(
    bracket: Bracket,
    reference_density: float,
    reference_index: float,
    *,
    reference_density_sd: float = 0.0,
    reference_setting_sd: float = 0.0,
    slope: float | None = None,
) -> dict[str, Measure]:
    """Exposure index at which the film has the reference's shadow density.

    Parameters
    ----------
    bracket : Bracket
        Frames of the test film.
    reference_density : float, scalar [D]
        Shadow density of the reference at its index, net or gross as the bracket's.
    reference_index : float, scalar [ISO arithmetic]
        True index of the reference's frame.
    reference_density_sd : float, scalar [D]
        Standard error of that density.
    reference_setting_sd : float, scalar [log10 exposure]
        Error of the settings of the reference's frame.
    slope : float or None, scalar [D per log10 exposure]
        The film's gradient at this density where a curve is known; otherwise taken from the frames.

    Returns
    -------
    dict of str to Measure
        ``matched_exposure_index`` [ISO arithmetic]; ``relative_speed`` [stop], positive for a film faster
        than the reference; ``nearest_frame_index`` [ISO arithmetic], the frame nearest in density with the
        interval that stands when no more than the nearest frame is known; ``nearest_frame_speed`` [stop].
        Withheld with ``BELOW_RANGE`` when every frame is denser, ``NOT_REACHED`` when every frame is
        thinner, ``NO_RISE`` when density does not rise clearly there, ``TOO_FEW_FRAMES``.

    Notes
    -----
    Densities that fall by reading noise are first pooled so that they rise with exposure. Errors of the two
    frames enter by their shares, the reference's in full: ``var x = (w var D + var D_ref) / slope**2 +
    w var_setting + var_reference_setting + var_roll``, ``w = (1 - f)**2 + f**2``.

    Examples
    --------
    >>> frames = Bracket.of([320, 250], [0.335, 0.395])
    >>> round(match_bracket(frames, 0.35, 400)["matched_exposure_index"].value, 1)
    299.7
    """
    reason, x, weight = _crossing(bracket, reference_density)
    if not reason and not (is_usable(reference_index) and reference_index > 1e-3):
        reason = "INVALID_INPUT"
    if reason:
        return _all_withheld(reason, bracket)
    local_slope = _local_slope(bracket, x) if slope is None else slope
    if not local_slope > LEAST_SLOPE:
        return _all_withheld("NO_RISE", bracket)
    readings = math.sqrt(weight * bracket.density_sd**2 + reference_density_sd**2) / local_slope
    common = math.hypot(bracket.roll_sd, reference_setting_sd)
    sd = math.hypot(readings, math.sqrt(weight) * bracket.setting_sd, common)
    reference_x = -math.log10(reference_index)
    nearest, half_range = _nearest(bracket, reference_density)
    # Which frame is nearest is itself judged by two readings.
    judged = math.hypot(bracket.density_sd, reference_density_sd) / local_slope
    frame_sd = math.hypot(judged, bracket.setting_sd, common)
    return {
        "matched_exposure_index": measure_with_log_error(
            "matched_exposure_index", 10**-x, sd or None, "ISO", _caution(bracket)
        ),
        # Less exposure for the same density is more speed.
        "relative_speed": measure_with_error(
            "relative_speed", (reference_x - x) / STOP, sd / STOP or None, "stop", _caution(bracket)
        ),
        **_nearest_measures(bracket.log_exposure[nearest], half_range, frame_sd, reference_x),
    }


def _crossing(bracket: Bracket, wanted: float) -> tuple[str | None, float, float]:
    """Reason, or log exposure of the density and the sum of the squared shares of its two frames."""
    if not is_usable(wanted):
        return "INVALID_INPUT", 0.0, 0.0
    if bracket.density.size < 2:
        return "TOO_FEW_FRAMES", 0.0, 0.0
    rising = isotonic_regression(bracket.density).x
    if rising[-1] - rising[0] < 1e-9:
        return "NO_RISE", 0.0, 0.0
    if wanted < rising[0]:
        return "BELOW_RANGE", 0.0, 0.0
    if wanted > rising[-1]:
        return "NOT_REACHED", 0.0, 0.0
    # On a pooled stretch at just this density the middle of the stretch stands.
    last_below = int(np.searchsorted(rising, wanted, side="left")) - 1
    first_above = int(np.searchsorted(rising, wanted, side="right"))
    i, j = max(last_below, 0), min(first_above, rising.size - 1)
    if last_below < 0 or first_above == rising.size or rising[j] == rising[i] or j > i + 1:
        inside = bracket.log_exposure[max(last_below + 1, 0) : first_above]
        return None, float(inside.mean()), 1.0 / inside.size
    share = (wanted - rising[i]) / (rising[j] - rising[i])
    x = bracket.log_exposure
    return None, float(x[i] + share * (x[j] - x[i])), float((1 - share) ** 2 + share**2)


def _local_slope(bracket: Bracket, x: float) -> float:
    """Slope of a line through the frames near a log exposure: at least the three nearest, where there are."""
    distance = np.abs(bracket.log_exposure - x)
    reach = max(SLOPE_REACH, np.sort(distance)[min(2, distance.size - 1)] + 1e-9)
    near = distance <= reach
    return float(np.polyfit(bracket.log_exposure[near] - x, bracket.density[near], 1)[0])


def _nearest(bracket: Bracket, wanted: float) -> tuple[int, float]:
    """The frame nearest in density and half the distance to its neighbours [log10 exposure]."""
    nearest = int(np.argmin(np.abs(bracket.density - wanted)))
    spacing = np.diff(bracket.log_exposure)
    return nearest, float(np.max(spacing[max(nearest - 1, 0) : nearest + 1])) / 2


def _nearest_measures(x: float, half_range: float, sd: float, reference_x: float) -> dict[str, Measure]:
    half = mixed_half_width(half_range, sd)
    note = f"nearest frame only, spacing {2 * half_range / STOP:.2f} stop"
    speed = (reference_x - x) / STOP
    return {
        "nearest_frame_index": Measure(
            "nearest_frame_index", 10**-x, 10 ** -(x + half), 10 ** -(x - half), "ISO", None, note
        ),
        "nearest_frame_speed": Measure(
            "nearest_frame_speed", speed, speed - half / STOP, speed + half / STOP, "stop", None, note
        ),
    }


def _caution(bracket: Bracket) -> str:
    fall = float(np.max(-np.diff(bracket.density), initial=0.0))
    if fall > 3 * math.sqrt(2) * bracket.density_sd and fall > 0:
        return f"density falls by {fall:.2f} between frames that should rise"
    return "interpolated in log exposure between frames"


def _all_withheld(reason: str, bracket: Bracket) -> dict[str, Measure]:
    note = ""
    if bracket.density.size:
        note = f"the frames reach from {bracket.density.min():.2f} to {bracket.density.max():.2f} D"
    units = {
        "matched_exposure_index": "ISO",
        "relative_speed": "stop",
        "nearest_frame_index": "ISO",
        "nearest_frame_speed": "stop",
    }
    return {name: withheld(name, reason, unit, note) for name, unit in units.items()}


def nearest_frame_sd(spacing_stops: float) -> float:
    """Standard deviation of a match known to the nearest frame only, scalar [stop].

    Parameters
    ----------
    spacing_stops : float, scalar [stop]
        Distance between frames.

    Returns
    -------
    float
        ``spacing / sqrt(12)``, scalar [stop].

    Examples
    --------
    >>> round(nearest_frame_sd(1 / 3), 3)
    0.096
    """
    if not is_usable(spacing_stops) or spacing_stops <= 0:
        raise SensitometryError("IMPOSSIBLE_SETTING", "The spacing of frames must be above zero.")
    return spacing_stops / math.sqrt(12)
