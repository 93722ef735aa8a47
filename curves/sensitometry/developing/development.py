"""Development families: the time for an aim contrast, and the speed at the standard's contrast.

A family is the same stock developed for several times. Between tested times contrast and speed point
are interpolated in the logarithm of time; nothing is read outside the tested times. The interval of a
time holds every time whose contrast agrees with the aim within 95 %, which stays right where the
contrast rises slowly (Fieller's interval, for a line between two points).

References
----------
ISO 6:1993, Photography: black-and-white pictorial still camera negative film/process systems,
determination of ISO speed (contrast condition). Fieller, E. C., J. R. Stat. Soc. B 16, 175 (1954).
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from curves.sensitometry.intervals import (
    Z95,
    is_usable,
    measure_with_error,
    measure_with_log_error,
)
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.speed_scale import CONTRAST_AIM, rounded_speed, speed_from_exposure

LONGEST_REACH = 0.5  # log10 of time that the interval (never the value) may reach past the tested times


def aim_contrast(negative_density_range: float, subject_log_range: float, log_flare: float = 0.0) -> Measure:
    """Average gradient that fits a subject onto a paper.

    Parameters
    ----------
    negative_density_range : float, scalar [D]
        Density range that the paper wants.
    subject_log_range : float, scalar [log10 cd/m2]
        Log luminance range of the subject.
    log_flare : float, scalar [log10 cd/m2]
        How much camera flare shortens it.

    Returns
    -------
    Measure
        ``aim_contrast`` [D per log10 exposure], the quotient of the two ranges.

    Examples
    --------
    >>> round(aim_contrast(1.05, 2.20, 0.40).value, 3)
    0.583
    """
    if not is_usable(negative_density_range, subject_log_range, log_flare):
        return withheld("aim_contrast", "INVALID_INPUT")
    image_range = subject_log_range - log_flare
    if image_range <= 0.01 or negative_density_range <= 0:
        return withheld("aim_contrast", "INVALID_INPUT", note="both ranges must be above zero")
    return Measure("aim_contrast", negative_density_range / image_range, note="a quotient of chosen numbers")


@dataclass(frozen=True)
class DevelopmentFamily:
    """Contrast against development time, averaged by time and sorted.

    Parameters
    ----------
    time_min : ndarray, shape (n,) [min]
        Different times, rising.
    contrast : ndarray, shape (n,) [D per log10 exposure, or D for a density difference]
        Contrast at each time.
    contrast_sd : ndarray, shape (n,) [same unit]
        Standard error of each.
    """

    time_min: np.ndarray
    contrast: np.ndarray
    contrast_sd: np.ndarray

    @classmethod
    def of(cls, time_min, contrast, contrast_sd) -> "DevelopmentFamily":
        """The family of single results; results at the same time are averaged by their weights.

        Parameters
        ----------
        time_min : array_like, shape (n,) [min]
            Development times.
        contrast : array_like, shape (n,) [D per log10 exposure]
            Contrast results; those not finite, or at a time not above zero, are left out.
        contrast_sd : float or array_like, scalar or shape (n,) [D per log10 exposure]
            Their standard errors, above zero.

        Returns
        -------
        DevelopmentFamily
            With one entry for each different time.

        Raises
        ------
        SensitometryError
            When the lists differ in length.
        """
        time, value, sd = (np.asarray(a, dtype=float) for a in (time_min, contrast, contrast_sd))
        if time.ndim != 1 or time.shape != value.shape or (sd.ndim and sd.shape != time.shape):
            raise SensitometryError("BAD_SHAPE", "Give one contrast and one standard error for each time.")
        sd = np.broadcast_to(sd, time.shape)
        sensible = (time > 1e-3) & (time < 1e6) & (np.abs(value) < 1e3) & (sd > 1e-9) & (sd < 1e3)
        time, value, sd = time[sensible], value[sensible], sd[sensible]
        different, group = np.unique(time, return_inverse=True)
        weight = np.bincount(group, sd**-2.0, minlength=different.size)
        mean = np.bincount(group, value * sd**-2.0, minlength=different.size) / weight
        return cls(different, mean, weight**-0.5)

    @property
    def log_time(self) -> np.ndarray:
        """Shape (n,) [log10 min]."""
        return np.log10(self.time_min)


def _segment(family: DevelopmentFamily, aim: float) -> tuple[int | None, str | None]:
    """Index of the last step of the family that rises through the aim, or why there is none."""
    if family.time_min.size < 2:
        return None, "TOO_FEW_TIMES"
    below = family.contrast < aim
    rising = np.flatnonzero(below[:-1] & ~below[1:])
    if rising.size:
        return int(rising[-1]), None
    if below[0]:
        return None, "NOT_REACHED"
    # An aim met exactly by the shortest time is within the tested range.
    if family.contrast[0] == aim and family.contrast[1] > aim:
        return 0, None
    return None, "BELOW_RANGE" if np.min(family.contrast) >= aim else "NON_MONOTONE"


def _contrast_and_sd(family: DevelopmentFamily, log_time: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Contrast on the broken line through the family, its end pieces prolonged, and its error."""
    x = family.log_time
    i = np.clip(np.searchsorted(x, log_time) - 1, 0, x.size - 2)
    share = (log_time - x[i]) / (x[i + 1] - x[i])
    contrast = (1 - share) * family.contrast[i] + share * family.contrast[i + 1]
    variance = ((1 - share) * family.contrast_sd[i]) ** 2 + (share * family.contrast_sd[i + 1]) ** 2
    return contrast, variance + _curvature(family, log_time) ** 2


def _curvature(family: DevelopmentFamily, log_time: np.ndarray) -> np.ndarray:
    """How far a straight line between tested times may miss: its distance from a monotone cubic."""
    if family.time_min.size < 3:
        return np.zeros(np.shape(log_time))
    x = family.log_time
    inside = np.clip(log_time, x[0], x[-1])
    cubic = PchipInterpolator(x, family.contrast)(inside)
    return cubic - np.interp(inside, x, family.contrast)


def _agreeing_times(family: DevelopmentFamily, aim: float, log_time: float) -> tuple[float, float] | None:
    """Ends of the stretch of log times about the estimate whose contrast agrees with the aim."""
    x = family.log_time
    grid = np.linspace(x[0] - LONGEST_REACH, x[-1] + LONGEST_REACH, 4001)
    grid = np.sort(np.append(grid, log_time))
    contrast, variance = _contrast_and_sd(family, grid)
    outside = np.abs(contrast - aim) > Z95 * np.sqrt(variance)
    at = int(np.searchsorted(grid, log_time))
    before, after = np.flatnonzero(outside[:at]), np.flatnonzero(outside[at:])
    if before.size == 0 or after.size == 0:
        return None
    return float(grid[before[-1]]), float(grid[at + after[0]])


def time_for_contrast(family: DevelopmentFamily, aim: float, name: str = "time_for_aim_contrast") -> Measure:
    """Development time that gives an aim contrast, between tested times only.

    Parameters
    ----------
    family : DevelopmentFamily
        Contrasts by time.
    aim : float, scalar [unit of the family's contrast]
        Contrast wanted.
    name : str
        Name of the measure.

    Returns
    -------
    Measure
        The time [min]: log-linear between the two tested times around it. Withheld with
        ``TOO_FEW_TIMES``, ``BELOW_RANGE`` or ``NOT_REACHED`` when the aim lies outside the tested
        contrasts, ``NON_MONOTONE`` when contrast only falls through it, ``NO_RISE`` when the interval
        has no end because the contrast hardly rises.

    Examples
    --------
    >>> family = DevelopmentFamily.of([6, 8, 11], [0.68, 0.78, 0.90], 0.01)
    >>> round(time_for_contrast(family, 0.80).value, 3)
    8.436
    """
    if not is_usable(aim):
        return withheld(name, "INVALID_INPUT", "min")
    i, reason = _segment(family, aim)
    if reason:
        return withheld(name, reason, "min", _tested(family))
    log_time = _log_time_at(family, aim, i)
    ends = _agreeing_times(family, aim, log_time)
    if ends is None:
        return withheld(name, "NO_RISE", "min", "the interval of the time has no end")
    return Measure(name, 10**log_time, 10 ** ends[0], 10 ** ends[1], "min", None, _caution(family, aim))


def _log_time_at(family: DevelopmentFamily, aim: float, i: int) -> float:
    rise = family.contrast[i + 1] - family.contrast[i]
    share = (aim - family.contrast[i]) / rise
    return float(family.log_time[i] + share * (family.log_time[i + 1] - family.log_time[i]))


def _tested(family: DevelopmentFamily) -> str:
    if family.time_min.size < 2:
        return ""
    return (
        f"tested {family.time_min[0]:g} to {family.time_min[-1]:g} min, "
        f"contrast {np.min(family.contrast):.2f} to {np.max(family.contrast):.2f}"
    )


def _caution(family: DevelopmentFamily, aim: float) -> str:
    below = family.contrast < aim
    if np.count_nonzero(below[:-1] != below[1:]) > 1:
        return "contrast passes the aim more than once; the last rise counts"
    if family.time_min.size == 2:
        return "from two times only: a third is needed before this is relied on"
    return "interpolated in the logarithm of time"


def _on_scale(speed: float) -> str:
    step = rounded_speed(speed)
    return "outside the standard's scale" if step is None else f"ISO {step:g} on the standard's scale"


def speed_at_standard_contrast(
    family: DevelopmentFamily,
    log_exposure_m,
    log_exposure_m_sd,
    required: float = CONTRAST_AIM,
) -> dict[str, Measure]:
    """Time and speed at which a family meets the contrast condition of the speed standard.

    Parameters
    ----------
    family : DevelopmentFamily
        Density difference over 1.30 log exposure from the speed point [D], by time.
    log_exposure_m : array_like, shape (n,) [log10 lx s]
        Speed point at each of the family's times.
    log_exposure_m_sd : float or array_like, scalar or shape (n,) [log10 lx s]
        Standard errors of the speed points.
    required : float, scalar [D]
        Density difference that the standard requires.

    Returns
    -------
    dict of str to Measure
        ``standard_contrast_time`` [min], ``standard_contrast_speed_point`` [log10 lx s] and
        ``standard_contrast_speed`` [ISO arithmetic], ``0.8 / Hm`` before rounding to the standard's
        scale, with the rounded step in the note. All are withheld together.

    Raises
    ------
    SensitometryError
        When the speed points are not one for each time of the family.

    Notes
    -----
    The error of the speed holds that of the speed points and that of the time, through the slope of the
    speed point over contrast; the two are taken as independent.
    """
    x_m = np.asarray(log_exposure_m, dtype=float)
    if x_m.shape != family.time_min.shape:
        raise SensitometryError("BAD_SHAPE", "Give one speed point for each time of the family.")
    x_sd = np.broadcast_to(np.asarray(log_exposure_m_sd, dtype=float), x_m.shape)
    time = time_for_contrast(family, required, "standard_contrast_time")
    speed_names = (("standard_contrast_speed_point", "log10 lx s"), ("standard_contrast_speed", "ISO"))
    if time.value is None:
        rest = {name: withheld(name, time.reason, unit, time.note) for name, unit in speed_names}
        return {"standard_contrast_time": time, **rest}
    i, _ = _segment(family, required)
    if not is_usable(*x_m[i : i + 2], *x_sd[i : i + 2]):
        rest = {name: withheld(name, "INVALID_INPUT", unit) for name, unit in speed_names}
        return {"standard_contrast_time": time, **rest}
    log_time = np.array([_log_time_at(family, required, i)])
    share = float((log_time[0] - family.log_time[i]) / (family.log_time[i + 1] - family.log_time[i]))
    value = float((1 - share) * x_m[i] + share * x_m[i + 1])
    per_contrast = (x_m[i + 1] - x_m[i]) / (family.contrast[i + 1] - family.contrast[i])
    contrast_variance = float(_contrast_and_sd(family, log_time)[1][0])
    own = math.hypot((1 - share) * x_sd[i], share * x_sd[i + 1])
    sd = math.hypot(own, per_contrast * math.sqrt(contrast_variance))
    speed = float(speed_from_exposure(value))
    return {
        "standard_contrast_time": time,
        "standard_contrast_speed_point": measure_with_error(
            "standard_contrast_speed_point", value, sd, "log10 lx s", time.note
        ),
        "standard_contrast_speed": measure_with_log_error(
            "standard_contrast_speed", speed, sd, "ISO", _on_scale(speed)
        ),
    }
