"""Grain or sharpness of a stock from its rolls: random effects of the logarithm, honest with a single roll.

A roll's interval tells how well its picture was read, not how far rolls of one stock differ. With few rolls
the prior says what they usually do, so that one roll alone never claims more than it can.
"""

import math
from collections.abc import Sequence

from curves.sensitometry.comparing.random_effects import pool_random_effects
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.measuring.row_summaries import NORMAL_95

# Scale of the half-normal prior of the spread from roll to roll, as a share of the value: house choice.
# With one roll it alone adds ± 10 % to the interval.
ROLL_SCALE = 0.05


def pooled_picture_measure(name: str, rolls: Sequence[Measure], unit: str = "") -> Measure:
    """Pool one measure of several rolls of a stock, read from pictures by one rig.

    Parameters
    ----------
    name : str
    rolls : sequence of Measure, length n [unit]
        One of each roll; a roll whose measure is withheld, or bounded on one side only, is left out.
    unit : str

    Returns
    -------
    Measure
        Withheld with ``NOT_MEASURED`` without any roll, with ``NO_INTERVAL`` where every roll only bounds it.

    Notes
    -----
    Values and intervals are multiplied factors, so logarithms are pooled: the result is the median, its
    interval lies unevenly about it.

    Examples
    --------
    >>> one = Measure("rms_granularity", 10.0, 9.8, 10.2)
    >>> pooled = pooled_picture_measure("rms_granularity", [one])
    >>> round(pooled.value, 2), round(pooled.low, 1), round(pooled.high, 1)
    (10.0, 9.0, 11.1)
    """
    told = [roll for roll in rolls if roll.value is not None and roll.value > 0]
    if not told:
        return withheld(name, "NOT_MEASURED", unit)
    bounded = [roll for roll in told if roll.low is not None and roll.high is not None and roll.low > 0]
    if not bounded:
        return withheld(name, "NO_INTERVAL", unit, told[0].note or "its rolls only bound it from one side")
    errors = [math.log(roll.high / roll.low) / (2 * NORMAL_95) for roll in bounded]
    pooled = pool_random_effects([math.log(roll.value) for roll in bounded], errors, ROLL_SCALE)
    half = NORMAL_95 * pooled.standard_error
    return Measure(
        name=name,
        value=math.exp(pooled.mean),
        low=math.exp(pooled.mean - half),
        high=math.exp(pooled.mean + half),
        unit=unit,
        note=_note(len(bounded), len(told) - len(bounded)),
    )


def _note(count: int, left_out: int) -> str:
    text = "one roll; how far rolls differ is taken as usual" if count == 1 else f"from {count} rolls"
    return text + (f"; {left_out} left out, as only bounded" if left_out else "")
