"""Several rolls of one stock: mean and spread from roll to roll, honest when the rolls are few.

Normal random effects with a half-normal prior on the spread, integrated on a grid. With two or three
rolls the data say little about the spread; the prior then keeps it near what processing usually does
instead of at zero.

References
----------
Gelman, A. (2006). Prior distributions for variance parameters in hierarchical models. Bayesian Analysis
    1, 515-533.
Röver, C. (2020). Bayesian random-effects meta-analysis using the bayesmeta R package. Journal of
    Statistical Software 93(6).
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

GRID = 200


@dataclass(frozen=True, slots=True)
class RandomEffects:
    """Pooled mean and spread.

    Parameters
    ----------
    mean, standard_error : float, scalar [unit of the data]
        Posterior mean of the common mean and its standard deviation.
    spread : float, scalar [unit of the data]
        Standard deviation from roll to roll (root of its posterior mean square).
    weights : ndarray, shape (n,) [1]
        Share of each roll in the mean.
    p_value : float, scalar [1]
        Chance of such differences from reading error alone (chi-square test).
    """

    mean: float
    standard_error: float
    spread: float
    weights: np.ndarray
    p_value: float


def pool_random_effects(values, errors, prior_scale: float) -> RandomEffects:
    """Pool one number of several rolls.

    Parameters
    ----------
    values, errors : array_like, shape (n,) [any unit]
        Each roll's number and its standard error from reading.
    prior_scale : float, scalar [the same unit]
        Scale of the half-normal prior of the spread from roll to roll.

    Returns
    -------
    RandomEffects

    Examples
    --------
    >>> pooled = pool_random_effects([1.0, 1.2, 0.8], [0.01, 0.01, 0.01], 0.2)
    >>> round(pooled.mean, 3), pooled.p_value < 0.001
    (1.0, True)
    """
    values = np.asarray(values, dtype=float)
    errors = np.maximum(np.asarray(errors, dtype=float), 1e-9)
    largest = max(5.0 * prior_scale, 4.0 * float(np.ptp(values)))
    spread = np.linspace(0.0, largest, GRID)
    variance = errors[:, None] ** 2 + spread**2
    precision = 1.0 / variance
    total = precision.sum(axis=0)
    mean = (precision * values[:, None]).sum(axis=0) / total
    misfit = (precision * (values[:, None] - mean) ** 2).sum(axis=0)
    log_weight = -0.5 * (np.log(variance).sum(axis=0) + np.log(total) + misfit + (spread / prior_scale) ** 2)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    centre = float(weight @ mean)
    squared = float(weight @ (1.0 / total + (mean - centre) ** 2))
    fixed = 1.0 / errors**2
    fixed_mean = (fixed @ values) / fixed.sum()
    heterogeneity = float(fixed @ (values - fixed_mean) ** 2)
    return RandomEffects(
        mean=centre,
        standard_error=float(np.sqrt(squared)),
        spread=float(np.sqrt(weight @ spread**2)),
        weights=(precision / total) @ weight,
        p_value=float(chdtrc(max(len(values) - 1, 1), heterogeneity)),
    )


def pooled_means(values, errors, prior_scale: float) -> tuple[np.ndarray, np.ndarray]:
    """Pool one number of each of many stocks that have equally many rolls, all at once.

    Parameters
    ----------
    values, errors : array_like, shape (m, n) [any unit]
        Each roll's number and its standard error from reading, a stock a row.
    prior_scale : float, scalar [the same unit]
        Scale of the half-normal prior of the spread from roll to roll.

    Returns
    -------
    mean, standard_error : ndarray, shape (m,) [the same unit]
        As `pool_random_effects` finds them one by one.

    Examples
    --------
    >>> mean, error = pooled_means([[1.0, 1.2, 0.8], [2.0, 2.0, 2.0]], [[0.01] * 3] * 2, 0.2)
    >>> mean.round(3).tolist()
    [1.0, 2.0]
    """
    values = np.asarray(values, dtype=float)[:, :, None]
    errors = np.maximum(np.asarray(errors, dtype=float), 1e-9)[:, :, None]
    largest = np.maximum(5.0 * prior_scale, 4.0 * np.ptp(values, axis=1))
    spread = largest * np.linspace(0.0, 1.0, GRID)
    variance = errors**2 + spread[:, None, :] ** 2
    precision = 1.0 / variance
    total = precision.sum(axis=1)
    mean = (precision * values).sum(axis=1) / total
    misfit = (precision * (values - mean[:, None, :]) ** 2).sum(axis=1)
    log_weight = -0.5 * (np.log(variance).sum(axis=1) + np.log(total) + misfit + (spread / prior_scale) ** 2)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    centre = (weight * mean).sum(axis=1)
    squared = (weight * (1.0 / total + (mean - centre[:, None]) ** 2)).sum(axis=1)
    return centre, np.sqrt(squared)
