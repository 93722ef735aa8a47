"""How the development time changes with temperature, within the tested temperatures only.

References
----------
Temperature coefficients from 1.5 to 4 for ten degrees: after Sheppard, S. E. & Mees, C. E. K., read in
secondary texts. Rate over temperature by an activation energy: Arrhenius' law.
"""

import math

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.intervals import Z95, is_usable, measure_with_log_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld

GAS_CONSTANT = 8.314462618  # J/(mol K)
KELVIN = 273.15
DEFAULT_TESTED_C = (18.0, 24.0)  # nothing outside is answered unless the lab tested it


def time_at_temperature(
    time_min: float,
    temperature_c: float,
    coefficient: float,
    *,
    coefficient_sd: float | None = None,
    known_at_c: float = 20.0,
    tested_c: tuple[float, float] = DEFAULT_TESTED_C,
) -> Measure:
    """Time that gives at another temperature the contrast known at one.

    Parameters
    ----------
    time_min : float, scalar [min]
        Development time at ``known_at_c``.
    temperature_c : float, scalar [°C]
        Temperature to work at.
    coefficient : float, scalar [1]
        Temperature coefficient Q10 of this developer and film: rate gained in ten degrees.
    coefficient_sd : float or None, scalar [1]
        Its standard error.
    known_at_c : float, scalar [°C]
        Temperature of the known time.
    tested_c : tuple of float, shape (2,) [°C]
        Range within which the coefficient was tested.

    Returns
    -------
    Measure
        ``time_at_temperature`` [min], ``t * Q10**((known - T) / 10)``; ``OUTSIDE_TESTED_RANGE`` when
        either temperature lies outside the tested range.

    Examples
    --------
    >>> round(time_at_temperature(10, 24, 2.5).value, 2)
    6.93
    """
    name, unit = "time_at_temperature", "min"
    if not is_usable(time_min, temperature_c, coefficient, known_at_c, *tested_c):
        return withheld(name, "INVALID_INPUT", unit)
    if time_min <= 0 or not 0.1 < coefficient < 100:
        return withheld(name, "INVALID_INPUT", unit, "time and coefficient must be sensible and above zero")
    low, high = sorted(tested_c)
    if not (low <= temperature_c <= high and low <= known_at_c <= high):
        return withheld(name, "OUTSIDE_TESTED_RANGE", unit, f"tested {low:g} to {high:g} °C")
    tens = (known_at_c - temperature_c) / 10
    log_sd = None if coefficient_sd is None else abs(tens * coefficient_sd / coefficient) / math.log(10)
    return measure_with_log_error(name, time_min * coefficient**tens, log_sd, unit)


def coefficient_from_activation_energy(
    energy_kj_mol: float, low_c: float = 20.0, high_c: float = 30.0
) -> float:
    """Temperature coefficient between two temperatures of a process with an activation energy.

    Parameters
    ----------
    energy_kj_mol : float, scalar [kJ/mol]
        Activation energy.
    low_c, high_c : float, scalars [°C]
        The two temperatures.

    Returns
    -------
    float
        ``exp(E/R (1/T1 - 1/T2))`` raised to ten over their difference, scalar [1].

    Examples
    --------
    >>> round(coefficient_from_activation_energy(67.7), 2)
    2.5
    """
    if not is_usable(energy_kj_mol, low_c, high_c) or min(low_c, high_c) <= -KELVIN or low_c == high_c:
        raise SensitometryError("IMPOSSIBLE_TEMPERATURE", "Give an energy and two different temperatures.")
    inverse_difference = 1 / (low_c + KELVIN) - 1 / (high_c + KELVIN)
    return math.exp(1000 * energy_kj_mol / GAS_CONSTANT * inverse_difference * 10 / (high_c - low_c))


def fit_temperature_coefficient(temperature_c, time_min, log_time_sd: float | None = None) -> Measure:
    """Temperature coefficient from times that gave the same contrast at several temperatures.

    Parameters
    ----------
    temperature_c : array_like, shape (n,) [°C]
        Temperatures.
    time_min : array_like, shape (n,) [min]
        Times for the same contrast.
    log_time_sd : float or None, scalar [log10 min]
        Standard error of each log time; None takes it from the scatter, which needs three tests.

    Returns
    -------
    Measure
        ``temperature_coefficient`` [1], for ten degrees; its interval is Student's when the error is
        taken from the scatter.

    Raises
    ------
    SensitometryError
        When the lists differ in length.
    """
    name = "temperature_coefficient"
    temperature, time = np.asarray(temperature_c, dtype=float), np.asarray(time_min, dtype=float)
    if temperature.shape != time.shape or temperature.ndim != 1:
        raise SensitometryError("BAD_SHAPE", "Give one time for each temperature.")
    usable = (np.abs(temperature) < 100) & (time > 1e-3) & (time < 1e6)
    x, y = temperature[usable], np.log10(time[usable])
    if np.unique(x).size < 2 or np.ptp(x) < 0.5:
        return withheld(name, "TOO_FEW_POINTS", note="needs at least two temperatures half a degree apart")
    spread = float(np.sum((x - x.mean()) ** 2))
    slope = float((x - x.mean()) @ y / spread)
    if abs(slope) > 0.2:
        return withheld(name, "ILL_DEFINED", note="the times differ too much for so little temperature")
    value = 10 ** (-10 * slope)
    if log_time_sd is not None:
        return measure_with_log_error(name, value, 10 * log_time_sd / math.sqrt(spread))
    if x.size < 3:
        return measure_with_log_error(name, value, None)
    residual = y - y.mean() - slope * (x - x.mean())
    sd = math.sqrt(float(residual @ residual) / (x.size - 2) / spread)
    return measure_with_log_error(name, value, 10 * sd * float(stdtrit(x.size - 2, 0.975)) / Z95)
