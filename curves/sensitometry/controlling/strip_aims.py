"""Aims of a control strip with their warning and action limits, from strips in control or as stated.

Limits stand two and three standard deviations from the aim, the standard deviation from moving ranges within
a developer batch, never from the overall spread. They are widened for what few strips tell of it: with ten
strips and no widening, a process in control would be called out of control three to five times too often.
Ten strips make an aim (house rule); from five it is provisional.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.controlling.aims import QuantityAim, StripAims
from curves.sensitometry.controlling.control_strips import (
    QUANTITIES,
    READING_SD,
    UNIT,
    ControlStrip,
    known_density,
    phase_labels,
    quantity_values,
)
from curves.sensitometry.controlling.within_spread import spread_from_moving_ranges
from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import Measure, SensitometryError, withheld

FEWEST_STRIPS = 10
FEWEST_PROVISIONAL = 5
# Warning and action limits from the aim [D]. From memory: common practice, no source.
TYPICAL_LIMITS = {
    "base_fog": (0.03, 0.05),
    "speed_step": (0.06, 0.08),
    "contrast": (0.06, 0.09),
    "dmax": (0.10, 0.15),
}


def set_aims(strips: Sequence[ControlStrip], *, least: int = FEWEST_STRIPS) -> StripAims:
    """Aims and limits from strips that are stated to be in control.

    Parameters
    ----------
    strips : sequence of ControlStrip
        In the order of time, all of one strip batch.
    least : int, scalar [count]
        Strips that make an aim; from five up to it the aims are provisional, below it withheld.

    Returns
    -------
    StripAims
        A quantity that no strip has is left out; one with too few is there, withheld with
        ``TOO_FEW_STRIPS``. The standard deviation is not believed below the uncertainty of reading.

    Raises
    ------
    SensitometryError
        For strips of several batches, whose exposures differ.
    """
    batches = {strip.strip_batch for strip in strips}
    if len(batches) > 1:
        raise SensitometryError("MIXED_STRIP_BATCHES", "Set aims from strips of one batch only.")
    aims, suspects = {}, []
    for quantity in QUANTITIES:
        values = quantity_values(strips, quantity)
        if np.isfinite(values).any():
            aims[quantity] = _aim(quantity, values, strips, least)
            suspects += [(int(index), quantity) for index in _beyond(aims[quantity], values)]
    fewest = min((aim.strips for aim in aims.values()), default=0)
    return StripAims(
        aims,
        next(iter(batches), ""),
        fewest < least,
        tuple(suspects),
        f"from {len(strips)} strips in control",
    )


def stated_aims(
    centres: Mapping[str, float],
    *,
    limits: Mapping[str, tuple[float, float]] = TYPICAL_LIMITS,
    strip_batch: str = "",
) -> StripAims:
    """Aims and limits that are stated, such as those a strip came with; always provisional.

    Parameters
    ----------
    centres : mapping of str to float, scalars [D]
        Aim by quantity.
    limits : mapping of str to tuple, scalars [D]
        Distances of warning and action limit from the aim; usual ones where not given.
    strip_batch : str
        The batch of strips that they hold for.

    Returns
    -------
    StripAims

    Raises
    ------
    SensitometryError
        For an unknown quantity, an aim that is no density, or an action limit not wider than the warning.
    """
    aims = {}
    for quantity, centre in centres.items():
        warning, action = limits.get(quantity, TYPICAL_LIMITS.get(quantity, (math.nan, math.nan)))
        if quantity not in QUANTITIES or known_density(centre) is None or not 0 < warning < action < 10:
            raise SensitometryError(
                "IMPOSSIBLE_AIM", f"{quantity}: state an aim and limits, the wider second."
            )
        measure = Measure("control_aim", float(centre), unit=UNIT, note="as stated")
        spread = Measure("within_spread", action / 3, unit=UNIT, note="a third of the stated action limit")
        aims[quantity] = QuantityAim(quantity, measure, spread, float(warning), float(action), 0)
    return StripAims(aims, strip_batch, True, (), "aims as stated; no strips stand behind them yet")


def shifted_aims(aims: StripAims, offsets: Mapping[str, Measure], strip_batch: str) -> StripAims:
    """The same aims for another batch of strips, moved by what the two batches differ.

    Parameters
    ----------
    aims : StripAims
        Of the old batch.
    offsets : mapping of str to Measure
        New less old [D] by quantity, with their intervals.
    strip_batch : str
        The new batch.

    Returns
    -------
    StripAims
        Provisional where an offset is less well known than half a standard deviation of one strip (house
        rule). A quantity without an offset is withheld.
    """
    moved, is_vague = {}, False
    for name, aim in aims.aims.items():
        offset = offsets.get(name)
        if not aim.is_known or offset is None or offset.value is None:
            reason = "TOO_FEW_STRIPS" if offset is None else offset.reason or "NO_AIMS"
            centre = withheld("control_aim", reason, UNIT)
            moved[name] = replace(aim, centre=centre, warning=None, action=None)
            continue
        sd = math.hypot(aim.centre.standard_error or 0.0, offset.standard_error)
        is_vague |= offset.standard_error > 0.5 * aim.spread.value
        value = aim.centre.value + offset.value
        centre = Measure("control_aim", value, value - Z95 * sd, value + Z95 * sd, UNIT, None, "carried over")
        moved[name] = replace(aim, centre=centre)
    note = f"{aims.note}; carried over from strip batch {aims.strip_batch or 'before'}"
    return StripAims(moved, strip_batch, aims.is_provisional or is_vague, aims.suspects, note)


def _aim(quantity: str, values: np.ndarray, strips: Sequence[ControlStrip], least: int) -> QuantityAim:
    count = int(np.isfinite(values).sum())
    reading = max((strip.uncertainty(quantity) for strip in strips), default=READING_SD)
    spread = spread_from_moving_ranges(values, phase_labels(strips), UNIT, reading)
    sd = spread.standard_deviation
    if count < min(FEWEST_PROVISIONAL, least) or sd.value is None:
        note = f"{count} read, at least {min(FEWEST_PROVISIONAL, least)} are needed"
        centre = withheld("control_aim", "TOO_FEW_STRIPS", UNIT, note)
        return QuantityAim(
            quantity, centre, withheld("within_spread", "TOO_FEW_STRIPS", UNIT), None, None, count
        )
    mean = float(np.nanmean(values))
    reach = float(stdtrit(spread.degrees_of_freedom, 0.975)) * sd.value / math.sqrt(count)
    centre = Measure("control_aim", mean, mean - reach, mean + reach, UNIT, None, f"mean of {count} strips")
    # Student's t over the normal quantile, as for the spread of rolls; then the aim's own error.
    widening = float(stdtrit(spread.degrees_of_freedom, 0.975)) / Z95 * math.sqrt(1 + 1 / count)
    reach = widening * sd.value
    return QuantityAim(quantity, centre, sd, 2 * reach, 3 * reach, count, widening, spread.degrees_of_freedom)


def _beyond(aim: QuantityAim, values: np.ndarray) -> np.ndarray:
    if not aim.is_known:
        return np.zeros(0, dtype=int)
    with np.errstate(invalid="ignore"):
        return np.flatnonzero(np.abs(values - aim.centre.value) > aim.action * (1 + 1e-9))
