"""A stored curve seen from its speed point: net rise and its error, for comparing and pooling."""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.analysis import Analysis, Curve
from curves.sensitometry.measuring.speed_points import SPEED_DENSITY


@dataclass(frozen=True, slots=True, eq=False)
class AlignedCurve:
    """A curve by distance from its speed point.

    Parameters
    ----------
    curve : Curve
        The stored curve, shape (n,) [log10 lx s, D].
    place : float, scalar [log10 lx s]
        Its speed point.
    slope : float, scalar [D per log10 lx s]
        Gradient there.
    place_modes : ndarray, shape (r,) [log10 lx s]
        Error of the speed point, by the same z as the curve's modes.
    level : float, scalar [D]
        Net density at ``place``: 0.10 for the speed point.
    """

    curve: Curve
    place: float
    slope: float
    place_modes: np.ndarray
    level: float = SPEED_DENSITY

    @property
    def reach(self) -> tuple[float, float]:
        """First and last distance from the speed point that was measured [log10 lx s]."""
        return self.curve.log_exposure[0] - self.place, self.curve.log_exposure[-1] - self.place

    def rise(self, distance):
        """Density above that of the speed point, and its error.

        Parameters
        ----------
        distance : ndarray, shape (m,) [log10 lx s]
            Distance from the speed point, within reach.

        Returns
        -------
        rise : ndarray, shape (m,) [D]
        modes : ndarray, shape (r, m) [D]
            Error of the rise, that of the speed point and of the base worked in.
        """
        at = self.place + distance
        density = interpolate(self.curve, self.curve.density, at)
        gradient = interpolate(self.curve, self.curve.gradient, at)
        modes = interpolate_modes(self.curve, at) - self.curve.base_modes[:, None]
        return density - self.curve.base - self.level, modes + gradient * self.place_modes[:, None]


def align(analysis: Analysis) -> AlignedCurve | None:
    """The analysis's curve seen from its speed point.

    Parameters
    ----------
    analysis : Analysis
        A stored or fresh analysis.

    Returns
    -------
    AlignedCurve or None
        None when the speed point is withheld.
    """
    place = analysis.measures["speed_point_log_exposure"].value
    curve = analysis.curve
    if place is None or curve.base is None:
        return None
    at = np.array([place])
    slope = max(float(interpolate(curve, curve.gradient, at)[0]), 1e-3)
    modes = -(interpolate_modes(curve, at)[:, 0] - curve.base_modes) / slope
    return AlignedCurve(curve, place, slope, modes)


def align_at(analysis: Analysis, level: float) -> AlignedCurve | None:
    """The analysis's curve seen from where its net density reaches a level.

    Parameters
    ----------
    analysis : Analysis
        A stored or fresh analysis.
    level : float, scalar [D]
        Net density, at least that of the speed point.

    Returns
    -------
    AlignedCurve or None
        None when the speed point is withheld or the level is not reached within the steps.
    """
    start = align(analysis)
    if start is None or level <= SPEED_DENSITY:
        return start
    curve = start.curve
    net = curve.density - curve.base
    beyond = np.flatnonzero((net >= level) & (curve.log_exposure > start.place))
    if not beyond.size or beyond[0] == 0 or net[beyond[0] - 1] >= level:
        return None
    last = beyond[0]
    share = (level - net[last - 1]) / (net[last] - net[last - 1])
    place = curve.log_exposure[last - 1] + share * (curve.log_exposure[last] - curve.log_exposure[last - 1])
    at = np.array([place])
    slope = max(float(interpolate(curve, curve.gradient, at)[0]), 1e-3)
    modes = -(interpolate_modes(curve, at)[:, 0] - curve.base_modes) / slope
    return AlignedCurve(curve, float(place), slope, modes, level)


def interpolate(curve: Curve, values, log_exposure):
    """Values on the curve's grid read between its points by a line.

    Parameters
    ----------
    curve : Curve
        Whose even grid it is, shape (n,) [log10 lx s].
    values : ndarray, shape (n,) [any unit]
        Values on the grid.
    log_exposure : ndarray, shape (m,) [log10 lx s]
        Where to read; ends are held.

    Returns
    -------
    values : ndarray, shape (m,) [the same unit]
    """
    return np.interp(log_exposure, curve.log_exposure, values)


def interpolate_modes(curve: Curve, log_exposure):
    """Modes read between grid points by a line.

    Parameters
    ----------
    curve : Curve
        Curve with modes of shape (r, n) [D].
    log_exposure : ndarray, shape (m,) [log10 lx s]
        Where to read; ends are held.

    Returns
    -------
    modes : ndarray, shape (r, m) [D]
    """
    grid = curve.log_exposure
    # Stored grid points are rounded, so the spacing is taken over the whole grid.
    place = np.clip((log_exposure - grid[0]) / (grid[-1] - grid[0]), 0.0, 1.0) * (len(grid) - 1)
    left = np.minimum(place.astype(int), len(grid) - 2)
    share = place - left
    return curve.modes[:, left] * (1.0 - share) + curve.modes[:, left + 1] * share
