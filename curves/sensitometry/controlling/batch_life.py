"""Life of a batch of developer: how control strips drift with the films through it, and until when.

A straight line through the deviations of strips. Nothing is said of more films than were put through.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.controlling.within_spread import usable_points
from curves.sensitometry.intervals import is_usable
from curves.sensitometry.measures import Measure, SensitometryError, withheld

FEWEST_STRIPS = 5  # house rule, at three different numbers of films at least
FEWEST_COUNTS = 3
MOST_INFLATION = 10.0  # of a variance by what two causes share; beyond it they cannot be told apart
CAUSES = {"films": "D per film", "age_days": "D per day", "replenisher_l": "D per l"}


@dataclass(frozen=True, slots=True)
class BatchLife:
    """How a quantity of control strips moves as a batch is used.

    Parameters
    ----------
    trend : Measure
        ``trend_per_film`` [D per film], with all that goes along with films.
    films_to_limit : Measure
        ``films_to_limit`` [film], where the line meets the action limit that it moves towards; an end of
        its interval beyond what was observed is open. ``NOT_MET`` within what was observed, ``NO_TREND``,
        ``BELOW_RANGE`` (past it from the first strip on) or ``TOO_FEW_STRIPS``.
    limit : float or None, scalar [D]
        The action limit meant, as a deviation from the aim.
    observed : tuple of float or None, shape (2,) [film]
        Fewest and most films through at a strip.
    start : Measure
        ``fresh_deviation`` [D], the line at the fewest films.
    scatter : float or None, scalar [D]
        Standard deviation of strips about the line.
    separate : dict of str to Measure
        Trends with films, age [D per day] and replenisher [D per l] told apart, where given; ``ILL_DEFINED``
        where they went along with each other too closely.
    """

    trend: Measure
    films_to_limit: Measure
    limit: float | None
    observed: tuple[float, float] | None
    start: Measure
    scatter: float | None
    separate: dict[str, Measure]

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "trend": self.trend.to_dict(),
            "films_to_limit": self.films_to_limit.to_dict(),
            "limit": self.limit,
            "observed": list(self.observed) if self.observed else None,
            "start": self.start.to_dict(),
            "scatter": self.scatter,
            "separate": {name: each.to_dict() for name, each in self.separate.items()},
        }


def batch_life(
    films: Sequence[float],
    deviations: Sequence[float],
    action_limits: tuple[float, float],
    *,
    batch: Sequence | None = None,
    others: Mapping[str, Sequence[float]] | None = None,
) -> BatchLife:
    """Trend and life of a developer batch from one quantity of its control strips.

    Parameters
    ----------
    films : sequence of float, shape (n,) [film]
        Films through the batch when each strip was processed.
    deviations : sequence of float, shape (n,) [D]
        Strip less aim.
    action_limits : tuple of float, shape (2,) [D]
        Lower and upper action limit, as deviations from the aim.
    batch : sequence or None, shape (n,) [label]
        Batches of developer, each with a start of its own and all with one trend; the life is that of the
        batch of the last strip.
    others : mapping of str to sequence of float, shape (n,) [days] or [l]
        ``age_days`` and ``replenisher_l`` of each strip's batch by then.

    Returns
    -------
    BatchLife

    Raises
    ------
    SensitometryError
        For lists of unequal length, limits on one side of the aim, or another cause.

    Examples
    --------
    >>> films, fall = [0, 4, 8, 12, 16, 20], [0.00, -0.02, -0.05, -0.06, -0.09, -0.11]
    >>> life = batch_life(films, fall, (-0.09, 0.09))
    >>> round(life.films_to_limit.value, 1), life.films_to_limit.unit
    (16.4, 'film')
    """
    x, y = usable_points(films), usable_points(deviations)
    low, high = action_limits
    if not (is_usable(low, high) and low < 0 < high):
        raise SensitometryError(
            "IMPOSSIBLE_LIMITS", "Give a lower limit below and an upper one above the aim."
        )
    labels = ["" for _ in x] if batch is None else [str(each) for each in batch]
    more = {name: usable_points(values) for name, values in (others or {}).items()}
    if not set(more) <= set(CAUSES) - {"films"}:
        raise SensitometryError("UNKNOWN_CAUSE", "Other causes are age_days and replenisher_l.")
    if any(len(each) != x.size for each in (y, labels, *more.values())):
        raise SensitometryError(
            "LENGTHS_DIFFER", "Give one number of films, and one of all else, for each strip."
        )
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    _, group = np.unique(np.array(labels)[known], return_inverse=True)
    if not _tells(x, group):
        return _unknown(x, more)
    more = {name: values[known] for name, values in more.items()}
    return _life(x, y, group, (low, high), _separate(x, y, group, more))


def _tells(x: np.ndarray, group: np.ndarray) -> bool:
    batches = int(group.max(initial=-1)) + 1
    if x.size - batches < FEWEST_STRIPS - 1 or np.unique(x).size < FEWEST_COUNTS:
        return False
    within = x - (np.bincount(group, x) / np.bincount(group))[group]
    return float(within @ within) > 1e-9


def _unknown(x: np.ndarray, more) -> BatchLife:
    note = f"at least {FEWEST_STRIPS} strips at {FEWEST_COUNTS} numbers of films are needed"
    units = {"trend_per_film": CAUSES["films"], "films_to_limit": "film", "fresh_deviation": "D"}
    units |= {f"trend_with_{name}": CAUSES[name] for name in ("films", *more) if more}
    trend, life, start, *separate = (
        withheld(name, "TOO_FEW_STRIPS", unit, note) for name, unit in units.items()
    )
    observed = (float(x.min()), float(x.max())) if x.size else None
    by_cause = dict(zip(("films", *more), separate, strict=False))
    return BatchLife(trend, life, None, observed, start, None, by_cause)


def _least_squares(columns: np.ndarray, y: np.ndarray):
    """Coefficients, their covariance, degrees of freedom and residual standard deviation."""
    inverse = np.linalg.inv(columns.T @ columns)
    coefficients = inverse @ columns.T @ y
    degrees = y.size - columns.shape[1]
    residual = y - columns @ coefficients
    variance = float(residual @ residual) / degrees
    return coefficients, variance * inverse, degrees, math.sqrt(variance)


def _life(x, y, group, limits, separate) -> BatchLife:
    # From the fewest films on; one column for each batch's start, the last strip's batch first.
    origin = float(x.min())
    own = np.roll(group[:, None] == np.unique(group), -int(group[-1]), axis=1).astype(float)
    columns = np.column_stack([own[:, :1], x - origin, own[:, 1:]])
    coefficients, covariance, degrees, scatter = _least_squares(columns, y)
    t = float(stdtrit(degrees, 0.975))
    start, slope = float(coefficients[0]), float(coefficients[1])
    start_reach, slope_reach = (t * math.sqrt(covariance[i, i]) for i in (0, 1))
    note = f"{y.size} strips, straight line"
    trend = Measure(
        "trend_per_film", slope, slope - slope_reach, slope + slope_reach, CAUSES["films"], None, note
    )
    limit = limits[0] if slope < 0 else limits[1]
    observed = (origin, float(x.max()))
    return BatchLife(
        trend,
        _meeting(trend, start, covariance[:2, :2], t, limit, observed),
        limit if not trend.low <= 0 <= trend.high else None,
        observed,
        Measure("fresh_deviation", start, start - start_reach, start + start_reach, "D", None, note),
        scatter,
        separate,
    )


def _meeting(trend: Measure, start: float, covariance, t: float, limit: float, observed) -> Measure:
    """Where the line meets the limit, with Fieller's interval, both within what was observed."""
    name, unit = "films_to_limit", "film"
    if trend.low <= 0 <= trend.high:
        return withheld(name, "NO_TREND", unit)
    least, most = observed
    slope, short = trend.value, limit - start
    at = short / slope
    if at < 0:
        return withheld(name, "BELOW_RANGE", unit, "past the limit from the first strip on")
    if least + at > most:
        return withheld(name, "NOT_MET", unit, f"not met within {most:g} films")
    # All x with (slope x - short)^2 <= t^2 var(start + slope x): a quadratic, bounded as the slope is sure.
    a = slope**2 - t**2 * covariance[1, 1]
    b = slope * short + t**2 * covariance[0, 1]
    c = short**2 - t**2 * covariance[0, 0]
    root = math.sqrt(max(b**2 - a * c, 0.0))
    low, high = least + (b - root) / a, least + (b + root) / a
    value = least + at
    is_open = high > most
    note = f"interval open beyond {most:g} films" if is_open else "where the line meets the action limit"
    return Measure(name, value, min(max(low, least), value), None if is_open else high, unit, None, note)


def _separate(x, y, group, more: Mapping[str, np.ndarray]) -> dict[str, Measure]:
    if not more:
        return {}
    causes = {"films": x, **more}
    known = np.logical_and.reduce([np.isfinite(values) for values in causes.values()])
    own = (group[known, None] == np.unique(group[known])).astype(float)
    told = np.column_stack([values[known] for values in causes.values()])
    names = list(causes)
    has_enough = known.sum() - own.shape[1] - len(names) >= FEWEST_STRIPS - 2
    inflation = _inflation(own, told) if has_enough else None
    if inflation is None:
        return {
            name: withheld(
                f"trend_with_{name}", "ILL_DEFINED", CAUSES[name], "they went along with each other"
            )
            for name in names
        }
    columns = np.column_stack([told, own])
    coefficients, covariance, degrees, _ = _least_squares(columns, y[known])
    t = float(stdtrit(degrees, 0.975))
    made = {}
    for i, name in enumerate(names):
        value, reach = float(coefficients[i]), t * math.sqrt(covariance[i, i])
        note = f"the others held; variance {inflation[i]:.1f} times that of a cause on its own"
        made[name] = Measure(
            f"trend_with_{name}", value, value - reach, value + reach, CAUSES[name], None, note
        )
    return made


def _inflation(own: np.ndarray, told: np.ndarray) -> np.ndarray | None:
    """How much the variance of each trend grows by what causes share; None where they are not told apart."""
    basis, _ = np.linalg.qr(own)
    within = told - basis @ (basis.T @ told)
    size = np.linalg.norm(within, axis=0)
    correlation = (within / np.maximum(size, 1e-12)).T @ (within / np.maximum(size, 1e-12))
    if size.min() < 1e-9 or np.linalg.cond(correlation) > 1e8:
        return None
    inflation = np.diag(np.linalg.inv(correlation))
    return None if inflation.max() > MOST_INFLATION else inflation
