"""Charts of single readings and of their moving ranges.

References
----------
NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2. ISO 7870-2:2013, from memory.
"""

from collections.abc import Sequence

import numpy as np

from curves.sensitometry.controlling.chart_building import phases_of, range_chart, zone_chart
from curves.sensitometry.controlling.chart_form import Chart, over_points, stated_spread
from curves.sensitometry.controlling.control_constants import control_constants
from curves.sensitometry.controlling.within_spread import (
    moving_ranges,
    spread_from_moving_ranges,
    usable_points,
)
from curves.sensitometry.measures import Measure, SensitometryError


def individuals_charts(
    values,
    *,
    centre: float | None = None,
    standard_deviation: float | None = None,
    phase: Sequence | None = None,
    limits_by_phase: bool = True,
    baseline: Sequence[bool] | None = None,
    least_sd: float = 0.0,
    rules: str | Sequence[str] = "western_electric",
    unit: str = "D",
) -> tuple[Chart, Chart]:
    """The chart of single readings and that of their moving ranges.

    Parameters
    ----------
    values : array_like, shape (n,) [unit]
        Readings in the order of time; None or NaN for a missing one.
    centre : float or None, scalar [unit]
        Aim; None takes the mean.
    standard_deviation : float or None, scalar [unit]
        Of one reading in control; None takes the mean moving range over d2.
    phase : sequence or None, shape (n,) [label]
        A change of label (another developer batch) restarts every window and moving range.
    limits_by_phase : bool
        Whether what is not given is estimated anew in each phase, or once from all.
    baseline : sequence of bool or None, shape (n,)
        Points to estimate from; None takes all.
    least_sd : float, scalar [unit]
        Least standard deviation that is believed where it is estimated, such as that of reading: readings
        that are rounded may all be alike.
    rules : str or sequence of str
        As in `rule_signals`.
    unit : str
        Unit of the readings.

    Returns
    -------
    tuple of Chart
        ``individuals`` and ``moving_range``. A phase without two neighbours has no limits and no signals.

    Raises
    ------
    SensitometryError
        For lists of unequal length, an unknown rule, or a standard deviation not above zero.

    Examples
    --------
    >>> points, ranges = individuals_charts([0.60, 0.62, 0.61, 0.59, 0.60, 0.75], centre=0.60)
    >>> [(signal.index, signal.rule) for signal in points.signals]
    [(5, 'beyond_action')]
    """
    values = usable_points(values)
    points = np.where(_baseline(values, baseline), values, np.nan)
    labels = None if phase is None else list(phase)

    def spread_of(part: slice) -> Measure:
        if standard_deviation is not None:
            return stated_spread(standard_deviation, unit)
        part_labels = None if labels is None else labels[part]
        return spread_from_moving_ranges(points[part], part_labels, unit, least_sd).standard_deviation

    phases = phases_of(points, phase, limits_by_phase, centre, spread_of, standard_deviation is not None)
    middle = over_points(phases, lambda each: each.centre)
    sd = over_points(phases, lambda each: each.spread.value)
    ranges = moving_ranges(values, phase)
    constants = control_constants(2)
    note = "centre ∓ 2 and 3 standard deviations of one reading; from moving ranges unless stated"
    return (
        zone_chart("individuals", unit, values, middle, sd, phases, phase, rules, note),
        range_chart("moving_range", unit, ranges, sd, constants.d2, constants.d3, phases, phase),
    )


def _baseline(values: np.ndarray, baseline) -> np.ndarray:
    if baseline is None:
        return np.ones(values.size, dtype=bool)
    chosen = np.asarray(baseline, dtype=bool)
    if chosen.shape != values.shape:
        raise SensitometryError("BAD_SHAPE", "Say of each point whether the limits stand on it.")
    return chosen
