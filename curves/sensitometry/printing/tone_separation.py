"""Where the tones of a subject run together in the print.

Tones that the print separates by less than a least density count as one. From the best parted tones
outward, the place where the separation falls below it for good is where highlights, or shadows, merge.

References
----------
The least separation, 0.02 D for tones a third of a stop apart, is this lab's choice.
"""

import numpy as np

from curves.sensitometry.intervals import Z95, is_usable
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.printing.tone_reproduction import ToneReproduction
from curves.sensitometry.speed_scale import STOP

LEAST_SEPARATION = 0.02  # D between tones a third of a stop apart


def merging_tones(tones: ToneReproduction, least_separation: float = LEAST_SEPARATION) -> dict[str, Measure]:
    """Where highlights and shadows run together in the print.

    Parameters
    ----------
    tones : ToneReproduction
        The four quadrants.
    least_separation : float, scalar [D per third of a stop]
        Print density between tones a third of a stop apart below which they count as one.

    Returns
    -------
    dict of str to Measure
        ``highlights_merge`` and ``shadows_merge`` [stop, 0 at the brightest tone]: from there to the end
        of the subject tones stay closer than the least separation. ``NOT_REACHED`` when they stay apart
        to the end of the subject, or the reason of the first tone that was not measured. The interval
        is where separation -/+ 1.96 standard errors passes the threshold, open where it never does.
    """
    if not is_usable(least_separation) or least_separation <= 0:
        raise SensitometryError("IMPOSSIBLE_SETTING", "The least separation must be above zero.")
    threshold = least_separation * 3 / STOP
    middle = int(np.nanargmax(tones.separation)) if np.any(np.isfinite(tones.separation)) else 0
    ends = {"highlights_merge": slice(middle, None), "shadows_merge": slice(middle, None, -1)}
    return {name: _merge(name, tones, part, threshold) for name, part in ends.items()}


def _merge(name: str, tones: ToneReproduction, part: slice, threshold: float) -> Measure:
    unit = "stop"
    luminance, separation = tones.log_luminance[part] / STOP, tones.separation[part]
    missing = [reason for reason in tones.reasons[part] if reason]
    if missing:
        return withheld(name, missing[0], unit, "the subject runs past what was measured")
    spread = Z95 * tones.separation_sd[part]
    value = _last_fall(luminance, separation - threshold)
    if value is None:
        if separation[0] < threshold:
            return withheld(name, "ILL_DEFINED", unit, "no tones are parted by the least separation")
        return withheld(name, "NOT_REACHED", unit, "tones stay apart to the end of the subject")
    if not np.any(spread > 0):
        return Measure(name, value, unit=unit, note="no interval: the curves came without their errors")
    ends = [_last_fall(luminance, separation + side * spread - threshold) for side in (-1, 1)]
    found = sorted(end for end in ends if end is not None)
    if len(found) == 2:
        return Measure(name, value, *found, unit)
    note = "the errors leave one side of the interval open"
    # Ends go outward from the middle tones: the missing one lies on the outer side or on the inner.
    outer_open = ends[1] is None and ends[0] is not None
    upward = bool(luminance[-1] > luminance[0])
    low = found[0] if found and outer_open == upward else None
    high = found[0] if found and outer_open != upward else None
    return Measure(name, value, low, high, unit, None, note)


def _last_fall(position: np.ndarray, excess: np.ndarray) -> float | None:
    """Where the excess, going along, falls below zero for good; None when it does not."""
    above = np.flatnonzero(excess >= 0)
    if above.size == 0 or above[-1] == excess.size - 1:
        return None
    i = int(above[-1])
    share = excess[i] / (excess[i] - excess[i + 1])
    return float(position[i] + share * (position[i + 1] - position[i]))
