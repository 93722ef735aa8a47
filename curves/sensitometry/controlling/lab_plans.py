"""A lab's plans in plain numbers: what shrinks an error most, and how many rolls show what one looks for."""

from collections.abc import Sequence
from dataclasses import dataclass

from curves.sensitometry.controlling.planning import (
    Design,
    Gain,
    difference_error,
    rolls_needed,
    what_shrinks_most,
)
from curves.sensitometry.controlling.variance_components import READING, VarianceComponents
from curves.sensitometry.measures import Measure

POWER, LEVEL = 0.9, 0.05
#: How two stocks are tested against each other, by what is the same for both.
WAYS = ("same_runs", "same_members", "nothing_shared")


@dataclass(frozen=True, slots=True)
class LabPlan:
    """What a lab can do about one measure.

    Parameters
    ----------
    error : Measure
        ``difference_error`` [unit] of two stocks tested as is usual.
    gains : tuple of Gain
        What doubling each level does to it, the greatest first.
    rolls : dict of str to Measure
        ``rolls_needed`` [roll] of each stock by way, those of `WAYS` that the data tell apart.
    """

    error: Measure
    gains: tuple[Gain, ...]
    rolls: dict[str, Measure]


def lab_plan(
    found: VarianceComponents, model: Sequence[str], usual: Design, difference: float
) -> LabPlan | None:
    """Plans from the components that could be told.

    Parameters
    ----------
    found : VarianceComponents
        Of one measure.
    model : sequence of str
        Levels of rolls that were told apart, outermost first; the rest counts within these.
    usual : Design
        How a stock is tested usually.
    difference : float, scalar [unit of the components]
        What shall be seen.

    Returns
    -------
    LabPlan or None
        None where nothing was told apart.
    """
    if not model:
        return None
    told = _modelled(found, model)
    ways = {
        "same_runs": Design(strips=usual.strips, readings=usual.readings),
        "same_members": Design(
            strips=usual.strips, readings=usual.readings, shares_runs=False, shares_members=True
        ),
        "nothing_shared": Design(strips=usual.strips, readings=usual.readings, shares_runs=False),
    }
    if "member" not in model:
        del ways["same_members"]
    if "run" not in model:
        del ways["same_runs"]
    gains = (gain for gain in what_shrinks_most(told, usual) if gain.level in told.components)
    return LabPlan(
        difference_error(told, usual),
        tuple(gain for gain in gains if gain.share is not None),
        {
            way: rolls_needed(told, difference, power=POWER, alpha=LEVEL, design=design)
            for way, design in ways.items()
        },
    )


def _modelled(found: VarianceComponents, model: Sequence[str]) -> VarianceComponents:
    """Only what was estimated: a level that counts within another one is none of its own."""
    kept = {
        level: each
        for level, each in found.components.items()
        if level in (*model, READING) or level in found.merged or each.value is not None
    }
    merged = {inner: outer for inner, outer in found.merged.items() if inner in kept}
    return VarianceComponents(kept, merged, found.groups, found.degrees, found.means)
