"""Builders of Shewhart's charts: lines at two and three standard deviations, rules on the scores."""

import numpy as np

from curves.sensitometry.controlling.chart_form import (
    FEWEST_FOR_LIMITS,
    Chart,
    ChartPhase,
    checked_centre,
    phase_stretches,
)
from curves.sensitometry.controlling.run_rules import rule_signals

WARNING, ACTION = 2.0, 3.0  # standard deviations
RANGE_RULES = ("beyond_action",)  # a range is not normal, so the zone rules do not hold for it
FAR = 1e9  # standard deviations; the score of a point off a centre without any spread


def phases_of(points, phase, limits_by_phase, centre, spread_of, is_spread_stated) -> list[ChartPhase]:
    """The phases of a Shewhart chart, with what was not stated estimated from the points.

    Parameters
    ----------
    points : ndarray, shape (n,) [unit]
        What centre and spread stand on; NaN for a point that is missing or left out of it.
    phase : sequence or None, shape (n,) [label]
        A label for each point.
    limits_by_phase : bool
        Whether to estimate anew in each phase, or once from all.
    centre : float or None, scalar [unit]
        Where it was stated.
    spread_of : callable
        Gives the standard deviation for a slice of the points, as a Measure.
    is_spread_stated : bool
        Whether that was stated.

    Returns
    -------
    list of ChartPhase
    """
    centre = checked_centre(centre)
    stretches = phase_stretches(points.size, phase)
    if limits_by_phase:
        parts = [slice(start, stop) for _, start, stop in stretches]
        estimates = [(points[part], spread_of(part)) for part in parts]
    else:
        estimates = [(points, spread_of(slice(None)))] * len(stretches)
    is_estimated = centre is None or not is_spread_stated
    made = []
    for (label, start, stop), (used, spread) in zip(stretches, estimates, strict=True):
        count = int(np.isfinite(used).sum())
        middle = float(np.nanmean(used)) if centre is None and count else centre
        note = f"from {count} points" if is_estimated else "as stated"
        is_provisional = is_estimated and count < FEWEST_FOR_LIMITS
        made.append(ChartPhase(label, start, stop, middle, spread, is_provisional, note))
    return made


def _scores(distance: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Distances in standard deviations; points that are all alike are no distance from their mean."""
    with np.errstate(invalid="ignore", divide="ignore"):
        scores = np.where(np.abs(distance) < 1e-12, 0.0 * sd, distance / sd)
    return np.where(np.isinf(scores), np.sign(scores) * FAR, scores)


def zone_chart(kind, unit, values, middle, sd, phases, phase, rules, note) -> Chart:
    """A chart of points that are nearly normal.

    Parameters
    ----------
    kind, unit, note : str
        As in `Chart`.
    values, middle, sd : ndarray, shape (n,) [unit]
        Points, centre line, and standard deviation of each point.
    phases : sequence of ChartPhase
        As in `Chart`.
    phase : sequence or None, shape (n,) [label]
        Windows restart at a change of label.
    rules : str or sequence of str
        As in `rule_signals`.

    Returns
    -------
    Chart
    """
    scores = _scores(values - middle, sd)
    return Chart(
        kind,
        unit,
        values,
        middle,
        middle - WARNING * sd,
        middle + WARNING * sd,
        middle - ACTION * sd,
        middle + ACTION * sd,
        tuple(phases),
        rule_signals(scores, phase, rules),
        note,
    )


def range_chart(kind, unit, ranges, sd, d2, d3, phases, phase) -> Chart:
    """A chart of ranges.

    Parameters
    ----------
    kind, unit : str
        As in `Chart`.
    ranges, sd : ndarray, shape (n,) [unit]
        Ranges, and standard deviation of one reading.
    d2, d3 : float or ndarray, scalar or shape (n,) [standard deviations]
        Mean and standard deviation of a range.
    phases : sequence of ChartPhase
        As in `Chart`.
    phase : sequence or None, shape (n,) [label]
        Windows restart at a change of label.

    Returns
    -------
    Chart
    """
    middle, spread = d2 * sd, d3 * sd

    def low(multiple):
        return np.maximum(middle - multiple * spread, 0.0 * sd)

    scores = _scores(ranges - middle, spread)
    return Chart(
        kind,
        unit,
        ranges,
        middle,
        low(WARNING),
        middle + WARNING * spread,
        low(ACTION),
        middle + ACTION * spread,
        tuple(phases),
        rule_signals(scores, phase, RANGE_RULES),
        "mean range ∓ 2 and 3 of its standard deviations (D3 and D4); no limit below zero",
    )
