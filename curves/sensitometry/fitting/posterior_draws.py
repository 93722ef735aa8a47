"""Draws of curves from a best estimate and the modes of its error: fixed, in pairs, with exact moments."""

from functools import lru_cache

import numpy as np

DRAW_PAIRS = 64
ROWS_PER_CURVE = 1 + 2 * DRAW_PAIRS
_SEED = 20240229


def with_draws(best, modes):
    """Each curve's best estimate followed by its draws.

    The draws come in pairs on either side of the best estimate and their covariance is exactly that of the
    modes, so whatever depends linearly on the curve has its exact standard error from so few of them.

    Parameters
    ----------
    best : ndarray, shape (b, g) [D]
        Best estimates.
    modes : ndarray, shape (b, r, g) [D]
        The error of each is ``z @ modes``, z standard normal.

    Returns
    -------
    rows : ndarray, shape (b, 1 + 2 p, g) [D]
    """
    away = standard_pairs(modes.shape[1]) @ modes
    middle = best[:, None, :]
    return np.concatenate([middle, middle + away, middle - away], axis=1)


@lru_cache
def standard_pairs(count: int):
    """One of each pair of draws; with its opposite the covariance is exactly the identity.

    Parameters
    ----------
    count : int, scalar [1]
        Dimensions, fewer than the pairs.

    Returns
    -------
    draws : ndarray, shape (p, count) [1]
    """
    raw = np.random.default_rng(_SEED).standard_normal((DRAW_PAIRS, count))
    return raw @ np.linalg.inv(np.linalg.cholesky(raw.T @ raw / DRAW_PAIRS)).T
