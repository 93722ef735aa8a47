"""Repeatability and reproducibility of a study, step by step and over all steps, with what was set aside.

By ISO 5725-2, 7.3: at each step Cochran's test on the spread of each member's readings, then Grubbs' on the
means. Who lies beyond the 1 % value is set aside at that step, one at a time, and the rest is tested again.
House rules: only where it matters to a densitometer, and only while three or more are left; and Cochran's
test is given the rounding of the display with each variance, or readings that repeat to the digit would make
an outlier of whoever is a digit or two off.

References
----------
ISO 5725-2, 7.2 to 7.5 (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.agreeing.outlier_tests import OutlierTest, cochran_test, grubbs_tests
from curves.sensitometry.agreeing.precision import (
    HOUSE_REPEATABILITY,
    HOUSE_REPRODUCIBILITY,
    Precision,
    repeatability_and_reproducibility,
)
from curves.sensitometry.agreeing.study_readings import StudyReading, display_step
from curves.sensitometry.controlling.variance_intervals import deviation_measure, variance_sum_interval
from curves.sensitometry.measures import Measure, withheld

FEWEST_LEFT = 3
SINGLE_TESTS = ("grubbs_high", "grubbs_low")
# Who, by which test, and whether it matters.
Found = tuple[str, OutlierTest, bool]


@dataclass(frozen=True, slots=True)
class SetAside:
    """Somebody's readings of one step that a test found apart from the others'.

    Parameters
    ----------
    step : int, scalar [1]
        Where.
    group : str
        The member with the instrument.
    test : OutlierTest
        Which found it.
    """

    step: int
    group: str
    test: OutlierTest


@dataclass(frozen=True, slots=True)
class StepPrecision:
    """One step.

    Parameters
    ----------
    step : int, scalar [1]
        Which.
    precision : Precision
        Of what is left [D].
    of_all : Precision
        With nothing set aside [D].
    set_aside : tuple of SetAside
        Outliers.
    stragglers : tuple of SetAside
        Beyond the 5 % value only, or too little to matter: to be looked into, not set aside.
    """

    step: int
    precision: Precision
    of_all: Precision
    set_aside: tuple[SetAside, ...]
    stragglers: tuple[SetAside, ...]


@dataclass(frozen=True, slots=True)
class StudyPrecision:
    """The whole study.

    Parameters
    ----------
    steps : tuple of StepPrecision
        In the order of the steps.
    repeatability_sd, reproducibility_sd : Measure
        Over all steps [D], with what was set aside left out.
    repeatability_of_all, reproducibility_of_all : Measure
        The same with everything in [D].
    """

    steps: tuple[StepPrecision, ...]
    repeatability_sd: Measure
    reproducibility_sd: Measure
    repeatability_of_all: Measure
    reproducibility_of_all: Measure

    @property
    def set_aside(self) -> tuple[SetAside, ...]:
        """All that was set aside."""
        return tuple(each for step in self.steps for each in step.set_aside)

    @property
    def stragglers(self) -> tuple[SetAside, ...]:
        """All that is to be looked into."""
        return tuple(each for step in self.steps for each in step.stragglers)

    @property
    def passes_house_limits(self) -> bool | None:
        """Whether both keep the house limits for densitometers, 0.01 and 0.02 D; None where not known."""
        if self.repeatability_sd.value is None or self.reproducibility_sd.value is None:
            return None
        return (
            self.repeatability_sd.value <= HOUSE_REPEATABILITY
            and self.reproducibility_sd.value <= HOUSE_REPRODUCIBILITY
        )


def study_precision(readings: Sequence[StudyReading]) -> StudyPrecision:
    """Repeatability and reproducibility of all steps of a study.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        In any order; unequal numbers are allowed.

    Returns
    -------
    StudyPrecision
        Withheld with ``TOO_FEW_LABS`` where fewer than two read, or nobody twice.
    """
    by_step: dict[int, dict[str, list[float]]] = {}
    for each in sorted(readings, key=lambda one: (one.step, one.group)):
        by_step.setdefault(each.step, {}).setdefault(each.group, []).append(each.density)
    rounding = display_step(readings) ** 2 / 12 if readings else 0.0
    steps = tuple(_step_precision(step, groups, rounding) for step, groups in by_step.items())
    left = _over_steps([step.precision for step in steps])
    everything = _over_steps([step.of_all for step in steps])
    return StudyPrecision(steps, *left, *everything)


def _step_precision(step: int, groups: dict[str, list[float]], rounding: float) -> StepPrecision:
    set_aside, stragglers = [], []
    kept = dict(groups)
    for find in (_spread_outlier, _mean_outlier):
        while (found := find(kept, rounding)) is not None:
            group, test, matters = found
            told = SetAside(step, group, test)
            if test.verdict != "outlier" or not matters or len(kept) <= FEWEST_LEFT:
                stragglers.append(told)
                break
            set_aside.append(told)
            del kept[group]
    return StepPrecision(step, _precision(kept), _precision(groups), tuple(set_aside), tuple(stragglers))


def _precision(groups: dict[str, list[float]]) -> Precision:
    labels = [group for group, values in groups.items() for _ in values]
    return repeatability_and_reproducibility(labels, [value for each in groups.values() for value in each])


def _spread_outlier(groups: dict[str, list[float]], rounding: float) -> Found | None:
    """Whose readings lie too far from each other, and whether it is more than a densitometer may."""
    names = list(groups)
    variances = [float(np.var(groups[name], ddof=1)) if len(groups[name]) > 1 else 0.0 for name in names]
    test = cochran_test([each + rounding for each in variances], [len(groups[name]) for name in names])
    if test.verdict not in ("straggler", "outlier"):
        return None
    worst = test.groups[0]
    return names[worst], test, variances[worst] ** 0.5 > HOUSE_REPEATABILITY


def _mean_outlier(groups: dict[str, list[float]], _rounding: float) -> Found | None:
    """Whose mean lies too far from the others', and whether by more than a densitometer may."""
    names = list(groups)
    means = np.array([np.mean(groups[name]) for name in names])
    told = [test for test in grubbs_tests(means) if test.test in SINGLE_TESTS]
    told = [test for test in told if test.verdict in ("straggler", "outlier")]
    if not told:
        return None
    test = max(told, key=lambda each: each.statistic)
    worst = test.groups[0]
    away = abs(means[worst] - np.delete(means, worst).mean())
    return names[worst], test, bool(away > HOUSE_REPRODUCIBILITY)


def _over_steps(steps: Sequence[Precision]) -> tuple[Measure, Measure]:
    """Both standard deviations over all steps, from the members' means and spreads at each.

    The spread between members is as good as the number of members, however many steps: whoever reads high
    does so at most of them.
    """
    known = [step for step in steps if step.repeatability_sd.value is not None]
    names = ("repeatability_sd", "reproducibility_sd")
    if not known:
        return tuple(withheld(name, "TOO_FEW_LABS", "D") for name in names)
    degrees = sum(sum(group.readings - 1 for group in step.groups) for step in known)
    weights = [sum(group.readings - 1 for group in step.groups) for step in known]
    within = sum(w * step.repeatability_sd.value**2 for w, step in zip(weights, known, strict=True)) / degrees
    of_means = float(np.mean([np.var([group.mean for group in step.groups], ddof=1) for step in known]))
    inverse = float(np.mean([np.mean([1 / group.readings for group in step.groups]) for step in known]))
    between = max(of_means - inverse * within, 0.0)
    members = int(np.median([len(step.groups) for step in known]))
    ends = variance_sum_interval([of_means, (1 - inverse) * within], [members - 1, degrees])
    note = f"{len(known)} steps, {members} members with an instrument"
    low, high = min(ends[0], between + within), max(ends[1], between + within)
    return (
        deviation_measure(names[0], within, variance_sum_interval([within], [degrees]), "D", note=note),
        deviation_measure(names[1], between + within, (low, high), "D", note=note),
    )
