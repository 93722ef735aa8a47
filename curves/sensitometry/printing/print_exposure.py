"""Print exposure: compensating base plus fog, holding a tone, and timing in stops.

Conventions. Density differences of the negative act on the paper through the enlarger's Callier factor
Q, 1 for diffuse light and up to about 1.5 for a condenser with a silver image. Exposure on the paper
is ``log H = log(E0 t) - Q D``, with E0 the illuminance at the easel without a negative.

References
----------
Formulas: common practice, derived from the definition of density. The Callier factor's range is from
memory.
"""

import math

import numpy as np

from curves.sensitometry.intervals import is_usable, measure_with_log_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld
from curves.sensitometry.sampled_curve import SampledCurve

LEAST_CALLIER, GREATEST_CALLIER = 0.8, 3.0
FLATTEST = 0.02  # D per log10 exposure; on a flatter curve the exposure of a tone means nothing


def print_time_for_density_change(
    time_s: float,
    density_change: float,
    density_sd: float | None = None,
    *,
    callier_factor: float = 1.0,
    callier_sd: float = 0.0,
) -> Measure:
    """Print time that holds a tone when the negative's density there changes.

    Parameters
    ----------
    time_s : float, scalar [s]
        Time that was right for the first negative.
    density_change : float, scalar [D]
        Density of the second negative less that of the first, at the tone to be held. With the
        difference of base plus fog only the base is compensated, and the films' contrast shows.
    density_sd : float or None, scalar [D]
        Standard error of the change.
    callier_factor, callier_sd : float, scalars [ratio]
        Q of the enlarger and its standard error.

    Returns
    -------
    Measure
        ``print_time`` [s], ``t * 10**(change * Q)``.

    Examples
    --------
    >>> round(print_time_for_density_change(10, 0.15, callier_factor=1.3).value, 2)
    15.67
    """
    if not is_usable(time_s, density_change, callier_factor, callier_sd, density_sd or 0.0):
        return withheld("print_time", "INVALID_INPUT", "s")
    if time_s <= 0 or abs(density_change) > 6:
        return withheld("print_time", "INVALID_INPUT", "s", "the time must be above zero, densities sensible")
    if not LEAST_CALLIER <= callier_factor <= GREATEST_CALLIER:
        return withheld("print_time", "INVALID_INPUT", "s", "a Callier factor lies between 0.8 and 3")
    value = time_s * 10 ** (density_change * callier_factor)
    if density_sd is None:
        return measure_with_log_error("print_time", value, None, "s")
    log_sd = math.hypot(callier_factor * density_sd, density_change * callier_sd)
    return measure_with_log_error("print_time", value, log_sd, "s")


def print_time_for_base(
    time_s: float,
    base_plus_fog: Measure,
    reference_base_plus_fog: Measure,
    *,
    callier_factor: float = 1.0,
    callier_sd: float = 0.0,
) -> Measure:
    """Print time that makes up for another base plus fog and for nothing else.

    Parameters
    ----------
    time_s : float, scalar [s]
        Time that was right for the reference.
    base_plus_fog, reference_base_plus_fog : Measure
        Base plus fog of the film and of the reference [D].
    callier_factor, callier_sd : float, scalars [ratio]
        Q of the enlarger and its standard error. Base and fog scatter little, so a diffuse Q of 1 is
        often nearer the truth for them than the Q of a dense image.

    Returns
    -------
    Measure
        ``print_time`` [s]; withheld with the reason of whichever base plus fog is missing.
    """
    for base in (base_plus_fog, reference_base_plus_fog):
        if base.value is None:
            return withheld("print_time", base.reason, "s", base.note)
    errors = base_plus_fog.standard_error, reference_base_plus_fog.standard_error
    sd = None if None in errors else math.hypot(*errors)
    change = base_plus_fog.value - reference_base_plus_fog.value
    return print_time_for_density_change(
        time_s, change, sd, callier_factor=callier_factor, callier_sd=callier_sd
    )


def print_time_for_tone(
    paper: SampledCurve,
    print_density: float,
    negative_density: float,
    log_illuminance: float,
    *,
    callier_factor: float = 1.0,
    negative_sd: float = 0.0,
    illuminance_log_sd: float = 0.0,
    callier_sd: float = 0.0,
) -> Measure:
    """Print time that gives a negative density a chosen print density.

    Parameters
    ----------
    paper : SampledCurve
        The paper's curve [D against log10 lx s].
    print_density : float, scalar [D]
        Density wanted in the print.
    negative_density : float, scalar [D]
        Gross density of the tone in the negative.
    log_illuminance : float, scalar [log10 lx]
        Illuminance at the easel without a negative.
    callier_factor : float, scalar [ratio]
        Q of the enlarger.
    negative_sd, illuminance_log_sd, callier_sd : float, scalars [D], [log10 lx], [ratio]
        Standard errors.

    Returns
    -------
    Measure
        ``print_time`` [s]; ``OUT_OF_PAPER_RANGE`` when the paper's measured curve has no such
        density, ``ILL_DEFINED`` where it is so flat that the exposure of the tone means nothing.
    """
    given = (print_density, negative_density, log_illuminance, callier_factor)
    if not is_usable(*given, negative_sd, illuminance_log_sd, callier_sd):
        return withheld("print_time", "INVALID_INPUT", "s")
    wanted = float(paper.exposure_at(print_density))
    if not math.isfinite(wanted):
        note = f"the paper was measured from {paper.density[0]:.2f} to {paper.density[-1]:.2f} D"
        return withheld("print_time", "OUT_OF_PAPER_RANGE", "s", note)
    slope = float(paper.gradient_at(wanted))
    if slope < FLATTEST:
        return withheld("print_time", "ILL_DEFINED", "s", "the paper's curve is flat at this density")
    log_time = wanted + callier_factor * negative_density - log_illuminance
    if abs(log_time) > 10:
        return withheld("print_time", "INVALID_INPUT", "s", "the time would be absurd: check the illuminance")
    paper_sd = float(np.linalg.norm(paper.error_at(wanted))) / slope
    log_sd = math.hypot(
        paper_sd, callier_factor * negative_sd, negative_density * callier_sd, illuminance_log_sd
    )
    return measure_with_log_error("print_time", 10**log_time, log_sd, "s")


def f_stop_times_s(base_time_s: float, step_stops: float, below: int, above: int) -> np.ndarray:
    """Print times in equal steps of exposure about a base time.

    Parameters
    ----------
    base_time_s : float, scalar [s]
        Middle time.
    step_stops : float, scalar [stop]
        Step between neighbours.
    below, above : int, scalars [count]
        How many shorter and longer times.

    Returns
    -------
    ndarray, shape (below + 1 + above,) [s]
        Rising.

    Examples
    --------
    >>> f_stop_times_s(10, 1 / 2, 1, 1).round(2).tolist()
    [7.07, 10.0, 14.14]
    """
    if not is_usable(base_time_s, step_stops) or base_time_s <= 0 or step_stops <= 0:
        raise SensitometryError("IMPOSSIBLE_SETTING", "The base time and the step must be above zero.")
    if not (0 <= below <= 30 and 0 <= above <= 30 and step_stops <= 4):
        raise SensitometryError("IMPOSSIBLE_SETTING", "At most 30 steps to a side, of at most 4 stops.")
    return base_time_s * 2.0 ** (step_stops * np.arange(-below, above + 1))


def strip_exposures_s(times_s) -> np.ndarray:
    """Exposures that build up the times on one strip, uncovered first and then covered step by step.

    Parameters
    ----------
    times_s : array_like, shape (n,) [s]
        Total times wanted, rising.

    Returns
    -------
    ndarray, shape (n,) [s]
        The shortest time for the whole strip, then what each next part gets on top.

    Examples
    --------
    >>> strip_exposures_s([5.0, 7.0, 10.0]).tolist()
    [5.0, 2.0, 3.0]
    """
    times = np.asarray(times_s, dtype=float)
    if times.ndim != 1 or not np.all(np.diff(times, prepend=0.0) > 0):
        raise SensitometryError("IMPOSSIBLE_SETTING", "The times must be above zero and rise.")
    return np.diff(times, prepend=0.0)
