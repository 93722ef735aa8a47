"""Intervals by resampling whole films, for a statistic that has no formula.

Films are drawn with replacement, each with all its readings; readings or pixels of one film are not
independent and are never drawn singly. Below four films no interval is given: the range is shown instead.
From four to eleven films resampled means hold the truth too seldom (at best in 87 % of cases for four), so
the interval is Student's with the jackknife's standard error.

References
----------
Efron, B. & Tibshirani, R. J., An Introduction to the Bootstrap (1993), bias-corrected and accelerated
interval (from memory). Hesterberg, T. C., The American Statistician 69, 371 (2015), expanded level for
small samples (from memory).
"""

import math
import warnings
from collections.abc import Callable, Sequence

import numpy as np
from scipy.special import ndtr, stdtrit

from curves.sensitometry.intervals import GREATEST
from curves.sensitometry.measures import Measure, SensitometryError, withheld

LEAST_FILMS = 4
LEAST_FOR_DRAWS = 12  # resampled means never leave the films' range, which is too narrow for fewer
LEAST_RESAMPLES = 2000


def resampled_films(
    name: str,
    films: Sequence[Sequence[float]],
    statistic: Callable[[np.ndarray], float] = np.mean,
    *,
    seed: int,
    resamples: int = LEAST_RESAMPLES,
    unit: str = "",
) -> Measure:
    """A statistic over films with its 95 % interval.

    Parameters
    ----------
    name, unit : str
        Of the measure.
    films : sequence of sequence of float, n films of any number of readings [unit]
        Readings by film; each film counts once, by the mean of its usable readings.
    statistic : callable
        From the films' means, shape (n,) [unit], to a number [unit]; with an ``axis`` argument it is
        called once for all resamples.
    seed : int, scalar [1]
        Of the random draws: the same seed gives the same interval.
    resamples : int, scalar [count]
        Draws, 2,000 at least.

    Returns
    -------
    Measure
        ``TOO_FEW_FILMS`` without any film; below four films the value without interval and the range
        in the note.
    """
    if resamples < LEAST_RESAMPLES:
        raise SensitometryError("TOO_FEW_RESAMPLES", f"At least {LEAST_RESAMPLES} resamples are needed.")
    means = np.array([mean for mean in map(_film_mean, films) if mean is not None])
    if means.size == 0:
        return withheld(name, "TOO_FEW_FILMS", unit)
    value = float(statistic(means))
    if not np.isfinite(value):
        return withheld(name, "ILL_DEFINED", unit, "the statistic is not defined for these films")
    if means.size < LEAST_FILMS:
        note = f"no interval from {means.size} films; they range from {means.min():.4g} to {means.max():.4g}"
        return Measure(name, value, unit=unit, note=note)
    if np.ptp(means) == 0:
        return Measure(name, value, unit=unit, note="no interval: the films read exactly alike")
    if means.size < LEAST_FOR_DRAWS:
        ends, note = _jackknife_ends(means, statistic, value), f"jackknife of {means.size} films"
    else:
        ends = _drawn_ends(means, statistic, seed, resamples)
        note = f"{resamples} resamples of {means.size} films"
    if not np.all(np.isfinite(ends)):
        return withheld(name, "ILL_DEFINED", unit, "the statistic is not defined for some resamples")
    return Measure(name, value, *ends, unit, None, note)


def _jackknife_ends(means: np.ndarray, statistic, value: float) -> tuple[float, float]:
    left_out = np.array([statistic(np.delete(means, i)) for i in range(means.size)])
    sd = math.sqrt((means.size - 1) * float(np.var(left_out)))
    reach = float(stdtrit(means.size - 1, 0.975)) * sd
    return value - reach, value + reach


def _drawn_ends(means: np.ndarray, statistic, seed: int, resamples: int) -> tuple[float, float]:
    # Here and not above: the rest of the site would wait half a second for it at every start.
    from scipy.stats import DegenerateDataWarning, bootstrap

    with warnings.catch_warnings():
        # The caller's check for NaN answers a statistic that some resamples leave undefined.
        warnings.simplefilter("ignore", DegenerateDataWarning)
        found = bootstrap(
            (means,),
            statistic,
            n_resamples=resamples,
            confidence_level=_expanded_level(means.size),
            method="BCa",
            rng=np.random.default_rng(seed),
        ).confidence_interval
    return float(found.low), float(found.high)


def _expanded_level(films: int) -> float:
    """Level that makes up for the narrowness of resampled intervals of few films.

    A resampled spread is too small by sqrt((n - 1) / n), and its quantiles are normal, not Student's.
    """
    half_width = math.sqrt(films / (films - 1)) * float(stdtrit(films - 1, 0.975))
    return 1 - 2 * float(ndtr(-half_width))


def _film_mean(readings) -> float | None:
    values = np.asarray(readings, dtype=float).ravel()
    with np.errstate(invalid="ignore"):
        values = values[np.abs(values) < GREATEST]
    return float(values.mean()) if values.size else None
