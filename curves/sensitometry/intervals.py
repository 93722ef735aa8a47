"""Measures with a 95 % interval from a standard error: on a plain, a logarithmic, and a mixed scale."""

import math

from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from curves.sensitometry.measures import Measure

Z95 = float(ndtri(0.975))
GREATEST = 1e12  # no quantity of the trade comes near; beyond it arithmetic could overflow
NO_INTERVAL_NOTE = "no interval: the spread of the readings was not given"


def _joined(*notes: str) -> str:
    return "; ".join(note for note in notes if note)


def measure_with_error(name: str, value: float, sd: float | None, unit: str = "", note: str = "") -> Measure:
    """A measure whose error is normal on its own scale.

    Parameters
    ----------
    name, unit, note : str
        As in `Measure`.
    value : float, scalar [unit]
        The estimate.
    sd : float or None, scalar [unit]
        Its standard error; None leaves the interval out and says so in the note.

    Returns
    -------
    Measure
        ``value`` with ``value -/+ 1.96 sd``.

    Examples
    --------
    >>> measure_with_error("contrast", 0.60, 0.01).low
    0.5804...
    """
    if sd is None:
        return Measure(name, float(value), None, None, unit, None, _joined(note, NO_INTERVAL_NOTE))
    return Measure(name, float(value), float(value - Z95 * sd), float(value + Z95 * sd), unit, None, note)


def measure_with_log_error(
    name: str, value: float, log_sd: float | None, unit: str = "", note: str = ""
) -> Measure:
    """A positive measure (a time, a speed) whose decimal logarithm has a normal error.

    Parameters
    ----------
    name, unit, note : str
        As in `Measure`.
    value : float, scalar [unit]
        The estimate, above zero.
    log_sd : float or None, scalar [log10 unit]
        Standard error of its decimal logarithm; None leaves the interval out and says so.

    Returns
    -------
    Measure
        ``value`` with ``value * 10**(-/+ 1.96 log_sd)``.
    """
    if log_sd is None:
        return Measure(name, float(value), None, None, unit, None, _joined(note, NO_INTERVAL_NOTE))
    factor = 10 ** (Z95 * log_sd)
    return Measure(name, float(value), float(value / factor), float(value * factor), unit, None, note)


def mixed_half_width(half_range: float, sd: float, coverage: float = 0.95) -> float:
    """Half-width of the interval of a rounding error (uniform) plus a normal error.

    Parameters
    ----------
    half_range : float, scalar [any]
        The rounding error lies evenly within -/+ this.
    sd : float, scalar [same unit]
        Standard deviation of the normal error.
    coverage : float, scalar [share]
        Share of cases the interval is to hold.

    Returns
    -------
    float
        Half-width, scalar [same unit].

    Notes
    -----
    Solves ``P(|U + N| <= h) = coverage`` by the closed form of the integral of the normal
    distribution function. A normal interval from the summed variances would be too wide for rounding
    alone (1.13 instead of 0.95 of the half range).

    Examples
    --------
    >>> round(mixed_half_width(1 / 6, 0.0), 4)   # nearest of frames a third of a stop apart
    0.1583
    """
    if sd <= 0:
        return coverage * half_range
    if half_range <= 0:
        return float(ndtri(0.5 + coverage / 2) * sd)

    def antiderivative(z):
        return z * ndtr(z) + math.exp(-z * z / 2) / math.sqrt(2 * math.pi)

    def shortfall(h):
        # P(U + N <= h) for U uniform on -/+ half_range; the sum is symmetric about zero.
        below = antiderivative((h + half_range) / sd) - antiderivative((h - half_range) / sd)
        return 2 * below * sd / (2 * half_range) - 1 - coverage

    # A uniform so narrow against the normal that the difference quotient drowns in rounding.
    if half_range < 1e-6 * sd:
        return float(ndtri(0.5 + coverage / 2) * sd)
    return float(brentq(shortfall, 0.0, half_range + 10 * sd))


def is_usable(*numbers: float | None) -> bool:
    """Whether every number is there, finite, and within `GREATEST` of zero, scalars [any unit]."""
    return all(number is not None and abs(number) <= GREATEST for number in numbers)
