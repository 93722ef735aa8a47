"""Failure of the reciprocity law at long exposures: four forms, fitted from tests, used within them.

Every form leaves times up to `THRESHOLD_S` alone and never shortens a time. The forms differ, so a law
always names its own; a metered time beyond the longest tested one is refused.

References
----------
Schwarzschild, K., Astrophysical Journal 11, 89 (1900) for ``I t**p``; the modified form in (t + 1) is
read in secondary texts on it. Power and additive forms: common practice, no source.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import stdtrit

from curves.sensitometry.intervals import Z95, is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.registry.measure_definition import DISTANCE
from curves.sensitometry.speed_scale import STOP

THRESHOLD_S = 1.0
LONGEST_S = 1e7  # four months; a longer "test" is a slip of the keyboard
FORMS = {
    "power": "t_c = t_m ** P",
    "schwarzschild": "t_c = t_m ** (1 / p)",
    "modified": "t_c = (t_m + 1) ** (1 / p) - 1",
    "additive": "t_c = t_m + a * t_m ** b",
}
# Within these a form lengthens every time and cannot overflow.
EXPONENT_RANGE = {
    "power": (1.0, 20.0),
    "schwarzschild": (0.05, 1.0),
    "modified": (0.05, 1.0),
    "additive": (-20.0, 20.0),
}


@dataclass(frozen=True, slots=True)
class ReciprocityLaw:
    """A named form with its constants and the longest metered time it was tested at.

    Parameters
    ----------
    form : str
        Key of `FORMS`.
    exponent : float, scalar [1]
        P, p, p or b of the form.
    longest_tested_s : float, scalar [s]
        Longest metered time that was tested.
    exponent_sd : float or None, scalar [1]
        Standard error of the exponent.
    coefficient : float, scalar [s]
        a of the additive form.
    level_sd, centre_s : float, scalars [log10 s], [s]
        For the additive form: standard error of the log of the added time at the middle of the tests,
        and that middle; there the errors of level and exponent are independent.

    Raises
    ------
    SensitometryError
        For an unknown form, or constants that would shorten a time.
    """

    form: str
    exponent: float
    longest_tested_s: float
    exponent_sd: float | None = None
    coefficient: float = 0.0
    level_sd: float = 0.0
    centre_s: float = 1.0

    def __post_init__(self):
        if self.form not in FORMS:
            raise SensitometryError("UNKNOWN_FORM", f"Choose one of {', '.join(FORMS)}.")
        if not (is_usable(self.exponent, self.coefficient) and 0 < self.longest_tested_s <= LONGEST_S):
            raise SensitometryError("IMPOSSIBLE_LAW", "The constants of the law must be sensible numbers.")
        least, most = EXPONENT_RANGE[self.form]
        if not (least <= self.exponent <= most and 0 <= self.coefficient <= LONGEST_S):
            raise SensitometryError("IMPOSSIBLE_LAW", f"{FORMS[self.form]} would shorten the exposure.")

    def lengthened_s(self, metered_s: float, side: int = 0) -> float:
        """The form's time for a metered one, without any check of range.

        Parameters
        ----------
        metered_s : float, scalar [s]
            Time that the meter asks for.
        side : int, scalar [-1, 0 or 1]
            0 for the estimate, -1 and 1 for the ends of its 95 % interval.

        Returns
        -------
        float
            Time to give, scalar [s].
        """
        if metered_s <= THRESHOLD_S:
            return metered_s
        if self.form == "additive":
            reach = math.log10(metered_s / self.centre_s)
            error = min(20.0, Z95 * math.hypot(self.level_sd, (self.exponent_sd or 0.0) * reach))
            return metered_s + self.coefficient * metered_s**self.exponent * 10 ** (side * error)
        # The ends of the interval stay where the form still lengthens a time.
        least, most = EXPONENT_RANGE[self.form]
        exponent = min(most, max(least, self.exponent + side * Z95 * (self.exponent_sd or 0.0)))
        if self.form == "power":
            return metered_s**exponent
        if self.form == "schwarzschild":
            return metered_s ** (1 / exponent)
        return (metered_s + 1) ** (1 / exponent) - 1


def corrected_time(law: ReciprocityLaw, metered_s: float) -> Measure:
    """Exposure time to give for a metered one.

    Parameters
    ----------
    law : ReciprocityLaw
        The film's law.
    metered_s : float, scalar [s]
        Time that the meter asks for.

    Returns
    -------
    Measure
        ``corrected_time`` [s], never shorter than metered; ``OUTSIDE_TESTED_RANGE`` beyond the
        longest tested time.

    Examples
    --------
    >>> round(corrected_time(ReciprocityLaw("power", 1.31, 100), 10).value, 2)
    20.42
    """
    if not is_usable(metered_s) or metered_s <= 0:
        return withheld("corrected_time", "INVALID_INPUT", "s")
    if metered_s > max(law.longest_tested_s, THRESHOLD_S):
        note = f"tested to {law.longest_tested_s:g} s"
        return withheld("corrected_time", "OUTSIDE_TESTED_RANGE", "s", note)
    value = law.lengthened_s(metered_s)
    if metered_s <= THRESHOLD_S:
        return Measure("corrected_time", value, value, value, "s", None, "the law holds up to 1 s")
    if law.exponent_sd is None:
        return measure_with_error("corrected_time", value, None, "s", FORMS[law.form])
    ends = [law.lengthened_s(metered_s, side) for side in (-1, 1)]
    return Measure("corrected_time", value, min(ends), max(ends), "s", None, FORMS[law.form])


def exposure_loss(law: ReciprocityLaw, exposed_s: float) -> Measure:
    """Exposure that is lost to the failure when a time is given without correction.

    Parameters
    ----------
    law : ReciprocityLaw
        The film's law.
    exposed_s : float, scalar [s]
        Time that was given.

    Returns
    -------
    Measure
        ``reciprocity_loss`` [log10]: log of that time over the metered time it is right for.

    Examples
    --------
    >>> round(exposure_loss(ReciprocityLaw("schwarzschild", 0.86, 100), 100).value, 3)
    0.28
    """
    if not is_usable(exposed_s) or exposed_s <= 0:
        return withheld("reciprocity_loss", "INVALID_INPUT", DISTANCE)
    if exposed_s > law.lengthened_s(max(law.longest_tested_s, THRESHOLD_S)):
        return withheld("reciprocity_loss", "OUTSIDE_TESTED_RANGE", DISTANCE)

    def loss(side):
        shortest = THRESHOLD_S * (1 + 1e-12)
        if exposed_s <= law.lengthened_s(shortest, side):
            # Within the jump that the modified and additive forms make at the threshold.
            return math.log10(max(exposed_s, THRESHOLD_S) / THRESHOLD_S)
        metered = brentq(lambda t: law.lengthened_s(t, side) - exposed_s, shortest, exposed_s)
        return math.log10(exposed_s / metered)

    value = loss(0)
    note = f"{value / STOP:.2f} stop; {FORMS[law.form]}"
    if law.exponent_sd is None:
        return measure_with_error("reciprocity_loss", value, None, DISTANCE, note)
    ends = [loss(side) for side in (-1, 1)]
    return Measure("reciprocity_loss", value, min(ends), max(ends), DISTANCE, None, note)


def fit_reciprocity(form: str, metered_s, corrected_s) -> ReciprocityLaw | None:
    """The constants of a form from tests of which time gave the density of the metered one.

    Parameters
    ----------
    form : str
        Key of `FORMS`.
    metered_s, corrected_s : array_like, shape (n,) [s]
        Metered times and the times that matched them; pairs at or below the threshold, and pairs that
        are not finite, say nothing and are left out.

    Returns
    -------
    ReciprocityLaw or None
        None when fewer pairs are left than the form has constants, or when the tests show no failure
        of the form's kind, or an absurd one. With no more pairs than constants the law carries no
        standard error.

    Notes
    -----
    Each form is a straight line in logarithms (through the origin but for the additive one), fitted by
    least squares; the standard error is widened to Student's 95 % half-width over 1.96 for small n.
    """
    if form not in FORMS:
        raise SensitometryError("UNKNOWN_FORM", f"Choose one of {', '.join(FORMS)}.")
    metered, corrected = np.asarray(metered_s, dtype=float), np.asarray(corrected_s, dtype=float)
    if metered.shape != corrected.shape or metered.ndim != 1:
        raise SensitometryError("BAD_SHAPE", "Give as many corrected times as metered ones.")
    with np.errstate(invalid="ignore"):
        usable = (metered > THRESHOLD_S) & (metered <= LONGEST_S) & (corrected > 1e-3) & (corrected < 1e12)
    metered, corrected = metered[usable], corrected[usable]
    if form == "additive":
        return _fit_additive(metered, corrected)
    if metered.size < 1:
        return None
    shift = 1.0 if form == "modified" else 0.0
    x, y = np.log10(metered + shift), np.log10(corrected + shift)
    slope = float(x @ y / (x @ x))
    if not 1 <= slope <= EXPONENT_RANGE["power"][1]:
        return None
    sd = None
    if x.size > 1:
        residual = y - slope * x
        sd = float(np.sqrt(residual @ residual / (x.size - 1) / (x @ x))) * _widening(x.size - 1)
    if form == "power":
        return ReciprocityLaw(form, slope, float(metered.max()), sd)
    return ReciprocityLaw(form, 1 / slope, float(metered.max()), None if sd is None else sd / slope**2)


def _fit_additive(metered: np.ndarray, corrected: np.ndarray) -> ReciprocityLaw | None:
    lengthened = corrected > metered
    x, y = np.log10(metered[lengthened]), np.log10((corrected - metered)[lengthened])
    if x.size < 2 or np.ptp(x) == 0:
        return None
    centre = x.mean()
    slope, level = np.polyfit(x - centre, y, 1)
    sd, level_sd = None, 0.0
    if x.size > 2:
        residual = y - level - slope * (x - centre)
        spread = float(np.sqrt(residual @ residual / (x.size - 2))) * _widening(x.size - 2)
        sd, level_sd = spread / float(np.sqrt(np.sum((x - centre) ** 2))), spread / math.sqrt(x.size)
    at_one_second = float(10.0 ** min(300.0, level - slope * centre))
    if at_one_second > LONGEST_S or not abs(slope) <= EXPONENT_RANGE["additive"][1]:
        return None
    return ReciprocityLaw(
        "additive", float(slope), float(metered.max()), sd, at_one_second, level_sd, float(10**centre)
    )


def _widening(degrees: int) -> float:
    return float(stdtrit(degrees, 0.975)) / Z95
