"""Charts with a memory, for small shifts and slow drifts: fading averages (EWMA) and cumulative sums.

References
----------
NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.2.4 (EWMA) and 6.3.2.3 (CUSUM).
"""

from collections.abc import Sequence
from itertools import accumulate

import numpy as np

from curves.sensitometry.controlling.chart_form import (
    Chart,
    ChartPhase,
    phase_stretches,
    stated_spread,
)
from curves.sensitometry.controlling.run_rules import ON_THE_LINE, Signal
from curves.sensitometry.controlling.within_spread import usable_points
from curves.sensitometry.intervals import is_usable
from curves.sensitometry.measures import Measure, SensitometryError


def ewma_chart(
    values,
    *,
    centre: float,
    standard_deviation: float,
    weight: float = 0.2,
    width: float = 3.0,
    is_exact: bool = True,
    phase: Sequence | None = None,
    unit: str = "D",
) -> Chart:
    """The exponentially weighted moving average.

    Parameters
    ----------
    values : array_like, shape (n,) [unit]
        Readings in the order of time; a missing one leaves the average as it is.
    centre : float, scalar [unit]
        Aim; the average starts there, and again at each phase.
    standard_deviation : float, scalar [unit]
        Of one reading in control.
    weight : float, scalar [1]
        Lambda, the weight of the newest reading, above 0 and up to 1.
    width : float, scalar [standard deviations of the average]
        L, the distance of the limits.
    is_exact : bool
        Whether the limits are those of each point, narrow at first, or those tended to.
    phase : sequence or None, shape (n,) [label]
        A change of label restarts the average.
    unit : str
        Unit of the readings.

    Returns
    -------
    Chart
        ``ewma``; ``values`` are the averages. There are no warning limits.

    Raises
    ------
    SensitometryError
        For a weight outside (0, 1], a width or a standard deviation not above zero.

    Examples
    --------
    >>> chart = ewma_chart([52, 47], centre=50, standard_deviation=2, weight=0.3)
    >>> chart.values.round(2).tolist()
    [50.6, 49.52]
    """
    if not (is_usable(centre) and 0 < weight <= 1 and 0 < width < 100):
        raise SensitometryError(
            "IMPOSSIBLE_WEIGHT", "State an aim, a weight above 0 and up to 1, and a width above 0."
        )
    values = usable_points(values)
    spread = stated_spread(standard_deviation, unit)
    averages, sd = np.full(values.size, np.nan), np.full(values.size, np.nan)
    phases = _stated_phases(values.size, phase, centre, spread)
    for each in phases:
        place = each.start + np.flatnonzero(np.isfinite(values[each.start : each.stop]))
        # z - centre follows the recursion y = w x + (1 - w) y from zero.
        pulls = (weight * (values[place] - centre)).tolist()
        averages[place] = centre + np.array([*accumulate(pulls, lambda y, pull: pull + (1 - weight) * y)])
        counted = np.cumsum(np.isfinite(values[each.start : each.stop]))
        grown = 1 - (1 - weight) ** (2 * np.maximum(counted, 1)) if is_exact else 1.0
        sd[each.start : each.stop] = standard_deviation * np.sqrt(weight / (2 - weight) * grown)
    middle, reach = np.full(values.size, float(centre)), width * sd
    none = np.full(values.size, np.nan)
    with np.errstate(invalid="ignore"):
        out = np.flatnonzero(np.abs(averages - middle) > reach + ON_THE_LINE * sd)
    text = f"The weighted moving average lies beyond {width:g} of its standard deviations."
    signals = tuple(
        Signal(int(i), "ewma_beyond", text, (int(i),), 1 if averages[i] > centre else -1) for i in out
    )
    note = f"weight {weight:g}, width {width:g}, {'exact' if is_exact else 'asymptotic'} limits"
    low, high = middle - reach, middle + reach
    return Chart("ewma", unit, averages, middle, none, none, low, high, tuple(phases), signals, note)


def cusum_charts(
    values,
    *,
    centre: float,
    allowance: float,
    decision: float,
    phase: Sequence | None = None,
    unit: str = "D",
) -> tuple[Chart, Chart]:
    """The tabular cumulative sums above and below the aim.

    Parameters
    ----------
    values : array_like, shape (n,) [unit]
        Readings in the order of time; a missing one leaves the sums as they are.
    centre : float, scalar [unit]
        Aim.
    allowance : float, scalar [unit]
        k, half the shift to be found; usually half a standard deviation.
    decision : float, scalar [unit]
        h, the sum that counts as a signal; usually four or five standard deviations.
    phase : sequence or None, shape (n,) [label]
        A change of label restarts both sums from zero.
    unit : str
        Unit of the readings.

    Returns
    -------
    tuple of Chart
        ``cusum_high`` and ``cusum_low``, both counted upward from zero. The window of a signal begins
        where the sum last left zero: the likely first point of the shift. Sums go on after a signal.

    Raises
    ------
    SensitometryError
        When allowance is below zero or decision not above it.

    Examples
    --------
    >>> high, low = cusum_charts([0.62, 0.64, 0.66], centre=0.60, allowance=0.01, decision=0.08)
    >>> high.values.round(2).tolist(), [signal.index for signal in high.signals]
    ([0.01, 0.04, 0.09], [2])
    """
    if not (is_usable(centre, allowance, decision) and allowance >= 0 and decision > 0):
        raise SensitometryError(
            "IMPOSSIBLE_DECISION", "State an aim, an allowance and a decision above zero."
        )
    values = usable_points(values)
    phases = _stated_phases(values.size, phase, centre, None)
    return (
        _one_sided(values, 1, centre, allowance, decision, phases, unit),
        _one_sided(values, -1, centre, allowance, decision, phases, unit),
    )


def _stated_phases(count: int, phase, centre: float, spread: Measure | None) -> list[ChartPhase]:
    return [
        ChartPhase(label, start, stop, float(centre), spread, False, "as stated")
        for label, start, stop in phase_stretches(count, phase)
    ]


def _one_sided(values, side, centre, allowance, decision, phases, unit) -> Chart:
    sums = np.full(values.size, np.nan)
    signals = []
    text = f"The cumulative sum {'above' if side > 0 else 'below'} the aim passes {decision:g} {unit}."
    for each in phases:
        place = each.start + np.flatnonzero(np.isfinite(values[each.start : each.stop]))
        walk = np.cumsum(side * (values[place] - centre) - allowance)
        # max(0, S + x) step by step is the walk less its least value so far.
        least = np.minimum(np.minimum.accumulate(walk), 0.0)
        height = walk - least
        sums[place] = height
        left_zero = np.maximum.accumulate(np.where(height <= 0, np.arange(place.size) + 1, 0))
        for i in np.flatnonzero(height > decision * (1 + ON_THE_LINE)):
            window = tuple(int(j) for j in place[left_zero[i] : i + 1])
            signals.append(Signal(int(place[i]), "cusum_beyond", text, window, side))
    zero, limit = np.zeros(values.size), np.full(values.size, float(decision))
    none = np.full(values.size, np.nan)
    kind = "cusum_high" if side > 0 else "cusum_low"
    note = f"allowance {allowance:g} {unit}, decision {decision:g} {unit}"
    return Chart(kind, unit, sums, zero, none, none, none, limit, tuple(phases), tuple(signals), note)
