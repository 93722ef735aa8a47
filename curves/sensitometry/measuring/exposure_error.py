"""What is not known of the absolute exposure, carried into the speeds that rest on it.

The lamp, its meter and the shutter are in error by the same amount for every roll of an exposure
standard. That makes no difference to a comparison, and repeated rolls do not shrink it; but a speed in
the sense of the standard is off by it. So it is added to the absolute speeds alone, last of all.
"""

from dataclasses import replace

import numpy as np

from curves.sensitometry.analysis import Analysis
from curves.sensitometry.measures import Measure, SensitometryError
from curves.sensitometry.measuring.reported_measures import reported
from curves.sensitometry.measuring.row_summaries import NORMAL_95
from curves.sensitometry.measuring.speed_reports import box_difference, iso_speeds

NOTE = "the exposure's own uncertainty included"


def with_exposure_error(analysis: Analysis, log_exposure_sd: float) -> Analysis:
    """Widen the absolute speeds by the standard uncertainty of the exposure.

    Parameters
    ----------
    analysis : Analysis
        Of one roll, or pooled.
    log_exposure_sd : float, scalar [log10 lx s]
        Standard uncertainty of the exposure that all steps and rolls have in common.

    Returns
    -------
    Analysis
        The same, with wider intervals of ``exposure_index``, ``iso_speed_exact``, ``iso_speed``,
        ``iso_degree``, ``delta_x_speed`` and ``box_difference_stops``. Unchanged for relative exposures.

    Raises
    ------
    SensitometryError
        When the uncertainty is negative or not finite.
    """
    if not (np.isfinite(log_exposure_sd) and log_exposure_sd >= 0):
        raise SensitometryError("BAD_SD", "The exposure's uncertainty must be zero or more.")
    if analysis.exposure != "absolute" or log_exposure_sd == 0:
        return analysis
    measures = analysis.measures
    place = _widened(measures["speed_point_log_exposure"], log_exposure_sd)
    found = iso_speeds(place, measures["delta_d_130"], True)
    found["box_difference_stops"] = box_difference(found["exposure_index"], analysis.box_speed)
    found["delta_x_speed"] = _widened_speed(measures["delta_x_speed"], log_exposure_sd)
    # What was withheld stays withheld, with its own reason: this step only widens.
    kept = {
        name: replace(measure, note=f"{measure.note}; {NOTE}")
        for name, measure in found.items()
        if measures[name].value is not None and measure.value is not None
    }
    return replace(analysis, measures=measures | kept)


def _widened(measure: Measure, sd: float) -> Measure:
    """The measure with an independent error of its own unit added to both sides."""
    if measure.value is None:
        return measure
    low, high = (
        None if end is None else measure.value + sign * float(np.hypot(end - measure.value, NORMAL_95 * sd))
        for end, sign in ((measure.low, -1.0), (measure.high, 1.0))
    )
    return replace(measure, low=low, high=high)


def _widened_speed(measure: Measure, sd: float) -> Measure:
    """The same for a speed, whose error is a factor."""
    if measure.value is None:
        return measure
    logs = replace(
        measure,
        value=float(np.log10(measure.value)),
        low=None if measure.low is None else float(np.log10(measure.low)),
        high=None if measure.high is None else float(np.log10(measure.high)),
    )
    wide = _widened(logs, sd)
    ends = [np.nan if end is None else end for end in (wide.value, wide.low, wide.high)]
    return reported(measure.name, 10.0 ** np.array(ends), measure.note)
