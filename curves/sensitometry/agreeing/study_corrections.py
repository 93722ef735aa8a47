"""What a study proposes for an instrument, and how two instruments of a study compare.

The reference is an instrument, the certified densities of the strip, or the consensus: the median of all
instruments, which says only that they differ and not which one is right.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.agreeing.difference_plot import DifferencePlot, difference_plot
from curves.sensitometry.agreeing.instrument_correction import Correction, instrument_correction
from curves.sensitometry.agreeing.study_readings import StepMeans, StudyReading, step_means
from curves.sensitometry.intervals import measure_with_error
from curves.sensitometry.measures import withheld

FEWEST_FOR_CONSENSUS = 3
# Standard error of a median over that of the mean, for normal errors in large samples.
MEDIAN_FACTOR = math.sqrt(math.pi / 2)


@dataclass(frozen=True, slots=True)
class Comparison:
    """An instrument against a reference over the steps that both have.

    Parameters
    ----------
    steps : tuple of int
        Steps used.
    readings, reference : ndarray, shape (n,) [D]
        Means of either.
    correction : Correction
        What would take the instrument to the reference, or why there is none.
    plot : DifferencePlot
        Instrument less reference.
    member_sd : float or None, scalar [D]
        Standard deviation between members that is in the offset's error; 0 where the same members read
        both, None where nothing tells it.
    """

    steps: tuple[int, ...]
    readings: np.ndarray
    reference: np.ndarray
    correction: Correction
    plot: DifferencePlot
    member_sd: float | None


def consensus(readings: Sequence[StudyReading]) -> StepMeans | None:
    """Median of the instruments at every step that all of them have read.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        Of the whole study.

    Returns
    -------
    StepMeans or None
        None with fewer than three instruments: the middle of two is neither.
    """
    every = [step_means(readings, name) for name in sorted({each.instrument for each in readings})]
    if len(every) < FEWEST_FOR_CONSENSUS:
        return None
    steps = set.intersection(*(set(each.means) for each in every))
    means = {step: float(np.median([each.means[step] for each in every])) for step in sorted(steps)}
    sds = [each.sd for each in every]
    sd = None
    if None not in sds:
        sd = MEDIAN_FACTOR * math.sqrt(float(np.mean(np.square(sds))) / len(sds))
    return StepMeans(means, sd, frozenset().union(*(each.members for each in every)))


def certified(densities: Mapping[int, float], sd: float) -> StepMeans:
    """The strip's certified densities as a reference.

    Parameters
    ----------
    densities : mapping of int to float [D]
        By step.
    sd : float, scalar [D]
        Their standard uncertainty.

    Returns
    -------
    StepMeans
    """
    return StepMeans(dict(densities), max(sd, 1e-4), frozenset())


def compared(readings: Sequence[StudyReading], instrument: str, reference: StepMeans) -> Comparison:
    """Compare an instrument with a reference, and propose a correction.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        Of the whole study.
    instrument : str
        Which instrument.
    reference : StepMeans
        What it is held against [D].

    Returns
    -------
    Comparison
        The error of the proposed offset holds what is known of the spread between members, unless the same
        members read both.
    """
    own = step_means(readings, instrument)
    steps = tuple(step for step in own.means if step in reference.means)
    x = np.array([own.means[step] for step in steps])
    y = np.array([reference.means[step] for step in steps])
    correction = instrument_correction(x, y, reading_sd=own.sd, reference_sd=reference.sd)
    member_sd = 0.0
    if own.members != reference.members:
        member_sd = between_members(readings)
        counts = [len(each) for each in (own.members, reference.members) if each]
        correction = _widened(correction, (member_sd or 0.0) ** 2 * sum(1 / count for count in counts))
    return Comparison(steps, x, y, correction, difference_plot(x, y), member_sd)


def no_comparison(reason: str, note: str) -> Comparison:
    """A comparison that cannot be made, with the reason.

    Parameters
    ----------
    reason : str
        Code out of `codes.REASONS`.
    note : str
        In a few words.

    Returns
    -------
    Comparison
        Without steps; readings of shape (0,) [D].
    """
    offset, slope = (withheld(name, reason, unit, note) for name, unit in _PARTS)
    correction = Correction(offset, slope, None, None, 0, None, None, "none")
    blank = np.empty(0)
    return Comparison((), blank, blank, correction, difference_plot(blank, blank), None)


_PARTS = (("correction_offset", "D"), ("correction_slope", ""))


def between_members(readings: Sequence[StudyReading]) -> float | None:
    """Standard deviation between members who read with the same instrument.

    Parameters
    ----------
    readings : sequence of StudyReading, length n [D]
        Of the whole study.

    Returns
    -------
    sd : float or None, scalar [D]
        None where no instrument was read by two members.
    """
    squares, degrees = 0.0, 0
    for name in {each.instrument for each in readings}:
        own = [each for each in readings if each.instrument == name]
        members = sorted({each.member for each in own})
        by_member = [step_means([each for each in own if each.member == one], name) for one in members]
        shared = set.intersection(*(set(each.means) for each in by_member))
        if len(members) < 2 or not shared:
            continue
        levels = [float(np.mean([each.means[step] for step in shared])) for each in by_member]
        noise = np.mean([(each.sd or 0.0) ** 2 for each in by_member]) / len(shared)
        squares += (len(members) - 1) * max(float(np.var(levels, ddof=1)) - float(noise), 0.0)
        degrees += len(members) - 1
    return math.sqrt(squares / degrees) if degrees else None


def _widened(correction: Correction, variance: float) -> Correction:
    """The correction with more error in its offset."""
    if not correction.is_known or variance <= 0:
        return correction
    (of_offset, shared), slope_row = correction.covariance
    of_offset += variance
    offset = correction.offset
    note = "; ".join(part for part in (offset.note, "with the spread between members") if part)
    return replace(
        correction,
        offset=measure_with_error("correction_offset", offset.value, math.sqrt(of_offset), "D", note),
        covariance=((of_offset, shared), slope_row),
    )


def with_reference_error(comparison: Comparison, covariance) -> Comparison:
    """The comparison where the reference was itself corrected, with the error of that.

    Parameters
    ----------
    comparison : Comparison
        Against the corrected readings of the reference [D].
    covariance : array_like, shape (2, 2) [D squared, D, 1]
        Of offset and slope of the reference's own correction.

    Returns
    -------
    Comparison
        The two errors added; both instruments read about the same density, so the lines' errors add as they
        are.
    """
    correction = comparison.correction
    if not correction.is_known:
        return comparison
    added = np.array(correction.covariance) + np.asarray(covariance, dtype=float)
    corrected = replace(
        correction,
        offset=measure_with_error(
            "correction_offset", correction.offset.value, math.sqrt(added[0, 0]), "D", correction.offset.note
        ),
        slope=measure_with_error(
            "correction_slope", correction.slope.value, math.sqrt(added[1, 1]), "", correction.slope.note
        ),
        covariance=tuple(tuple(row) for row in added.tolist()),
    )
    return replace(comparison, correction=corrected)
