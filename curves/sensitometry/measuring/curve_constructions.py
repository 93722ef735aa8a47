"""The numbers that a figure needs to draw each measure's construction on the curve."""

import numpy as np

from curves.sensitometry.measuring.contrast_indices import INNER_MARK, OUTER_MARK
from curves.sensitometry.measuring.speed_points import CONTRAST_SPAN, SPEED_DENSITY

DIGITS = 5


def describe_constructions(measures, curve, report, number, used) -> dict[str, dict]:
    """Lines and points of every construction whose measure is stated.

    Parameters
    ----------
    measures : dict of str to Measure
        Measures of the curve.
    curve : Curve
        The curve, shape (n,) [log10 lx s, D].
    report : BatchReport
        Where the marks of the contrast index are.
    number : int, scalar [1]
        The curve's place in the report.
    used : ndarray, shape (s,) [log10 lx s]
        Steps that were used.

    Returns
    -------
    dict of str to dict of str to float
        All exposures [log10 lx s], densities [D] and slopes [D per log10 lx s].
    """
    place = measures["speed_point_log_exposure"].value
    found = {"straight_part": _straight(measures, curve, report.run(number), used)}
    if place is not None:
        foot = curve.base + SPEED_DENSITY
        found["base"] = {"density": curve.base}
        found["speed_point"] = {"log_exposure": place, "density": foot, "base_density": curve.base}
        found["contrast_pair"] = _chord(measures, "delta_d_130", place, foot, CONTRAST_SPAN, 1.0)
        found["average_gradient"] = _chord(measures, "average_gradient_150", place, foot, 1.5, 1.5)
        found["contrast_index"] = _marks(measures, curve, report.best("inner_mark", number))
        found["toe"] = _stretch(place, measures["straight_part_start"].value)
        found["useful_range"] = _useful(measures, place)
    onset = measures["shoulder_onset"].value
    found["shoulder"] = {"onset": onset, "density": _at(curve, onset)} if onset is not None else None
    return {name: _rounded(parts) for name, parts in found.items() if parts}


def _chord(measures, name, place, foot, span, divisor):
    value = measures[name].value
    if value is None:
        return None
    rise = value * divisor
    return {"start": place, "start_density": foot, "end": place + span, "end_density": foot + rise}


def _marks(measures, curve, inner):
    slope = measures["contrast_index"].value
    if slope is None:
        return None
    angle = np.arctan(slope)
    origin = inner - INNER_MARK * np.cos(angle)
    return {
        "origin": origin,
        "base_density": curve.base,
        "inner": inner,
        "inner_density": curve.base + INNER_MARK * np.sin(angle),
        "outer": origin + OUTER_MARK * np.cos(angle),
        "outer_density": curve.base + OUTER_MARK * np.sin(angle),
        "slope": slope,
    }


def _straight(measures, curve, run, used):
    gamma = measures["gamma"].value
    if gamma is None or run is None:
        return None
    steps = used[run[0] : run[1] + 1]
    parts = {
        "first_step": steps[0],
        "last_step": steps[-1],
        "log_exposure": steps.mean(),
        "density": np.mean([_at(curve, step) for step in steps]),
        "slope": gamma,
    }
    for end in ("start", "end"):
        value = measures[f"straight_part_{end}"].value
        if value is not None:
            parts[end] = value
    return parts


def _stretch(start, end):
    return None if end is None else {"start": start, "end": max(start, end)}


def _useful(measures, place):
    length = measures["useful_range"]
    if length.value is None:
        return None
    return {"start": place, "end": place + length.value, "is_open": float(length.high is None)}


def _at(curve, log_exposure):
    return float(np.interp(log_exposure, curve.log_exposure, curve.density))


def _rounded(parts):
    return {name: round(float(number), DIGITS) + 0.0 for name, number in parts.items()}
