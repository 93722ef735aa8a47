"""The gauge study of a strip that went round: steps are the parts, members with instruments the operators.

Both methods need every operator to have read every part equally often, so what is not complete is left out
and told.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.agreeing.gauge_study import GaugeStudy, gauge_study
from curves.sensitometry.agreeing.study_readings import StudyReading, cells_of
from curves.sensitometry.controlling.control_constants import LARGEST
from curves.sensitometry.measures import SensitometryError

LEAST_SHARE = 0.5  # of the steps, which a member must have read twice to be taken in (house rule)


@dataclass(frozen=True, slots=True)
class StudyGauge:
    """Both gauge studies of the same readings.

    Parameters
    ----------
    anova, by_range : GaugeStudy or None
        None where there is none.
    withheld, range_withheld : str
        Why not, in a sentence; empty where there is one.
    steps, repetitions : int, scalars [count]
        What they rest on.
    groups, left_out : tuple of str
        Members with instruments that were taken in, and those whose readings are too few.
    """

    anova: GaugeStudy | None
    by_range: GaugeStudy | None
    withheld: str
    range_withheld: str
    steps: int
    repetitions: int
    groups: tuple[str, ...]
    left_out: tuple[str, ...]


def study_gauge(readings: Sequence[StudyReading]) -> StudyGauge:
    """Both gauge studies of what is complete among the readings.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        Repetitions in the order in which they were read.

    Returns
    -------
    StudyGauge
        Without a study and with the reason where fewer than two read two steps twice.
    """
    cells = {
        (f"{member} with {tool}", step): cell for (member, tool, step), cell in cells_of(readings).items()
    }
    every = sorted({group for group, _ in cells})
    all_steps = sorted({step for _, step in cells})

    def has_twice(group: str, step: int) -> bool:
        return len(cells.get((group, step), ())) >= 2

    groups = tuple(
        group
        for group in every
        if sum(has_twice(group, step) for step in all_steps) >= max(2, LEAST_SHARE * len(all_steps))
    )
    steps = [step for step in all_steps if all(has_twice(group, step) for group in groups)]
    left_out = tuple(group for group in every if group not in groups)
    if len(groups) < 2 or len(steps) < 2:
        text = "Two or more have to read the same steps at least twice each."
        return StudyGauge(None, None, text, text, 0, 0, groups, left_out)
    times = min(len(cells[group, step]) for group in groups for step in steps)
    table = np.array([[cells[group, step][:times] for group in groups] for step in steps])
    by_range, why = None, ""
    try:
        by_range = gauge_study(table, method="range")
    except SensitometryError:
        why = f"The range method goes up to {LARGEST} steps, members and repetitions."
    return StudyGauge(gauge_study(table), by_range, "", why, len(steps), times, groups, left_out)
