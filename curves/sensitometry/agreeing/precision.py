"""Repeatability and reproducibility of a density that several members or instruments read.

References
----------
ISO 5725-2, 7.2 to 7.5 (from memory): one-way analysis with unequal numbers of readings, Mandel's h and k.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.agreeing.mandel import GroupReadings, group_readings
from curves.sensitometry.agreeing.outlier_tests import OutlierTest, cochran_test, grubbs_tests
from curves.sensitometry.controlling.variance_intervals import (
    deviation_measure,
    variance_difference_interval,
    variance_sum_interval,
)
from curves.sensitometry.controlling.within_spread import usable_points
from curves.sensitometry.measures import Measure, SensitometryError, withheld

LIMIT_FACTOR = 2.8  # 1.96 times the root of two: two readings differ by less in 95 of 100 cases
# House pass for densitometers [D].
HOUSE_REPEATABILITY, HOUSE_REPRODUCIBILITY = 0.01, 0.02


@dataclass(frozen=True, slots=True)
class Precision:
    """Repeatability and reproducibility.

    Parameters
    ----------
    mean, repeatability_sd, between_sd, reproducibility_sd : Measure
        [unit], with 95 % intervals.
    repeatability_limit, reproducibility_limit : Measure
        [unit], 2.8 times the standard deviation: two readings by the same, or by two, differ by more in
        one of twenty cases.
    groups : tuple of GroupReadings
        By member or instrument.
    tests : tuple of OutlierTest
        Cochran's and Grubbs'; their numbers count the groups. Nothing is left out by itself.
    left_out : tuple of str
        Labels that the caller left out.
    """

    mean: Measure
    repeatability_sd: Measure
    between_sd: Measure
    reproducibility_sd: Measure
    repeatability_limit: Measure
    reproducibility_limit: Measure
    groups: tuple[GroupReadings, ...]
    tests: tuple[OutlierTest, ...]
    left_out: tuple[str, ...]

    @property
    def passes_house_limits(self) -> bool | None:
        """Whether both standard deviations keep the house limits for densitometers, 0.01 and 0.02 D."""
        if self.repeatability_sd.value is None or self.reproducibility_sd.value is None:
            return None
        return (
            self.repeatability_sd.value <= HOUSE_REPEATABILITY
            and self.reproducibility_sd.value <= HOUSE_REPRODUCIBILITY
        )

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        measures = self.__slots__[:6]
        return {
            **{name: getattr(self, name).to_dict() for name in measures},
            "groups": [group.to_dict() for group in self.groups],
            "tests": [test.to_dict() for test in self.tests],
            "left_out": list(self.left_out),
            "passes_house_limits": self.passes_house_limits,
        }


def repeatability_and_reproducibility(
    labels: Sequence[str], values, *, left_out: Sequence[str] = (), unit: str = "D"
) -> Precision:
    """Precision of readings of one and the same density by several members or instruments.

    Parameters
    ----------
    labels : sequence of str, shape (n,)
        Who or what read.
    values : array_like, shape (n,) [unit]
        Readings; missing ones are passed over. Unequal numbers by label are allowed.
    left_out : sequence of str
        Labels to leave out, after a test and for a reason known.
    unit : str
        Unit of the readings.

    Returns
    -------
    Precision
        Withheld with ``TOO_FEW_LABS`` below two labels, or where nobody read twice.

    Raises
    ------
    SensitometryError
        When the lists differ in length.

    Examples
    --------
    >>> result = repeatability_and_reproducibility(["a", "a", "b", "b"], [0.70, 0.72, 0.66, 0.68])
    >>> round(result.repeatability_sd.value, 4)
    0.0141
    """
    values = usable_points(values)
    if len(labels) != values.size:
        raise SensitometryError("LENGTHS_DIFFER", "Give a label for each reading.")
    readings: dict[str, list[float]] = {}
    for label, value in zip(labels, values.tolist(), strict=True):
        if math.isfinite(value) and label not in left_out:
            readings.setdefault(str(label), []).append(value)
    sets = [np.array(each) for each in readings.values()]
    sizes = np.array([each.size for each in sets], dtype=float)
    if len(sets) < 2 or not (sizes > 1).any():
        return _withheld(unit, tuple(left_out))
    variances = [float(each.var(ddof=1)) if each.size > 1 else 0.0 for each in sets]
    means = np.array([each.mean() for each in sets])
    return Precision(
        *_measures(sizes, means, np.array(variances), unit),
        group_readings(list(readings), sizes, means, variances),
        (cochran_test(variances, sizes.astype(int).tolist()), *grubbs_tests(means)),
        tuple(left_out),
    )


def _withheld(unit: str, left_out: tuple[str, ...]) -> Precision:
    names = ("precision_mean", *_NAMES)
    return Precision(*(withheld(name, "TOO_FEW_LABS", unit) for name in names), (), (), left_out)


_NAMES = (
    "repeatability_sd",
    "between_sd",
    "reproducibility_sd",
    "repeatability_limit",
    "reproducibility_limit",
)


def _measures(sizes, means, variances, unit: str) -> list[Measure]:
    count, total = sizes.size, float(sizes.sum())
    within_degrees = total - count
    within = float((sizes - 1) @ variances) / within_degrees
    grand = float(sizes @ means) / total
    typical = (total - float(sizes @ sizes) / total) / (count - 1)
    between_square = float(sizes @ (means - grand) ** 2) / (count - 1)
    between = max(0.0, (between_square - within) / typical)
    # Intervals by unweighted means, whose mean square is nearly a chi-square for any numbers of readings.
    harmonic = count / float(np.sum(1 / sizes))
    of_means = float(means.var(ddof=1))
    sum_ends = variance_sum_interval([of_means, (1 - 1 / harmonic) * within], [count - 1, within_degrees])
    between_ends = variance_difference_interval(harmonic * of_means, within, count - 1, within_degrees)
    within_ends = variance_sum_interval([within], [within_degrees])
    note = f"{count} members, {total:g} readings"
    variances_and_ends = (
        (within, within_ends, 1.0),
        (between, (between_ends[0] / harmonic, between_ends[1] / harmonic), 1.0),
        (between + within, sum_ends, 1.0),
        (within, within_ends, LIMIT_FACTOR),
        (between + within, sum_ends, LIMIT_FACTOR),
    )
    reach = float(stdtrit(count - 1, 0.975)) * math.sqrt(of_means / count)
    # About the weighted mean; the interval is that of the unweighted one, which differs little.
    mean = Measure("precision_mean", grand, grand - reach, grand + reach, unit, None, note)
    return [
        mean,
        *(
            deviation_measure(name, variance, ends, unit, factor, note)
            for name, (variance, ends, factor) in zip(_NAMES, variances_and_ends, strict=True)
        ),
    ]
