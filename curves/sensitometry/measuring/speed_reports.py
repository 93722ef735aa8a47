"""Speeds as measures: the exposure index, the ISO speed where it may be stated, Delta-X, and the box."""

import numpy as np

from curves.sensitometry.measures import Measure
from curves.sensitometry.measuring.reported_measures import refused, reported
from curves.sensitometry.speed_scale import (
    CONTRAST_AIM,
    CONTRAST_TOLERANCE,
    rounded_speed,
    speed_degree,
    speed_from_exposure,
    stops_between,
)

ISO_NAMES = ("iso_speed_exact", "iso_speed", "iso_degree")


def iso_speeds(place: Measure, pair: Measure, is_absolute: bool) -> dict[str, Measure]:
    """Exposure index and, when the standard's conditions are met, the ISO speed in its three forms.

    Parameters
    ----------
    place : Measure
        Speed point, scalar [log10 lx s].
    pair : Measure
        Density difference between the speed point and 1.30 further on, scalar [D].
    is_absolute : bool
        Whether exposures are in lux seconds.

    Returns
    -------
    dict of str to Measure
        ``exposure_index`` [EI], ``iso_speed_exact`` and ``iso_speed`` [ISO], ``iso_degree`` [degree].
    """
    reason = place.reason or (None if is_absolute else "UNCALIBRATED")
    if reason:
        return {name: refused(name, reason) for name in (*ISO_NAMES, "exposure_index")}
    exact = np.array([_speed(end) for end in (place.value, place.high, place.low)])
    found = {"exposure_index": reported("exposure_index", exact, "0.8/Hm at this development")}
    reason, note = pair.reason, ""
    if not reason and abs(pair.value - CONTRAST_AIM) > CONTRAST_TOLERANCE + 1e-9:
        reason, note = "CONTRAST_NOT_MET", f"ΔD {pair.value:.2f}, wanted 0.80 ± 0.05"
    if reason:
        return found | {name: refused(name, reason, note) for name in ISO_NAMES}
    found["iso_speed_exact"] = reported("iso_speed_exact", exact, "0.8/Hm")
    rounded = [_rounded(speed) for speed in exact]
    if np.isnan(rounded[0]):
        return found | {name: refused(name, "EXTRAPOLATED") for name in ("iso_speed", "iso_degree")}
    found["iso_speed"] = reported("iso_speed", rounded, "rounded by the standard's scale")
    degrees = [speed_degree(speed) if np.isfinite(speed) else np.nan for speed in exact]
    found["iso_degree"] = reported("iso_degree", degrees, "floor(10 log10 S + 1.5)")
    return found


def delta_x_speed(log_speed, pair: Measure, is_absolute: bool) -> Measure:
    """The Delta-X-equivalent speed.

    Parameters
    ----------
    log_speed : sequence of float, shape (3,) [log10 ISO arithmetic]
        Value and interval ends; not finite outside the published contrasts.
    pair : Measure
        Density difference over 1.30, scalar [D].
    is_absolute : bool
        Whether exposures are in lux seconds.

    Returns
    -------
    Measure
        Scalar [EI].
    """
    reason = pair.reason or (None if is_absolute else "UNCALIBRATED")
    if not reason and not np.isfinite(log_speed[0]):
        reason = "EXTRAPOLATED"
    if reason:
        return refused("delta_x_speed", reason)
    return reported("delta_x_speed", 10.0 ** np.array(log_speed), "not an ISO speed")


def box_difference(index: Measure, box_speed: float | None) -> Measure:
    """Exposure index against the speed on the box.

    Parameters
    ----------
    index : Measure
        Exposure index, scalar [EI].
    box_speed : float or None, scalar [ISO arithmetic]
        Speed on the box.

    Returns
    -------
    Measure
        Scalar [stop]; positive when the film measures faster than its box says.
    """
    reason = index.reason or (None if box_speed else "NO_BOX_SPEED")
    if reason:
        return refused("box_difference_stops", reason)
    ends = np.array([index.value, index.low, index.high], dtype=float)
    return reported("box_difference_stops", stops_between(ends, box_speed), "0.8/Hm over box speed")


def _speed(log_exposure):
    return np.nan if log_exposure is None else float(speed_from_exposure(log_exposure))


def _rounded(speed):
    step = rounded_speed(speed) if np.isfinite(speed) else None
    return np.nan if step is None else step
