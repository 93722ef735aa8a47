"""What a lab's spread means for its plans: what shrinks an error most, and how many rolls a difference needs.

References
----------
Power of the two-sided t test by the noncentral t distribution, as in any textbook. Intervals of sums of
estimated variances by the recovery of their own intervals: Zou, G. Y. & Donner, A., Stat. Med. 27, 1693
(2008), from memory.
"""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass

from scipy.special import nctdtr, stdtrit

from curves.sensitometry.controlling.variance_components import LEVELS, READING, VarianceComponents
from curves.sensitometry.intervals import is_usable
from curves.sensitometry.measures import Measure, SensitometryError, withheld

THIRD_OF_A_STOP = 1 / 3  # stop
CONTRAST_SHARE = 0.03  # of the contrast, where components are those of its natural logarithm
MOST_ROLLS = 1000
SHARED = ("member", "run")  # what two stocks have in common where they go through the same runs


@dataclass(frozen=True, slots=True)
class Design:
    """How a stock is tested.

    Parameters
    ----------
    members, runs, rolls, strips, readings : int, scalars [count]
        Members; runs of each; rolls of the stock in each run; strips on each roll; readings of each strip.
    shares_runs : bool
        Whether both stocks of a comparison go through the same runs, so that what runs and members have in
        common cancels.
    shares_members : bool
        Whether the same members test both, in whichever runs.
    """

    members: int = 1
    runs: int = 1
    rolls: int = 1
    strips: int = 1
    readings: int = 1
    shares_runs: bool = True
    shares_members: bool = False

    def __post_init__(self):
        if min(self.members, self.runs, self.rolls, self.strips, self.readings) < 1:
            raise SensitometryError("IMPOSSIBLE_DESIGN", "At least one of each is needed.")

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return asdict(self)

    def counts(self) -> dict[str, int]:
        """How many of each level a stock's mean rests on in all, scalars [count]."""
        totals, total = {}, 1
        each = (self.members, self.runs, self.rolls, self.strips, self.readings)
        for name, count in zip((*LEVELS, READING), each, strict=True):
            total *= count
            totals[name] = total
        return totals

    def shared(self) -> tuple[str, ...]:
        """Levels that both stocks have in common, so that they cancel."""
        return SHARED if self.shares_runs else SHARED[:1] if self.shares_members else ()


@dataclass(frozen=True, slots=True)
class Gain:
    """What doubling one level does.

    Parameters
    ----------
    level : str
        ``member``, ``run``, ``roll``, ``strip`` or ``reading``: twice as many of these within each of the
        level above.
    standard_error : Measure
        ``difference_error`` [unit] of a difference of two stocks then, or why it cannot be told.
    share : float or None, scalar [%]
        By how much it is smaller than now.
    """

    level: str
    standard_error: Measure
    share: float | None

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {"level": self.level, "standard_error": self.standard_error.to_dict(), "share": self.share}


def difference_error(components: VarianceComponents, design: Design) -> Measure:
    """Standard error of a difference of two stocks tested alike.

    Parameters
    ----------
    components : VarianceComponents
        With the levels ``member``, ``run``, ``roll``, ``strip``.
    design : Design
        How each stock is tested.

    Returns
    -------
    Measure
        ``difference_error`` [unit]. A component that is needed and cannot be told withholds it.
    """
    return _error(components, design.counts(), design.shared())


def what_shrinks_most(components: VarianceComponents, design: Design) -> tuple[Gain, ...]:
    """The effect of doubling each level on the error of a difference, the greatest first.

    Parameters
    ----------
    components : VarianceComponents
        As in `difference_error`.
    design : Design
        What is done now.

    Returns
    -------
    tuple of Gain
        A level that is held by another component (``NOT_SEPARABLE``) comes last, without a number.
    """
    now = difference_error(components, design)
    gains = []
    counts = design.counts()
    for place, level in enumerate(counts):
        doubled = {name: count * (2 if i >= place else 1) for i, (name, count) in enumerate(counts.items())}
        then = _error(components, doubled, design.shared())
        if level in components.merged or (level == READING and READING in components.merged.values()):
            then = withheld("difference_error", "NOT_SEPARABLE", then.unit)
        known = now.value and then.value is not None
        gains.append(Gain(level, then, 100 * (1 - then.value / now.value) if known else None))
    return tuple(
        sorted(gains, key=lambda gain: -math.inf if gain.share is None else gain.share, reverse=True)
    )


def rolls_needed(
    components: VarianceComponents,
    difference: float,
    *,
    power: float = 0.9,
    alpha: float = 0.05,
    design: Design | None = None,
) -> Measure:
    """Rolls of each stock that show a difference with a given power.

    Parameters
    ----------
    components : VarianceComponents
        As in `difference_error`.
    difference : float, scalar [unit of the components]
        To be shown, such as `THIRD_OF_A_STOP`, or `CONTRAST_SHARE` of a log contrast.
    power, alpha : float, scalars [probability]
        Chance of showing it, and of showing one that is not there (two-sided).
    design : Design or None
        Strips and readings of each roll, and whether runs are shared; one of each, shared, for None.

    Returns
    -------
    Measure
        ``rolls_needed`` [roll] of each stock, each roll in a run of its own; the interval is that of the
        components. ``NOT_REACHED`` beyond 1000.

    Raises
    ------
    SensitometryError
        For a difference not above zero, or chances not between 0 and 1.
    """
    if not (is_usable(difference) and difference > 1e-12 and 0 < alpha < power < 1):
        raise SensitometryError(
            "IMPOSSIBLE_LEVEL", "State a difference above 0, and chances between 0 and 1."
        )
    design = design or Design()
    one_roll = Design(strips=design.strips, readings=design.readings)
    error = _error(components, one_roll.counts(), design.shared())
    name, unit = "rolls_needed", "roll"
    if error.value is None:
        return withheld(name, error.reason, unit, error.note)
    low, value, high = (
        None if sd is None else _rolls(sd, difference, power, alpha)
        for sd in (error.low, error.value, error.high)
    )
    if value is None:
        return withheld(name, "NOT_REACHED", unit, f"more than {MOST_ROLLS} rolls")
    note = f"power {100 * power:g} %, level {100 * alpha:g} %, two-sided"
    if high is None:
        note += "; the data set no upper end"
    return Measure(name, value, low, high, unit, None, note)


def _error(components: VarianceComponents, counts: Mapping[str, int], shared: tuple[str, ...]) -> Measure:
    unit = next(iter(components.components.values())).unit
    name, total, below, above = "difference_error", 0.0, 0.0, 0.0
    for level, measure in components.components.items():
        # A merged level's spread stands in the component that holds it, which is repeated less often.
        holder = [inner for inner, outer in components.merged.items() if outer == level]
        # What is shared cancels, unless it cannot be told from what is not shared.
        if level in components.merged or all(each in shared for each in (level, *holder)):
            continue
        if measure.value is None:
            return withheld(name, measure.reason, unit, f"{level}: {measure.note}")
        count = min(counts.get(each, 1) for each in (level, *holder))
        total += 2 * measure.value**2 / count
        below += (2 * (measure.value**2 - measure.low**2) / count) ** 2
        above += math.inf if measure.high is None else (2 * (measure.high**2 - measure.value**2) / count) ** 2
    low, high = math.sqrt(max(total - math.sqrt(below), 0.0)), math.sqrt(total + math.sqrt(above))
    return Measure(name, math.sqrt(total), low, high if high < math.inf else None, unit)


def _rolls(error: float, difference: float, power: float, alpha: float) -> int | None:
    """Least number of rolls whose t test has the power, by halving; ``error`` is that of one roll each."""

    def has_power(count: int) -> bool:
        degrees = 2 * (count - 1)
        critical = float(stdtrit(degrees, 1 - alpha / 2))
        shift = difference * math.sqrt(count) / error
        # Far out the tails are nothing, and their function fails.
        if shift > 20:
            return True
        wrong_side = float(nctdtr(degrees, shift, -critical)) if shift < 4 else 0.0
        return 1 - float(nctdtr(degrees, shift, critical)) + wrong_side >= power

    if error <= 1e-12 or has_power(2):
        return 2
    if not has_power(MOST_ROLLS):
        return None
    low, high = 2, MOST_ROLLS
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if has_power(middle) else (middle, high)
    return high
