"""Check readings of an instrument on a reference tablet: its zero, span and straightness, and their drift."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.controlling.within_spread import usable_points
from curves.sensitometry.intervals import is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld

LEVELS = ("zero", "mid", "high")
FEWEST_CHECKS = 5  # on different days; house rule
SHORTEST_SPAN_DAYS = 7.0  # house rule
MONTH_DAYS = 30.0
TOLERANCE = 0.02  # D; house limit between instruments
FINDINGS = {
    "zero_off": "The zero is off by more than the tolerance: zero the instrument and check it again.",
    "span_off": "High densities are off beyond what the zero explains, by more than the tolerance: "
    "calibrate it.",
    "bent": "The middle is off the line between zero and high by more than the tolerance: no correction by a "
    "line will mend it.",
    "zero_drifts": "The zero drifts.",
    "span_drifts": "The span drifts.",
    "bend_drifts": "The straightness drifts.",
}


@dataclass(frozen=True, slots=True)
class CheckedQuantity:
    """One thing that check readings tell.

    Parameters
    ----------
    name : str
        ``zero``, ``mid``, ``high`` (reading less certificate), ``span`` (high less zero) or ``bend`` (mid
        less the line between zero and high).
    days : tuple of float, shape (n,) [days]
        When it was checked.
    deviations : tuple of float, shape (n,) [D]
        What was found.
    latest : Measure
        ``check_deviation`` [D] of the last check; its interval holds the uncertainties of reading and
        certificate.
    drift : Measure
        ``check_drift`` [D per 30 days], or why it cannot be told.
    is_within : bool or None
        Whether the last deviation keeps the tolerance.
    """

    name: str
    days: tuple[float, ...]
    deviations: tuple[float, ...]
    latest: Measure
    drift: Measure
    is_within: bool | None

    @property
    def is_drifting(self) -> bool | None:
        """Whether the drift's interval leaves zero out; None where it cannot be told."""
        if self.drift.value is None:
            return None
        return not self.drift.low <= 0 <= self.drift.high

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "name": self.name,
            "days": list(self.days),
            "deviations": list(self.deviations),
            "latest": self.latest.to_dict(),
            "drift": self.drift.to_dict(),
            "is_within": self.is_within,
            "is_drifting": self.is_drifting,
        }


@dataclass(frozen=True, slots=True)
class CheckTrend:
    """What the check readings of an instrument say.

    Parameters
    ----------
    quantities : dict of str to CheckedQuantity
        ``zero``, ``mid``, ``high``, ``span`` and ``bend``.
    findings : tuple of str
        Keys of `FINDINGS`.
    state : str
        ``steady``, ``attention`` or ``unproven`` (a level was never read).
    tolerance : float, scalar [D]
        What was allowed.
    """

    quantities: dict[str, CheckedQuantity]
    findings: tuple[str, ...]
    state: str
    tolerance: float

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "quantities": {name: each.to_dict() for name, each in self.quantities.items()},
            "findings": [{"key": key, "text": FINDINGS[key]} for key in self.findings],
            "state": self.state,
            "tolerance": self.tolerance,
        }


def check_trend(
    days: Sequence[float],
    readings: Mapping[str, Sequence[float]],
    certified: Mapping[str, tuple[float, float]],
    *,
    reading_sd: float = 0.005,
    tolerance: float = TOLERANCE,
) -> CheckTrend:
    """Deviation and drift of an instrument at three densities.

    Parameters
    ----------
    days : sequence of float, shape (n,) [days]
        When each check was made, from any start.
    readings : mapping of str to sequence of float, shape (n,) [D]
        Readings at ``zero``, ``mid`` and ``high``; a missing one is passed over.
    certified : mapping of str to tuple, scalars [D]
        Density and standard uncertainty of each level.
    reading_sd : float, scalar [D]
        Standard uncertainty of one reading.
    tolerance : float, scalar [D]
        Deviation that is allowed.

    Returns
    -------
    CheckTrend
        Drift is withheld with ``TOO_FEW_POINTS`` below five checks or a week.

    Raises
    ------
    SensitometryError
        For lists of unequal length, a missing level, or certified densities that do not rise.
    """
    when = usable_points(days)
    _check_certificate(certified, reading_sd, tolerance)
    series = {}
    for level in LEVELS:
        read = usable_points(readings.get(level, np.full(when.size, np.nan)))
        if read.shape != when.shape:
            raise SensitometryError("LENGTHS_DIFFER", "Give one reading of each level for each day.")
        series[level] = read - certified[level][0]
    share = (certified["mid"][0] - certified["zero"][0]) / (certified["high"][0] - certified["zero"][0])
    series["span"] = series["high"] - series["zero"]
    series["bend"] = series["mid"] - (1 - share) * series["zero"] - share * series["high"]
    sd = {level: (reading_sd, certified[level][1]) for level in LEVELS}
    sd["span"] = tuple(math.hypot(a, b) for a, b in zip(sd["high"], sd["zero"], strict=True))
    sd["bend"] = tuple(
        math.hypot(m, (1 - share) * z, share * h)
        for m, z, h in zip(sd["mid"], sd["zero"], sd["high"], strict=True)
    )
    quantities = {name: _checked(name, when, series[name], sd[name], tolerance) for name in series}
    findings = _findings(quantities)
    unread = any(not each.days for each in quantities.values())
    state = "attention" if findings else "unproven" if unread else "steady"
    return CheckTrend(quantities, findings, state, float(tolerance))


def _check_certificate(certified, reading_sd: float, tolerance: float) -> None:
    if set(certified) != set(LEVELS) or not all(is_usable(*certified[level]) for level in LEVELS):
        raise SensitometryError("NO_CERTIFICATE", f"State density and uncertainty of {', '.join(LEVELS)}.")
    densities = [certified[level][0] for level in LEVELS]
    if not densities[0] < densities[1] < densities[2] or min(certified[level][1] for level in LEVELS) < 0:
        raise SensitometryError("NO_CERTIFICATE", "The certified densities must rise from zero to high.")
    if not (is_usable(reading_sd, tolerance) and min(reading_sd, tolerance) > 1e-6):
        raise SensitometryError("BAD_SD", "Reading uncertainty and tolerance must be above zero.")


def _checked(name, days, deviations, sds, tolerance: float) -> CheckedQuantity:
    known = np.isfinite(days) & np.isfinite(deviations)
    order = np.argsort(days[known], kind="stable")
    when, found = days[known][order], deviations[known][order]
    if not found.size:
        nothing = withheld("check_deviation", "TOO_FEW_POINTS", "D", "never read")
        drift = withheld("check_drift", "TOO_FEW_POINTS", _DRIFT_UNIT, "never read")
        return CheckedQuantity(name, (), (), nothing, drift, None)
    latest = measure_with_error("check_deviation", float(found[-1]), math.hypot(*sds), "D")
    is_within = bool(abs(found[-1]) <= tolerance * (1 + 1e-9))
    return CheckedQuantity(
        name, tuple(when.tolist()), tuple(found.tolist()), latest, _drift(when, found, sds[0]), is_within
    )


_DRIFT_UNIT = "D per 30 days"


def _drift(days: np.ndarray, deviations: np.ndarray, reading_sd: float) -> Measure:
    name = "check_drift"
    different = np.unique(np.floor(days)).size
    if different < FEWEST_CHECKS or np.ptp(days) < SHORTEST_SPAN_DAYS:
        note = f"at least {FEWEST_CHECKS} days over {SHORTEST_SPAN_DAYS:g} days are needed"
        return withheld(name, "TOO_FEW_POINTS", _DRIFT_UNIT, note)
    away = (days - days.mean()) / MONTH_DAYS
    square = float(away @ away)
    slope = float(away @ deviations) / square
    residual = deviations - deviations.mean() - slope * away
    degrees = days.size - 2
    # Rounded readings that are all alike do not prove a drift of nothing: the reading error stays.
    variance = max(float(residual @ residual) / degrees, reading_sd**2 / 4)
    reach = float(stdtrit(degrees, 0.975)) * math.sqrt(variance / square)
    note = f"{days.size} checks over {np.ptp(days):.0f} days"
    return Measure(name, slope, slope - reach, slope + reach, _DRIFT_UNIT, None, note)


def _findings(quantities: dict[str, CheckedQuantity]) -> tuple[str, ...]:
    off = {"zero": "zero_off", "span": "span_off", "bend": "bent"}
    drifting = {"zero": "zero_drifts", "span": "span_drifts", "bend": "bend_drifts"}
    found = [key for name, key in off.items() if quantities[name].is_within is False]
    found += [key for name, key in drifting.items() if quantities[name].is_drifting]
    return tuple(found)
