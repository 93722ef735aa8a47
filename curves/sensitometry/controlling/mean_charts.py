"""Charts of means and ranges of replicated strips.

References
----------
NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.1. ISO 7870-2:2013, from memory.
"""

from collections.abc import Sequence

import numpy as np

from curves.sensitometry.controlling.chart_building import phases_of, range_chart, zone_chart
from curves.sensitometry.controlling.chart_form import Chart, over_points, stated_spread
from curves.sensitometry.controlling.control_constants import LARGEST, control_constants
from curves.sensitometry.controlling.within_spread import spread_from_sample_ranges, usable_points
from curves.sensitometry.measures import Measure, SensitometryError


def mean_range_charts(
    samples,
    *,
    centre: float | None = None,
    standard_deviation: float | None = None,
    phase: Sequence | None = None,
    limits_by_phase: bool = True,
    rules: str | Sequence[str] = "western_electric",
    unit: str = "D",
) -> tuple[Chart, Chart]:
    """The chart of the means of replicated strips and that of their ranges.

    Parameters
    ----------
    samples : array_like, shape (k, n) [unit]
        A row for each run, a column for each replicate, 2 to 25; NaN for a missing one.
    centre : float or None, scalar [unit]
        Aim; None takes the mean of the means.
    standard_deviation : float or None, scalar [unit]
        Of one replicate within a run; None takes the mean range over d2.
    phase : sequence or None, shape (k,) [label]
        As in `individuals_charts`.
    limits_by_phase : bool
        As in `individuals_charts`.
    rules : str or sequence of str
        For the means.
    unit : str
        Unit of the readings.

    Returns
    -------
    tuple of Chart
        ``means`` and ``ranges``; limits of a row follow its own number of replicates.

    Raises
    ------
    SensitometryError
        For samples that are not a table of 2 to 25 columns, and as in `individuals_charts`.

    Notes
    -----
    The limits hold only what varies within a run. Where runs differ by more, chart the means by
    `individuals_charts` instead.
    """
    sizes, means, ranges = _rows(samples)

    def spread_of(part: slice) -> Measure:
        if standard_deviation is not None:
            return stated_spread(standard_deviation, unit)
        return spread_from_sample_ranges(ranges[part], sizes[part], unit).standard_deviation

    phases = phases_of(means, phase, limits_by_phase, centre, spread_of, standard_deviation is not None)
    middle = over_points(phases, lambda each: each.centre)
    sd = over_points(phases, lambda each: each.spread.value)
    constants = [control_constants(max(int(size), 2)) for size in sizes]
    note = "centre ∓ 2 and 3 standard deviations of a mean, from the spread within runs"
    root = np.sqrt(np.maximum(sizes, 1))
    return (
        zone_chart("means", unit, means, middle, sd / root, phases, phase, rules, note),
        range_chart(
            "ranges",
            unit,
            ranges,
            sd,
            np.array([c.d2 for c in constants]),
            np.array([c.d3 for c in constants]),
            phases,
            phase,
        ),
    )


def _rows(samples) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Replicates, mean and range of each row."""
    try:
        table = np.array(samples, dtype=float)
    except (TypeError, ValueError):
        raise SensitometryError("BAD_SHAPE", "Give a row of replicates for each run.") from None
    if table.ndim != 2 or not 2 <= table.shape[1] <= LARGEST:
        raise SensitometryError("BAD_SHAPE", f"Give a row of 2 to {LARGEST} replicates for each run.")
    table = usable_points(table.ravel()).reshape(table.shape)
    known = np.isfinite(table)
    sizes = known.sum(axis=1)
    means = np.where(sizes > 0, np.where(known, table, 0.0).sum(axis=1) / np.maximum(sizes, 1), np.nan)
    highest = np.where(known, table, -np.inf).max(axis=1)
    lowest = np.where(known, table, np.inf).min(axis=1)
    spans = np.full(sizes.size, np.nan)
    spans[sizes > 1] = (highest - lowest)[sizes > 1]
    return sizes, means, spans
