"""A map of stocks on which near relatives lie near each other: classical scaling of stated distances.

The distance of two stocks is the root mean square of their differences in speed, contrast and the parts of
the shape, each in multiples of its margin; a measure that either stock lacks is left out of the mean.

References
----------
Torgerson, W. S., Psychometrika 17, 401 (1952), classical multidimensional scaling, from memory; the result
is checked against known configurations.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.comparing.equivalence import Margin
from curves.sensitometry.measures import SensitometryError


@dataclass(frozen=True, slots=True, eq=False)
class SimilarityMap:
    """Places of stocks on a plane.

    Parameters
    ----------
    places : ndarray, shape (k, 2) [margins]
        Across and up; only distances mean anything.
    distances : ndarray, shape (k, k) [margins]
        The distances that the map stands for; NaN where two stocks share no measure.
    shown_share : float, scalar [share]
        How much of the spread between stocks the plane shows.
    """

    places: np.ndarray
    distances: np.ndarray
    shown_share: float


def measure_distances(
    stocks: Sequence[Mapping[str, float | None]], margins: Mapping[str, Margin]
) -> np.ndarray:
    """Distances between stocks in multiples of the margins.

    Parameters
    ----------
    stocks : sequence of mapping of str to (float or None), k stocks
        Each stock's differences from one anchor [stop, natural log of the ratio, D].
    margins : mapping of str to Margin
        The measures and their units of distance.

    Returns
    -------
    ndarray, shape (k, k) [margins]
        NaN where two stocks share no measure.
    """
    widths = {name: margin.limits[1] for name, margin in margins.items()}
    table = np.array(
        [
            [np.nan if stock.get(name) is None else stock[name] / width for name, width in widths.items()]
            for stock in stocks
        ],
        dtype=float,
    ).reshape(len(stocks), len(widths))
    squares = (table[:, None, :] - table[None, :, :]) ** 2
    counts = np.isfinite(squares).sum(axis=2)
    total = np.nansum(squares, axis=2)
    return np.where(counts > 0, np.sqrt(total / np.maximum(counts, 1)), np.nan)


def similarity_map(distances) -> SimilarityMap:
    """Classical scaling of distances to a plane.

    Parameters
    ----------
    distances : array_like, shape (k, k) [margins]
        Symmetric, with zeros on the diagonal; all finite.

    Returns
    -------
    SimilarityMap
        Turned so that the stock of most extreme place across lies to the right, the same on every machine.

    Raises
    ------
    SensitometryError
        When the distances are no square table of finite numbers.

    Examples
    --------
    >>> found = similarity_map([[0.0, 3.0, 5.0], [3.0, 0.0, 4.0], [5.0, 4.0, 0.0]])
    >>> round(float(np.linalg.norm(found.places[0] - found.places[2])), 6), round(found.shown_share, 6)
    (5.0, 1.0)
    """
    table = np.asarray(distances, dtype=float)
    if table.ndim != 2 or table.shape[0] != table.shape[1] or not np.all(np.isfinite(table)):
        raise SensitometryError("BAD_DISTANCES", "Give a square table of finite distances.")
    count = len(table)
    if count < 2:
        return SimilarityMap(np.zeros((count, 2)), table, 1.0)
    centred = np.eye(count) - 1.0 / count
    inner = -0.5 * centred @ (table**2) @ centred
    values, vectors = np.linalg.eigh((inner + inner.T) / 2)
    values, vectors = values[::-1], vectors[:, ::-1]
    places = np.zeros((count, 2))
    kept = min(2, count)
    places[:, :kept] = vectors[:, :kept] * np.sqrt(np.maximum(values[:kept], 0.0))
    # The sign of an eigenvector is an accident of the machine.
    for axis in range(2):
        far = places[np.argmax(np.abs(places[:, axis]).round(9)), axis]
        places[:, axis] *= -1.0 if far < 0 else 1.0
    total = float(np.abs(values).sum())
    share = float(np.maximum(values[:kept], 0.0).sum()) / total if total > 0 else 1.0
    return SimilarityMap(places, table, share)
