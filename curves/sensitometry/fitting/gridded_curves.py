"""Many curves on even grids, read as cubic Hermite splines: the one place where curves are read off.

Row k is one curve (a best estimate or a draw from its posterior). All reading functions work on all rows
at once and return NaN in a row where the answer lies outside its grid; NaN never leaves the engine, it
becomes a reason code there.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class GriddedCurves:
    """Curves with their base on even grids of log exposure.

    Parameters
    ----------
    origin, spacing : ndarray, shape (k,) [log10 lx s]
        First grid point and grid spacing of each row.
    density, gradient : ndarray, shape (k, g) [D], [D per log10 lx s]
        Values at the grid points.
    base : ndarray, shape (k,) [D]
        Base plus fog.
    low, high : ndarray, shape (k,) [log10 lx s]
        Measured range; the grid may reach beyond it.
    inside : tuple of int
        First column of the measured range and the one after its last, the same in every row.
    """

    origin: np.ndarray
    spacing: np.ndarray
    density: np.ndarray
    gradient: np.ndarray
    base: np.ndarray
    low: np.ndarray
    high: np.ndarray
    inside: tuple[int, int | None] = (0, None)

    @classmethod
    def from_functions(cls, density, gradient, base, low, high, *, count=1201):
        """Grid a single known curve, for closed-form checks.

        Parameters
        ----------
        density, gradient : callable
            Functions of log exposure, shape (g,) [log10 lx s], giving [D] and [D per log10 lx s].
        base : float, scalar [D]
            Base plus fog.
        low, high : float, scalar [log10 lx s]
            Range.
        count : int, scalar [1]
            Grid points.

        Returns
        -------
        GriddedCurves
            One row, shape (1, count) [D].
        """
        grid = np.linspace(low, high, count)
        one = np.ones(1)
        return cls(
            origin=low * one,
            spacing=(high - low) / (count - 1) * one,
            density=np.asarray(density(grid), dtype=float)[None],
            gradient=np.asarray(gradient(grid), dtype=float)[None],
            base=base * one,
            low=low * one,
            high=high * one,
        )

    def rows(self, keep) -> "GriddedCurves":
        """The rows chosen by an index or mask, shape (k',)."""
        arrays = (getattr(self, name)[keep] for name in GriddedCurves.__slots__ if name != "inside")
        return GriddedCurves(*arrays, inside=self.inside)

    def density_at(self, log_exposure):
        """Density of each row at its own exposure.

        Parameters
        ----------
        log_exposure : ndarray, shape (k,) [log10 lx s]
            Exposure; NaN allowed.

        Returns
        -------
        density : ndarray, shape (k,) [D]
            NaN outside the grid.
        """
        return self._cell(log_exposure)[0]

    def density_and_gradient_at(self, log_exposure):
        """Density and gradient of each row at its own exposure.

        Parameters
        ----------
        log_exposure : ndarray, shape (k,) [log10 lx s]
            Exposure; NaN allowed.

        Returns
        -------
        density, gradient : ndarray, shape (k,) [D], [D per log10 lx s]
            NaN outside the grid.
        """
        return self._cell(log_exposure)

    def _cell(self, log_exposure):
        last = self.density.shape[1] - 1
        place = (np.asarray(log_exposure, dtype=float) - self.origin) / self.spacing
        # A whisker of tolerance: a criterion that falls on the last step must not fail by rounding.
        is_inside = (place >= -1e-9) & (place <= last + 1e-9)
        index = np.minimum(np.where(is_inside, place, 0.0), last - 1e-12).astype(np.intp)
        t = np.where(is_inside, place - index, np.nan)
        index += np.arange(0, self.density.size, last + 1)
        density, gradient = self.density.ravel(), self.gradient.ravel()
        left, right = density.take(index), density.take(index + 1)
        left_slope = gradient.take(index) * self.spacing
        right_slope = gradient.take(index + 1) * self.spacing
        a = 2.0 * (left - right) + left_slope + right_slope
        b = 3.0 * (right - left) - 2.0 * left_slope - right_slope
        density = left + t * (left_slope + t * (b + t * a))
        return density, (left_slope + t * (2.0 * b + 3.0 * t * a)) / self.spacing

    def exposure_at_density(self, level):
        """Exposure of the last upward crossing of a density.

        Parameters
        ----------
        level : ndarray, shape (k,) [D]
            Density wanted in each row.

        Returns
        -------
        log_exposure : ndarray, shape (k,) [log10 lx s]
            NaN where the row does not rise through the level on its grid.
        crossings : ndarray of int, shape (k,) [1]
            How often it does.
        """
        is_below = self.density < level[:, None]
        rises = is_below[:, :-1] & ~is_below[:, 1:]
        crossings = rises.sum(axis=1)
        last = rises.shape[1] - 1 - np.argmax(rises[:, ::-1], axis=1)
        start = self.origin + last * self.spacing

        def excess(log_exposure):
            return self.density_at(log_exposure) - level

        end = start + self.spacing
        root = bracketed_root(excess, start, end)
        # A crossing on a grid point may lose its bracket to rounding; then it is that grid point.
        root = np.where(np.isnan(root), end, root)
        return np.where(crossings > 0, root, np.nan), crossings

    def gradient_edges(self, level, anchor):
        """How far from an anchor the gradient stays at or above a level.

        Parameters
        ----------
        level : ndarray, shape (k,) [D per log10 lx s]
            Gradient to keep.
        anchor : ndarray, shape (k,) [log10 lx s]
            Where to start in each row.

        Returns
        -------
        lower, upper : ndarray, shape (k,) [log10 lx s]
            Ends of the stretch; NaN where it reaches the end of the grid.
        """
        count = self.density.shape[1]
        index = np.clip(np.rint((anchor - self.origin) / self.spacing), 0, count - 1)
        number = np.arange(count)
        is_short = self.gradient < level[:, None]
        below = np.where(is_short & (number < index[:, None]), number, -1).max(axis=1)
        above = np.where(is_short & (number > index[:, None]), number, count).min(axis=1)
        return self._gradient_crossing(level, below, 1), self._gradient_crossing(level, above, -1)

    def _gradient_crossing(self, level, index, towards):
        count = self.density.shape[1]
        is_found = (index >= 0) & (index < count)
        index = np.clip(index, max(0, -towards), count - 1 - max(0, towards))
        row = np.arange(len(index))
        here, there = self.gradient[row, index], self.gradient[row, index + towards]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.clip((level - here) / (there - here), 0.0, 1.0)
        place = self.origin + (index + towards * share) * self.spacing
        return np.where(is_found, place, np.nan)


def bracketed_root(function, low, high, *, iterations=10):
    """Root of each row's function between two exposures by the Illinois rule.

    Parameters
    ----------
    function : callable
        Takes and returns arrays of shape (k,).
    low, high : ndarray, shape (k,) [unit of the argument]
        Bracket of each row.
    iterations : int, scalar [1]
        Fixed number of steps.

    Returns
    -------
    root : ndarray, shape (k,) [unit of the argument]
        NaN where the function has the same sign at both ends.

    References
    ----------
    Dowell, M. and Jarratt, P. (1971). A modified regula falsi method. BIT 11, 168-174.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    at_low, at_high = function(low), function(high)
    is_bracketed = (at_low <= 0) & (at_high >= 0) | (at_low >= 0) & (at_high <= 0)
    root = np.where(at_low == 0, low, high)
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(iterations):
            gap = at_high - at_low
            root = np.where(gap != 0, high - at_high * (high - low) / gap, high)
            value = function(root)
            crossed = value * at_high < 0
            low = np.where(crossed, high, low)
            at_low = np.where(crossed, at_high, 0.5 * at_low)
            high, at_high = root, value
    return np.where(is_bracketed, root, np.nan)
