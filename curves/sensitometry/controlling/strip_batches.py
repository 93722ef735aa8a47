"""From one batch of control strips to the next: both read in the same runs, the difference carried over."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.controlling.aims import StripAims
from curves.sensitometry.controlling.control_strips import QUANTITIES, UNIT, ControlStrip, quantity_values
from curves.sensitometry.controlling.strip_aims import shifted_aims
from curves.sensitometry.measures import Measure, SensitometryError, withheld

FEWEST_OF_EACH = 3  # house rule: fewer leave the spread unknown


@dataclass(frozen=True, slots=True)
class CarriedOffset:
    """How a new batch of strips differs from the old one.

    Parameters
    ----------
    offsets : dict of str to Measure
        ``strip_offset`` [D], new less old by quantity, or why there is none.
    old_batch, new_batch : str
        The two batches.
    runs : int, scalar [count]
        Runs in which both were processed.
    """

    offsets: dict[str, Measure]
    old_batch: str
    new_batch: str
    runs: int

    def applied_to(self, aims: StripAims) -> StripAims:
        """The aims of the old batch, moved to the new one.

        Raises
        ------
        SensitometryError
            When the aims are those of another batch.
        """
        if aims.strip_batch != self.old_batch:
            raise SensitometryError("OTHER_STRIP_BATCH", "The aims are those of another batch of strips.")
        return shifted_aims(aims, self.offsets, self.new_batch)

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "offsets": {name: offset.to_dict() for name, offset in self.offsets.items()},
            "old_batch": self.old_batch,
            "new_batch": self.new_batch,
            "runs": self.runs,
        }


def carry_over(old: Sequence[ControlStrip], new: Sequence[ControlStrip]) -> CarriedOffset:
    """Difference of two batches of strips that were processed in the same runs.

    Parameters
    ----------
    old, new : sequence of ControlStrip
        Strips of each batch; their ``run`` says which were processed together, and those without say
        nothing.

    Returns
    -------
    CarriedOffset
        A quantity with fewer than three strips of each batch in shared runs is withheld with
        ``TOO_FEW_STRIPS``. Intervals are Student's; what runs have in common cancels.

    Raises
    ------
    SensitometryError
        When a list mixes batches, or both are the same batch.

    Notes
    -----
    Least squares of ``density = run + batch``, over the runs that have both.
    """
    batches = [{strip.strip_batch for strip in strips} for strips in (old, new)]
    if any(len(names) > 1 for names in batches):
        raise SensitometryError("MIXED_STRIP_BATCHES", "Give strips of one old and of one new batch.")
    if batches[0] & batches[1]:
        raise SensitometryError("SAME_STRIP_BATCH", "Old and new strips are of the same batch.")
    shared = {strip.run for strip in old} & {strip.run for strip in new} - {""}
    strips = [strip for strip in (*old, *new) if strip.run in shared]
    is_new = np.array([strip.strip_batch in batches[1] for strip in strips], dtype=bool)
    runs = np.array([strip.run for strip in strips])
    return CarriedOffset(
        {name: _offset(quantity_values(strips, name), is_new, runs, strips, name) for name in QUANTITIES},
        next(iter(batches[0]), ""),
        next(iter(batches[1]), ""),
        len(shared),
    )


def _offset(values, is_new, runs, strips, quantity: str) -> Measure:
    name, known = "strip_offset", np.isfinite(values)
    values, is_new, runs = values[known], is_new[known], runs[known]
    _, run = np.unique(runs, return_inverse=True)
    sizes = np.bincount(run)

    def less_run(column):
        return column - (np.bincount(run, column) / sizes)[run]

    # With the means of the runs taken off, runs that have one batch only say nothing.
    x, y = less_run(is_new.astype(float)), less_run(values)
    told = x != 0
    if min(np.count_nonzero(told & is_new), np.count_nonzero(told & ~is_new)) < FEWEST_OF_EACH:
        note = f"at least {FEWEST_OF_EACH} strips of each batch in the same runs are needed"
        return withheld(name, "TOO_FEW_STRIPS", UNIT, note)
    square = float(x @ x)
    value = float(x @ y) / square
    degrees = values.size - sizes.size - 1
    residual = y - value * x
    reading = max(strip.uncertainty(quantity) for strip in strips)
    variance = max(float(residual @ residual) / degrees, reading**2)
    reach = float(stdtrit(degrees, 0.975)) * math.sqrt(variance / square)
    return Measure(name, value, value - reach, value + reach, UNIT, None, f"{values.size} strips")
