"""Readings of one strip that went round: who read which step with which instrument."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

FEWEST_DEGREES = 10  # below it an instrument's own repeatability is too uncertain, and that of all is taken


@dataclass(frozen=True, slots=True)
class StudyReading:
    """One reading of one step.

    Parameters
    ----------
    step : int, scalar [1]
        Step of the strip.
    member, instrument : str
        Who read, and with what.
    density : float, scalar [D]
        As read.
    """

    step: int
    member: str
    instrument: str
    density: float

    @property
    def group(self) -> str:
        """The member with the instrument: a laboratory, in the words of ISO 5725."""
        return f"{self.member} with {self.instrument}"


@dataclass(frozen=True, slots=True)
class SpreadWithin:
    """How far repeated readings of a step by one member with one instrument lie apart.

    Parameters
    ----------
    variance : float, scalar [D squared]
        Pooled, with the rounding of the display.
    degrees : int, scalar [1]
        Degrees of freedom; 0 where nobody read twice, and then the variance is not known.
    """

    variance: float
    degrees: int


def cells_of(readings: Iterable[StudyReading]) -> dict[tuple[str, str, int], list[float]]:
    """Readings by member, instrument and step.

    Parameters
    ----------
    readings : iterable of StudyReading, length n [D]
        In any order.

    Returns
    -------
    dict of tuple to list of float [D]
    """
    cells: dict[tuple[str, str, int], list[float]] = {}
    for each in readings:
        cells.setdefault((each.member, each.instrument, each.step), []).append(each.density)
    return cells


def spread_within(readings: Sequence[StudyReading], instrument: str | None = None) -> SpreadWithin:
    """Repeatability as a variance, of all readings or of an instrument's.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        In any order.
    instrument : str, optional
        An instrument with fewer than ten degrees of freedom of its own is given the variance of all.

    Returns
    -------
    SpreadWithin
    """
    chosen = [each for each in readings if instrument in (None, each.instrument)]
    cells = [np.array(cell) for cell in cells_of(chosen).values()]
    degrees = sum(cell.size - 1 for cell in cells)
    if instrument is not None and degrees < FEWEST_DEGREES:
        return spread_within(readings)
    if not degrees:
        return SpreadWithin(0.0, 0)
    squares = sum(float(np.sum((cell - cell.mean()) ** 2)) for cell in cells)
    # Readings that repeat to the last digit are still only known to that digit.
    return SpreadWithin(max(squares / degrees, display_step(chosen) ** 2 / 12), degrees)


def display_step(readings: Sequence[StudyReading]) -> float:
    """Last digit that the readings are given to.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        In any order.

    Returns
    -------
    step : float, scalar [D]
        0.01, 0.001, or a tenth of that where they have more digits.
    """
    densities = np.array([each.density for each in readings])
    for digits in (2, 3):
        if np.allclose(densities, np.round(densities, digits), atol=1e-9):
            return 10.0**-digits
    return 1e-4


@dataclass(frozen=True, slots=True)
class StepMeans:
    """What an instrument read of each step: the mean over its members of each one's mean.

    Parameters
    ----------
    means : dict of int to float [D]
        By step.
    sd : float or None, scalar [D]
        Standard uncertainty of such a mean from repeatability and rounding; None where nobody read twice.
    members : frozenset of str
        Who read with it.
    """

    means: dict[int, float]
    sd: float | None
    members: frozenset[str]


def step_means(readings: Sequence[StudyReading], instrument: str) -> StepMeans:
    """Mean density of every step as an instrument read it.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        Of the whole study.
    instrument : str
        Which instrument.

    Returns
    -------
    StepMeans
        Steps [1] and densities [D].
    """
    own = [each for each in readings if each.instrument == instrument]
    by_step: dict[int, list[float]] = {}
    counts = []
    for (_, _, step), cell in cells_of(own).items():
        by_step.setdefault(step, []).append(float(np.mean(cell)))
        counts.append(len(cell))
    means = {step: float(np.mean(by_step[step])) for step in sorted(by_step)}
    within = spread_within(readings, instrument)
    sd = None
    if within.degrees and counts:
        per_step = sum(counts) / len(means)
        sd = math.sqrt(within.variance / per_step + display_step(own) ** 2 / 12)
    return StepMeans(means, sd, frozenset(each.member for each in own))
