"""A measured curve as arrays: density, gradient and inverse, and the error of each.

The error of the whole curve is carried as ``modes``, an (r, n) array such that the curve's error is
about ``z @ modes`` with z standard normal: whatever is read off the curve, linear in its error, then
has an r-vector of its own, and errors that two readings share cancel as they should.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from curves.sensitometry.intervals import Z95
from curves.sensitometry.measures import SensitometryError

GREATEST_LOG = 20.0  # a density or a log exposure beyond it is a slip of the keyboard
FLAT = 1e-9  # a rise or slope that no reading could tell from none
SUBDIVISIONS = 32  # linear inversion between grid points is then far below any reading error


def _checked(name: str, values, length: int | None = None) -> np.ndarray:
    array = np.asarray(values, dtype=float)
    if array.ndim != 1 or (length is not None and array.size != length):
        raise SensitometryError("BAD_SHAPE", f"{name} must be a list as long as log_exposure.")
    return array


@dataclass(frozen=True)
class SampledCurve:
    """Density against log exposure over the measured range, cut at its maximum.

    Parameters
    ----------
    log_exposure : ndarray, shape (n,) [log10 lx s]
        Strictly rising.
    density : ndarray, shape (n,) [D]
        Density at each exposure.
    gradient : ndarray, shape (n,) [D per log10 exposure]
        Slope at each exposure.
    modes : ndarray, shape (r, n) [D]
        Low-rank factor of the curve's error; r = 0 where the error is not known.
    base : float or None, scalar [D]
        Base plus fog, where the curve knows it.
    base_modes : ndarray, shape (r,) [D]
        Its error in the same modes.
    """

    log_exposure: np.ndarray
    density: np.ndarray
    gradient: np.ndarray
    modes: np.ndarray
    base: float | None = None
    base_modes: np.ndarray | None = None

    @classmethod
    def of(cls, curve) -> "SampledCurve":
        """The curve of anything with arrays ``log_exposure`` and ``density``.

        Parameters
        ----------
        curve : object
            With ``log_exposure`` (n,) [log10 lx s] and ``density`` (n,) [D]; ``gradient`` (n,), ``modes``
            (r, n) [D], ``base`` [D] and ``base_modes`` (r,) [D] are used where they exist.

        Returns
        -------
        SampledCurve
            Sorted, without points that are not finite or beyond `GREATEST_LOG`, and cut at the greatest
            density.

        Raises
        ------
        SensitometryError
            When the arrays differ in length or fewer than two different exposures are left.
        """
        if isinstance(curve, cls):
            return curve
        x = _checked("log_exposure", curve.log_exposure)
        density = _checked("density", curve.density, x.size)
        gradient, modes = getattr(curve, "gradient", None), getattr(curve, "modes", None)
        modes = np.zeros((0, x.size)) if modes is None else np.atleast_2d(np.asarray(modes, dtype=float))
        if modes.shape[1] != x.size:
            raise SensitometryError("BAD_SHAPE", "modes must have a column for every log_exposure.")
        with np.errstate(invalid="ignore"):
            sensible = (np.abs(x) < GREATEST_LOG) & (np.abs(density) < GREATEST_LOG)
        keep = np.flatnonzero(sensible & np.isfinite(modes).all(axis=0))
        # Of points closer than any exposure is known the first stays.
        keep = keep[np.unique(np.round(x[keep], 4), return_index=True)[1]]
        if keep.size < 2:
            raise SensitometryError("TOO_FEW_POINTS", "A curve needs at least two different exposures.")
        keep = keep[: max(2, int(np.argmax(density[keep])) + 1)]
        # Twelve decimals: far below any reading, and no slope so small that its inverse overflows.
        x, density, modes = x[keep], np.round(density[keep], 12), modes[:, keep]
        if gradient is None:
            gradient = PchipInterpolator(x, density).derivative()(x)
        else:
            gradient = _checked("gradient", gradient, np.size(curve.log_exposure))[keep]
        base, base_modes = getattr(curve, "base", None), getattr(curve, "base_modes", None)
        if base_modes is None or np.shape(base_modes) != (modes.shape[0],):
            base_modes = np.zeros(modes.shape[0])
        return cls(x, density, gradient, modes, base, np.asarray(base_modes, dtype=float))

    @classmethod
    def through(cls, log_exposure, density, density_sd=0.0) -> "SampledCurve":
        """A monotone cubic through the points, each with its own independent error.

        Parameters
        ----------
        log_exposure : array_like, shape (n,) [log10 lx s]
            Exposures.
        density : array_like, shape (n,) [D]
            Densities, rising with exposure up to their maximum.
        density_sd : float or array_like, scalar or shape (n,) [D]
            Standard error of each density; 0 means unknown.

        Returns
        -------
        SampledCurve
            The curve.
        """
        x = _checked("log_exposure", log_exposure)
        sd = np.broadcast_to(np.asarray(density_sd, dtype=float), x.shape)
        modes = np.diag(sd) if np.any(sd > 0) else np.zeros((0, x.size))
        return cls.of(_Points(x, _checked("density", density, x.size), None, modes))

    @cached_property
    def _spline(self) -> CubicHermiteSpline:
        return CubicHermiteSpline(self.log_exposure, self.density, self.gradient, extrapolate=False)

    @cached_property
    def _grid(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        parts = np.arange(SUBDIVISIONS) / SUBDIVISIONS
        start, step = self.log_exposure[:-1], np.diff(self.log_exposure)
        x = np.append((start[:, None] + step[:, None] * parts).ravel(), self.log_exposure[-1])
        density = self._spline(x)
        least_from_here = np.minimum.accumulate(density[::-1])[::-1]
        return x, density, least_from_here

    def density_at(self, log_exposure) -> np.ndarray:
        """Density at exposures (m,) [log10 lx s] as an array (m,) [D], NaN outside the measured range."""
        return self._spline(np.asarray(log_exposure, dtype=float))

    def gradient_at(self, log_exposure) -> np.ndarray:
        """Slope at exposures (m,) [log10 lx s] as an array (m,) [D per log10], NaN outside the range."""
        return self._spline(np.asarray(log_exposure, dtype=float), 1)

    def error_at(self, log_exposure) -> np.ndarray:
        """The curve's error modes at exposures (m,) [log10 lx s], as an array (r, m) [D]."""
        x = np.atleast_1d(np.asarray(log_exposure, dtype=float))
        return np.array([np.interp(x, self.log_exposure, mode) for mode in self.modes]).reshape(-1, x.size)

    def exposure_at(self, density) -> np.ndarray:
        """Log exposure where the curve last rises through each density.

        Parameters
        ----------
        density : array_like, shape (m,) [D]
            Densities to look up.

        Returns
        -------
        ndarray, shape (m,) [log10 lx s]
            NaN where the density lies outside the measured range.
        """
        wanted = np.asarray(density, dtype=float)
        x, grid_density, least = self._grid
        for end in (grid_density[0], grid_density[-1]):
            # The last bit of a computed density shall not put an end of the curve out of reach.
            wanted = np.where(np.abs(wanted - end) < 1e-9, end, wanted)
        last_below = np.searchsorted(least, wanted, side="left") - 1
        found = (last_below >= 0) & (last_below < x.size - 1) & np.isfinite(wanted)
        i = np.clip(last_below, 0, x.size - 2)
        rise = grid_density[i + 1] - grid_density[i]
        share = np.divide(wanted - grid_density[i], rise, out=np.zeros(i.shape), where=found & (rise > FLAT))
        exposure = x[i] + share * (x[i + 1] - x[i])
        # One step of Newton's method within the cell takes the straight line's error away.
        slope = self._spline(exposure, 1)
        step = np.divide(
            wanted - self._spline(exposure), slope, out=np.zeros(i.shape), where=found & (slope > FLAT)
        )
        exposure = np.clip(exposure + step, x[i], x[i + 1])
        at_foot = wanted == grid_density[0]
        return np.where(found, exposure, np.where(at_foot, x[0], np.nan))

    def exposure_interval(self, density: float, density_error=0.0) -> tuple[float | None, float | None]:
        """All exposures about that of a density whose own density agrees with it within 95 %.

        Parameters
        ----------
        density : float, scalar [D]
            A density within the measured range.
        density_error : array_like, shape (r,) or (r + 1,) [D]
            Error of the wanted density in the curve's modes, and in one of its own if longer.

        Returns
        -------
        tuple of float or None, shape (2,) [log10 lx s]
            Ends of the stretch; None where it runs out of the measured range. Unlike a division by the
            slope at one place it stays right in a toe.
        """
        x, grid_density, _ = self._grid
        error = np.zeros(self.modes.shape[0] + 1)
        given = np.atleast_1d(np.asarray(density_error, dtype=float))
        error[: given.size] = given
        own = np.vstack([self.error_at(x), np.zeros(x.size)])
        sd = np.linalg.norm(own - error[:, None], axis=0)
        excess = np.abs(grid_density - density) - Z95 * sd
        at = float(self.exposure_at(density))
        below, above = np.flatnonzero((x < at) & (excess > 0)), np.flatnonzero((x > at) & (excess > 0))
        low = float(x[below[-1]]) if below.size else None
        high = float(x[above[0]]) if above.size else None
        return low, high

    def reason_at(self, density: float) -> str | None:
        """Why a density, scalar [D], has no exposure on this curve; None when it has one."""
        if not np.isfinite(density):
            return "INVALID_INPUT"
        if np.isfinite(self.exposure_at(density)):
            return None
        return "NOT_REACHED" if density > self.density[-1] else "BELOW_RANGE"

    @property
    def steepest(self) -> float:
        """The greatest slope of the curve, scalar [D per log10 exposure]."""
        return float(np.max(self.gradient))


@dataclass(frozen=True)
class _Points:
    log_exposure: np.ndarray
    density: np.ndarray
    gradient: np.ndarray | None
    modes: np.ndarray
