"""Straight lines to straight lines: the perspective that carries a flat sheet into a picture of it."""

from __future__ import annotations

import numpy as np

from scans.imaging.measures import ImagingError

LEAST_AREA = 1e-6
"""Of a corner's triangle against the square of the longest side, below which three points lie in a line."""


def fit_homography(places, found) -> np.ndarray:
    """The perspective that carries places to where they were found.

    Parameters
    ----------
    places, found : array_like, shape (n, 2) [any unit]
        At least four, no three of the first four in a line; with more, least squares after normalising.

    Returns
    -------
    matrix : ndarray, shape (3, 3) [found / place]
        Last element 1.

    References
    ----------
    R. Hartley and A. Zisserman, Multiple View Geometry in Computer Vision, 2nd edition 2004, algorithm 4.2
    (normalised direct linear transformation); from memory.
    """
    places, found = np.asarray(places, float), np.asarray(found, float)
    if places.shape != found.shape or places.ndim != 2 or places.shape[1] != 2 or len(places) < 4:
        raise ImagingError("BAD_CORNERS", "A perspective needs at least four pairs of points.")
    if not (np.isfinite(places).all() and np.isfinite(found).all()):
        raise ImagingError("BAD_CORNERS", "Corners have finite x and y.")
    if not (_is_quadrilateral(places[:4]) and _is_quadrilateral(found[:4])):
        raise ImagingError("BAD_CORNERS", "The corners lie in a line or cross over; set them around it.")
    before, after = _normalising(places), _normalising(found)
    rows = []
    for (x, y), (u, v) in zip(carried(before, places), carried(after, found), strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    _, _, right = np.linalg.svd(np.array(rows))
    matrix = np.linalg.inv(after) @ right[-1].reshape(3, 3) @ before
    return matrix / matrix[2, 2]


def carried(matrix, points) -> np.ndarray:
    """Carry points.

    Parameters
    ----------
    matrix : array_like, shape (3, 3) [target / source]
    points : array_like, shape (n, 2) [source]

    Returns
    -------
    points : ndarray, shape (n, 2) [target]
    """
    matrix, points = np.asarray(matrix, float), np.asarray(points, float)
    with_depth = points @ matrix[:, :2].T + matrix[:, 2]
    return with_depth[:, :2] / with_depth[:, 2:]


def slope_at(matrix, point) -> np.ndarray:
    """How a small step at a point is carried.

    Parameters
    ----------
    matrix : array_like, shape (3, 3) [target / source]
    point : array_like, shape (2,) [source]

    Returns
    -------
    slope : ndarray, shape (2, 2) [target / source]
        Columns are the steps along x and along y.
    """
    matrix = np.asarray(matrix, float)
    x, y, depth = matrix @ [*point, 1.0]
    return (matrix[:2, :2] - np.outer([x / depth, y / depth], matrix[2, :2])) / depth


def box_corners(x: float, y: float, width: float, height: float) -> np.ndarray:
    """Corners of an upright rectangle, in order around it from the least x and y.

    Parameters
    ----------
    x, y, width, height : float, scalar [any unit]

    Returns
    -------
    corners : ndarray, shape (4, 2) [same unit]
    """
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], float)


def _normalising(points: np.ndarray) -> np.ndarray:
    centre = points.mean(axis=0)
    scale = np.sqrt(2) / np.sqrt(((points - centre) ** 2).sum(axis=1)).mean()
    return np.array([[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1]])


def _is_quadrilateral(corners: np.ndarray) -> bool:
    """Whether four points, in order, turn the same way at each and none lies in line with its neighbours."""
    sides = np.roll(corners, -1, axis=0) - corners
    following = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    least = LEAST_AREA * np.square(sides).sum(axis=1).max()
    return bool(np.all(turns > least) or np.all(turns < -least))
