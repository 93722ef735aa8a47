"""How much rolls of one stock differ in colour, and by that whether a difference from the reference is real.

Shifts of a patch from grey are read once a roll, so what rolls of a stock differ by holds the reading; its
mean square is taken off. All patches are pooled into one spread, as the shape's parts are. Rolls count as
independent: what a day's light does alike to rolls that were exposed together is seen only as far as a
stock's rolls come from several days.

References
----------
One-way analysis of variance: ISO 5725-2, 7.4 (from memory); its interval by the chi-square distribution.
Satterthwaite, F. E., Biometrics Bulletin 2, 110 (1946), from memory, for the degrees of freedom.
"""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.special import chdtri, stdtrit

from curves.sensitometry.colour_response import shifts_from_reference
from curves.sensitometry.comparing.comparison import ALIKE, REAL, UNKNOWN, WITHIN_SPREAD
from curves.sensitometry.comparing.lab_spread import FEWEST_DEGREES_OF_FREEDOM
from curves.sensitometry.comparing.random_effects import pool_random_effects
from curves.sensitometry.comparing.word_scales import reach_of_many, stands_out
from curves.sensitometry.controlling.variance_components import COMPONENT
from curves.sensitometry.intervals import Z95, measure_with_error
from curves.sensitometry.measures import Measure, withheld

# Scale [stop] of the half-normal prior of the spread where the lab's is not known and a stock's own rolls
# have to tell it: a change of daylight from 5000 to 6000 K moves a blue against a red by about that much
# (common practice, no source; house choice).
ROLL_SCALE = 0.1


@dataclass(frozen=True, slots=True)
class RollColours:
    """The patches of one roll.

    Parameters
    ----------
    stock : str
        The roll's stock.
    shifts : mapping of str to Measure
        ``colour_shift`` [stop] by patch, as from `patch_shifts`.
    own_errors : mapping of str to (float or None)
        Standard error [stop] of each without what the tablet's calibration does to all rolls alike. One
        that is not known counts as none, so that all that rolls differ by is their spread.
    """

    stock: str
    shifts: Mapping[str, Measure]
    own_errors: Mapping[str, float | None]


@dataclass(frozen=True, slots=True)
class ColourSpread:
    """Standard deviation of a patch's shift from roll to roll, under one light and one process.

    Parameters
    ----------
    sd : Measure
        ``variance_component`` [stop], without reading error; withheld where too few rolls tell.
    roll_sd : float or None, scalar [stop]
        What a verdict reckons with: widened by Student's t over the normal quantile, for being estimated
        from few rolls; None where it is withheld.
    degrees_of_freedom : int, scalar [1]
        Rolls less stocks; fewer where patches are missing. Patches of a roll share its greys, so together
        they count as no better known than one of them.
    roll_count, stock_count : int, scalars [1]
        Rolls of stocks with several, and those stocks.
    """

    sd: Measure
    roll_sd: float | None
    degrees_of_freedom: int
    roll_count: int
    stock_count: int

    def to_dict(self) -> dict:
        """What a document says of it, as plain JSON values."""
        return {
            "sd": self.sd.to_dict(),
            "degrees_of_freedom": self.degrees_of_freedom,
            "roll_count": self.roll_count,
            "stock_count": self.stock_count,
        }


@dataclass(frozen=True, slots=True)
class PooledColours:
    """The patches of a stock from its rolls.

    Parameters
    ----------
    read : dict of str to Measure
        Mean ``colour_shift`` [stop] by patch, with the error of reading alone.
    shifts : dict of str to Measure
        The same with the spread from roll to roll in its interval, as far as that is known.
    is_one_roll : bool
        Whether all of it rests on one roll, whose spread is not in it.
    """

    read: dict[str, Measure]
    shifts: dict[str, Measure]
    is_one_roll: bool


@dataclass(frozen=True, slots=True)
class ColourComparison:
    """Differences of a stock's patches from the reference's.

    Parameters
    ----------
    measures : dict of str to Measure
        ``colour_shift_difference`` [stop] by patch.
    verdicts : dict of str to str
        One of `comparison.VERDICTS` for each.
    """

    measures: dict[str, Measure]
    verdicts: dict[str, str]


def estimate_colour_spread(rolls: Sequence[RollColours]) -> ColourSpread:
    """Estimate how much rolls of one stock differ in a patch's shift from grey.

    Parameters
    ----------
    rolls : sequence of RollColours
        Of all accepted rolls under one pair of standards.

    Returns
    -------
    ColourSpread
        In stops.

    Notes
    -----
    ``sd² = SS / f - R`` with ``SS`` the squares within stock and patch, ``f`` their count less the means,
    and ``R`` the mean square of reading; never more than was seen is taken off. One spread for all patches is
    too small for those that a light's cast moves most: with twice the others' the share of stocks with a
    false 'real' stays below a twentieth; where one patch alone had it all it was a tenth (simulated).
    """
    groups: dict[tuple[str, str], list[tuple[int, float, float]]] = defaultdict(list)
    for place, roll in enumerate(rolls):
        for patch, shift in roll.shifts.items():
            if shift.value is not None:
                told = (place, shift.value, roll.own_errors.get(patch) or 0.0)
                groups[roll.stock, patch].append(told)
    squares = reading = 0.0
    degrees: dict[str, list[int]] = defaultdict(list)
    telling = set()
    for (stock, _), found in groups.items():
        if len(found) > 1:
            places, values, errors = (np.array(each) for each in zip(*found, strict=True))
            squares += float(np.sum((values - values.mean()) ** 2))
            reading += float(np.sum(errors**2)) * (1.0 - 1.0 / len(found))
            degrees[stock].append(len(found) - 1)
            telling |= set(places.tolist())
    # Satterthwaite's for patches that err together, which is the least that they can tell: of two, squares of
    # the one move with the other's in as many degrees as both have.
    effective = sum(min(pair) for own in degrees.values() for pair in product(own, repeat=2))
    count = sum(map(sum, degrees.values()))
    freedom = round(count**2 / effective) if effective else 0
    size = {"degrees_of_freedom": freedom, "roll_count": len(telling), "stock_count": len(degrees)}
    if freedom < FEWEST_DEGREES_OF_FREEDOM:
        least = f"at least {FEWEST_DEGREES_OF_FREEDOM} are needed"
        note = f"rolls beyond each stock’s first count as {freedom}, {least}"
        return ColourSpread(withheld(COMPONENT, "TOO_FEW_GROUPS", "stop", note), None, **size)
    seen = squares / count
    if seen < 1e-12:
        note = "rolls that read exactly alike show no spread to judge by"
        return ColourSpread(withheld(COMPONENT, "NO_INTERVAL", "stop", note), None, **size)
    taken = min(reading / count, seen)

    def without_reading(factor: float) -> float:
        return math.sqrt(max(factor * seen - taken, 0.0))

    low, high = (without_reading(freedom / float(chdtri(freedom, tail))) for tail in (0.025, 0.975))
    sd = Measure(COMPONENT, without_reading(1.0), low, high, "stop", None, "within stocks, reading taken off")
    return ColourSpread(sd, without_reading((float(stdtrit(freedom, 0.975)) / Z95) ** 2), **size)


def pool_colours(rolls: Sequence[RollColours], spread: ColourSpread) -> PooledColours:
    """Mean shifts of a stock, with what its rolls may differ by.

    Parameters
    ----------
    rolls : sequence of RollColours
        The accepted rolls of one stock.
    spread : ColourSpread
        The lab's [stop].

    Returns
    -------
    PooledColours
        In stops; a patch that no roll tells has the first roll's reason.

    Notes
    -----
    Where the lab's spread is not known, several rolls of the stock tell their own, by random effects; a
    single roll's interval is of its reading alone.
    """
    by_patch: dict[str, list[tuple[Measure, float | None]]] = defaultdict(list)
    for roll in rolls:
        for patch, shift in roll.shifts.items():
            by_patch[patch].append((shift, roll.own_errors.get(patch)))
    read, shifts, is_one_roll = {}, {}, spread.roll_sd is None
    for patch, found in by_patch.items():
        known = [each for each in found if each[0].value is not None]
        if not known:
            read[patch] = shifts[patch] = found[0][0]
            continue
        is_one_roll = is_one_roll and len(known) == 1
        read[patch], shifts[patch] = _mean(known, spread)
    return PooledColours(read, shifts, is_one_roll)


def _mean(rolls: list[tuple[Measure, float | None]], spread: ColourSpread) -> tuple[Measure, Measure]:
    """The mean by reading alone, and with the spread from roll to roll."""
    count, values = len(rolls), [shift.value for shift, _ in rolls]
    value = sum(values) / count
    errors = [shift.standard_error for shift, _ in rolls]
    means = f"mean of {count} rolls" if count > 1 else "one roll"
    if None in errors:
        return (measure_with_error("colour_shift", value, None, "stop", means),) * 2
    own = [error if roll is None else roll for error, (_, roll) in zip(errors, rolls, strict=True)]
    # What all rolls share does not average out.
    shared = max(sum(e**2 - o**2 for e, o in zip(errors, own, strict=True)) / count, 0.0)
    reading = math.sqrt(sum(o**2 for o in own) / count**2 + shared)
    between, source = spread.roll_sd, "reading error and roll-to-roll spread"
    if between is None and count > 1:
        between = pool_random_effects(values, own, ROLL_SCALE).spread
        source = "reading error and these rolls' own spread"
    elif between is None:
        between, source = 0.0, "reading error only; how far rolls of one stock differ is not known"
    sd = math.hypot(reading, between / math.sqrt(count))
    return (
        measure_with_error("colour_shift", value, reading, "stop", f"{means}; reading error only"),
        measure_with_error("colour_shift", value, sd, "stop", f"{means}; {source}"),
    )


def compare_colours(test: PooledColours, reference: PooledColours, spread: ColourSpread) -> ColourComparison:
    """Differences of a stock's patches from the reference's, each with its verdict.

    Parameters
    ----------
    test, reference : PooledColours
        Of the stock and of the reference [stop].
    spread : ColourSpread
        The lab's, which both were pooled with [stop].

    Returns
    -------
    ColourComparison
        ``unknown`` where a patch is withheld, or is beyond reading error and the spread is not known.
    """
    reading = shifts_from_reference(test.read, reference.read)
    measures = shifts_from_reference(test.shifts, reference.shifts)
    reach = reach_of_many(measures.values())
    verdicts = {}
    for patch, measure in measures.items():
        if measure.value is None:
            verdicts[patch] = UNKNOWN
        elif not stands_out(reading[patch], reach):
            verdicts[patch] = ALIKE
        elif spread.roll_sd is None:
            verdicts[patch] = UNKNOWN
        else:
            verdicts[patch] = REAL if stands_out(measure, reach) else WITHIN_SPREAD
    return ColourComparison(measures, verdicts)
