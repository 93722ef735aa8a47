"""Grain or sharpness of a stock from its rolls: random effects of the logarithm, honest with a single roll.

A roll's interval tells how well its picture was read, not how far rolls of one stock differ. With few rolls
the prior says what they usually do, so that one roll alone never claims more than it can.
"""

from collections.abc import Sequence

import numpy as np

from curves.sensitometry.comparing.random_effects import pooled_means
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
    return pooled_picture_measures(name, [rolls], unit)[0]


def pooled_picture_measures(name: str, stocks: Sequence[Sequence[Measure]], unit: str = "") -> list[Measure]:
    """Pool one measure of many stocks at once.

    Parameters
    ----------
    name : str
    stocks : sequence of sequence of Measure, length m [unit]
        The rolls of each stock, as in `pooled_picture_measure`.
    unit : str

    Returns
    -------
    list of Measure, length m [unit]
    """
    pooled: list[Measure | None] = [None] * len(stocks)
    by_count: dict[int, list[tuple[int, list[Measure], int]]] = {}
    for place, rolls in enumerate(stocks):
        told = [roll for roll in rolls if roll.value is not None and roll.value > 0]
        bounded = [roll for roll in told if roll.low is not None and roll.high is not None and roll.low > 0]
        if not told:
            pooled[place] = withheld(name, "NOT_MEASURED", unit)
        elif not bounded:
            note = told[0].note or "its rolls only bound it from one side"
            pooled[place] = withheld(name, "NO_INTERVAL", unit, note)
        else:
            by_count.setdefault(len(bounded), []).append((place, bounded, len(told) - len(bounded)))
    for count, group in by_count.items():
        values = np.array([[(roll.value, roll.low, roll.high) for roll in rolls] for _, rolls, _ in group])
        logs = np.log(values)
        errors = (logs[:, :, 2] - logs[:, :, 1]) / (2 * NORMAL_95)
        means, spreads = pooled_means(logs[:, :, 0], errors, ROLL_SCALE)
        for (place, _, left_out), mean, spread in zip(group, means, spreads, strict=True):
            middle, low, high = (float(np.exp(mean + side * NORMAL_95 * spread)) for side in (0, -1, 1))
            pooled[place] = Measure(name, middle, low, high, unit, None, _note(count, left_out))
    return pooled


def _note(count: int, left_out: int) -> str:
    text = "one roll; how far rolls differ is taken as usual" if count == 1 else f"from {count} rolls"
    return text + (f"; {left_out} left out, as only bounded" if left_out else "")
