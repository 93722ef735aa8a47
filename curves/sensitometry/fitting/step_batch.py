"""Averaged steps of several rolls side by side, as the fitting code wants them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.fitting.step_table import StepTable

# The unexposed area enters as a step this far below the first: any form has reached its base there.
BASE_DISTANCE = 50.0


@dataclass(frozen=True, slots=True)
class StepBatch:
    """Averaged step data of several curves, padded to equal length by rows of weight 0.

    Parameters
    ----------
    origin : ndarray, shape (b,) [log10 lx s]
        First step; all exposures below are counted from it, so that a shift of the axis changes nothing.
    log_exposure : ndarray, shape (b, n) [log10]
        Exposure; rows of the unexposed area stand far below the first step.
    level : ndarray, shape (b,) [D]
        Density that those below are counted from, so that a constant added to all changes nothing.
    density : ndarray, shape (b, n) [D]
        Mean density above the level.
    weight : ndarray, shape (b, n) [1]
        Number of readings averaged; 0 for padding and for readings left out.
    is_base : ndarray of bool, shape (b, n)
        Whether the row is the unexposed area.
    low, high : ndarray, shape (b,) [log10]
        First and last exposed step.
    prior_dof, prior_variance : ndarray, shape (b,) [1], [D^2]
        What is known beforehand of the variance of one reading.
    least_variance : ndarray, shape (b,) [D^2]
        Variance of rounding, below which the noise cannot be.
    tablet_sd : ndarray, shape (b,) [log10 lx s]
        Calibration error of each step of the tablet.
    strip_error : ndarray, shape (b,) [log10 lx s]
        Standard error of the mean exposure of the strips, from their spread.
    shared : ndarray, shape (b, s, n) [D]
        What the densities err by together, a row a standard deviation; 0 where nothing is shared.
    """

    origin: np.ndarray
    log_exposure: np.ndarray
    level: np.ndarray
    density: np.ndarray
    weight: np.ndarray
    is_base: np.ndarray
    low: np.ndarray
    high: np.ndarray
    prior_dof: np.ndarray
    prior_variance: np.ndarray
    least_variance: np.ndarray
    tablet_sd: np.ndarray
    strip_error: np.ndarray
    shared: np.ndarray

    def rows(self, chosen) -> "StepBatch":
        """The curves chosen by an index, shape (b',)."""
        return StepBatch(*(getattr(self, name)[chosen] for name in StepBatch.__slots__))


def batch_of(tables: Sequence[StepTable], tablet_sds: Sequence[float | None]) -> StepBatch:
    """Put step tables side by side, the unexposed area first.

    Parameters
    ----------
    tables : sequence of StepTable, length b
        Steps of each roll [log10 lx s, D].
    tablet_sds : sequence of float or None, shape (b,) [log10 lx s]
        Calibration error of the tablet of each roll.

    Returns
    -------
    StepBatch
        Rows of shape (b, n), n one more than the longest table.
    """
    shape = (len(tables), max(len(table.log_exposure) for table in tables) + 1)
    exposure, density, weight = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    is_base = np.zeros(shape, dtype=bool)
    is_base[:, 0] = True
    shared = np.zeros((shape[0], max(len(table.shared) for table in tables), shape[1]))
    ends = np.array([table.log_exposure[table.is_used][[0, -1]] for table in tables])
    exposure[:, 0] = -BASE_DISTANCE
    bases = [table.base_mean for table in tables]
    lowest = [table.density[table.is_used].min() for table in tables]
    level = np.array([low if base is None else base for base, low in zip(bases, lowest, strict=True)])
    for k, table in enumerate(tables):
        row = slice(1, len(table.log_exposure) + 1)
        weight[k, 0] = table.base_count
        exposure[k, row], density[k, row] = table.log_exposure - ends[k, 0], table.density - level[k]
        weight[k, row] = table.count * table.is_used
        shared[k, : len(table.shared), row] = table.shared
        shared[k, : len(table.shared), 0] = table.base_shared
    return StepBatch(
        origin=ends[:, 0],
        log_exposure=exposure,
        level=level,
        density=density,
        weight=weight,
        is_base=is_base,
        low=np.zeros(len(tables)),
        high=ends[:, 1] - ends[:, 0],
        prior_dof=np.array([table.prior_dof for table in tables]),
        prior_variance=np.array([table.prior_variance for table in tables]),
        least_variance=np.array([table.least_variance for table in tables]),
        tablet_sd=np.array([sd or 0.0 for sd in tablet_sds]),
        strip_error=np.array([table.strips.error if table.strips else 0.0 for table in tables]),
        shared=shared,
    )
