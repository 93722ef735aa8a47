"""Gauge studies: how much of what is read comes from the reader and the instrument, and not from the film.

Several operators read the same parts several times. By analysis of variance (the interaction is pooled with
the repetition where its p exceeds 0.25), or by the mean range; each result names its method.

References
----------
Measurement Systems Analysis, reference manual of the automotive industry's action group, from memory.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from curves.sensitometry.controlling.control_constants import LARGEST, control_constants, mean_range_constant
from curves.sensitometry.controlling.variance_intervals import (
    deviation_measure,
    variance_difference_interval,
    variance_sum_interval,
)
from curves.sensitometry.intervals import GREATEST
from curves.sensitometry.measures import Measure, SensitometryError

POOLED_ABOVE = 0.25  # p of the interaction
MANY_RANGES = 15  # from here on the printed tables use d2 itself
NAME = "gauge_component"


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """What a gauge study found.

    Parameters
    ----------
    method : str
        ``anova``, ``anova pooled`` or ``range``.
    components : dict of str to Measure
        Standard deviations [unit]: ``repeatability`` (equipment), ``operators`` (appraisers),
        ``interaction`` (not by the range method), ``gauge`` (all these), ``parts`` and ``total``.
    shares : dict of str to float, scalars [%]
        Each standard deviation as a percentage of the total one; they do not add up to 100.
    distinct : int or None, scalar [count]
        Groups of parts that the gauge can tell apart: 1.41 times parts over gauge, cut.
    interaction_f, interaction_p : float or None, scalars [1], [probability]
        Test of the interaction; None by the range method.
    """

    method: str
    components: dict[str, Measure]
    shares: dict[str, float]
    distinct: int | None
    interaction_f: float | None
    interaction_p: float | None

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "method": self.method,
            "components": {name: each.to_dict() for name, each in self.components.items()},
            "shares": dict(self.shares),
            "distinct": self.distinct,
            "interaction_f": self.interaction_f,
            "interaction_p": self.interaction_p,
        }


def gauge_study(readings, *, method: str = "anova", unit: str = "D") -> GaugeStudy:
    """A crossed study, every operator reading every part equally often.

    Parameters
    ----------
    readings : array_like, shape (parts, operators, repetitions) [unit]
        At least two of each; none may be missing (`variance_components` serves unequal numbers).
    method : str
        ``anova`` or ``range``.
    unit : str
        Unit of the readings.

    Returns
    -------
    GaugeStudy
        Intervals by the analysis of variance only.

    Raises
    ------
    SensitometryError
        For another shape, a missing reading or an unknown method.
    """
    try:
        table = np.array(readings, dtype=float)
    except (TypeError, ValueError):
        raise SensitometryError("BAD_SHAPE", "Every operator must read every part equally often.") from None
    if table.ndim != 3 or min(table.shape) < 2 or not (np.abs(table) < GREATEST).all():
        raise SensitometryError(
            "BAD_SHAPE", "Give parts by operators by repetitions, two or more of each, none missing."
        )
    if method == "anova":
        return _by_variance(table, unit)
    if method == "range" and max(table.shape) <= LARGEST:
        return _by_range(table, unit)
    raise SensitometryError("UNKNOWN_METHOD", f"Choose anova, or range with at most {LARGEST} of each.")


def _by_variance(table: np.ndarray, unit: str) -> GaugeStudy:
    parts, operators, times = table.shape
    grand = table.mean()
    of_parts, of_operators, of_cells = table.mean(axis=(1, 2)), table.mean(axis=(0, 2)), table.mean(axis=2)
    squares = {
        "parts": operators * times * float(np.sum((of_parts - grand) ** 2)),
        "operators": parts * times * float(np.sum((of_operators - grand) ** 2)),
        "error": float(np.sum((table - of_cells[:, :, None]) ** 2)),
    }
    interaction = of_cells - of_parts[:, None] - of_operators + grand
    squares["interaction"] = times * float(np.sum(interaction**2))
    degrees = {
        "parts": parts - 1,
        "operators": operators - 1,
        "interaction": (parts - 1) * (operators - 1),
        "error": parts * operators * (times - 1),
    }
    mean = {name: squares[name] / degrees[name] for name in squares}
    ratio = mean["interaction"] / mean["error"] if mean["error"] > 1e-24 else math.inf
    p_value = float(fdtrc(degrees["interaction"], degrees["error"], ratio)) if ratio < math.inf else 0.0
    is_pooled = p_value > POOLED_ABOVE
    if is_pooled:
        degrees["error"] += degrees["interaction"]
        mean["error"] = (squares["error"] + squares["interaction"]) / degrees["error"]
    components = _components(mean, degrees, table.shape, is_pooled, unit)
    method = "anova pooled" if is_pooled else "anova"
    return _study(method, components, ratio if ratio < math.inf else None, p_value)


def _components(mean, degrees, shape, is_pooled: bool, unit: str) -> dict[str, Measure]:
    parts, operators, times = shape
    per_operator, per_part = parts * times, operators * times
    # What operators and parts are tested against: pooled, the error takes the interaction's place.
    against = "error" if is_pooled else "interaction"

    def difference(of: str, less: str, count: int) -> Measure:
        ends = variance_difference_interval(mean[of], mean[less], degrees[of], degrees[less])
        variance = max(mean[of] - mean[less], 0.0) / count
        return deviation_measure(NAME, variance, (ends[0] / count, ends[1] / count), unit)

    error_ends = variance_sum_interval([mean["error"]], [degrees["error"]])
    found = {
        "repeatability": deviation_measure(NAME, mean["error"], error_ends, unit),
        "operators": difference("operators", against, per_operator),
    }
    if is_pooled:
        found["interaction"] = Measure(NAME, 0.0, unit=unit, note="pooled: p above 0.25")
        terms = [("operators", 1 / per_operator), ("error", 1 - 1 / per_operator)]
    else:
        found["interaction"] = difference("interaction", "error", times)
        terms = [
            ("operators", 1 / per_operator),
            ("interaction", 1 / times - 1 / per_operator),
            ("error", 1 - 1 / times),
        ]
    gauge_ends = variance_sum_interval(
        [factor * mean[name] for name, factor in terms], [degrees[name] for name, _ in terms]
    )
    gauge = sum(found[name].value ** 2 for name in ("repeatability", "operators", "interaction"))
    found["gauge"] = deviation_measure(NAME, gauge, gauge_ends, unit)
    found["parts"] = difference("parts", against, per_part)
    total = math.sqrt(gauge + found["parts"].value ** 2)
    found["total"] = Measure(NAME, total, unit=unit, note="root of the sum of squares")
    return found


def _by_range(table: np.ndarray, unit: str) -> GaugeStudy:
    parts, operators, times = table.shape
    mean_range = float(np.ptp(table, axis=2).mean())
    samples = parts * operators
    divisor = control_constants(times).d2 if samples > MANY_RANGES else mean_range_constant(times, samples)
    repeatability = mean_range / divisor
    between = float(np.ptp(table.mean(axis=(0, 2)))) / mean_range_constant(operators, 1)
    operator = math.sqrt(max(between**2 - repeatability**2 / (parts * times), 0.0))
    part = float(np.ptp(table.mean(axis=(1, 2)))) / mean_range_constant(parts, 1)
    gauge = math.hypot(repeatability, operator)
    values = {
        "repeatability": repeatability,
        "operators": operator,
        "gauge": gauge,
        "parts": part,
        "total": math.hypot(gauge, part),
    }
    note = "range method; no interval"
    components = {name: Measure(NAME, value, unit=unit, note=note) for name, value in values.items()}
    return _study("range", components, None, None)


def _study(method, components, ratio, p_value) -> GaugeStudy:
    total, gauge = components["total"].value, components["gauge"].value
    shares = {name: 100 * each.value / total if total > 0 else 0.0 for name, each in components.items()}
    distinct = int(1.41 * components["parts"].value / gauge) if gauge > 1e-12 else None
    return GaugeStudy(method, components, shares, distinct, ratio, p_value)
