"""Restricted likelihood of nested variance components, in time proportional to the number of groups.

For one level after the other, from the inside out, the inverse covariance of each group changes by a term of
rank one; only its sums over the group are kept. Every step is analytic, so a derivative is the imaginary part
at a step along the imaginary axis, exact to rounding.

References
----------
Patterson, H. D. & Thompson, R., Biometrika 58, 545 (1971). Rank-one inverse: Sherman & Morrison (1950).
Derivative by a complex step: Squire, W. & Trapp, G., SIAM Rev. 40, 110 (1998). All from memory.
"""

from dataclasses import dataclass

import numpy as np

COMPLEX_STEP = 1e-30
FLOOR = 1e-9  # of the total variance; below it a component is zero
MOST_STEPS = 60
SMALL_GAIN = 1e-7
LENGTHS, WHOLE_STEP = np.array([8.0, 4.0, 2.0, 1.0, 0.5, 0.2, 0.05]), 3
LONGEST = 3.0  # a factor of twenty
NUDGE = 1e-4


@dataclass(frozen=True)
class NestedReadings:
    """Readings with their groups, sorted so that a group's members stand together.

    Parameters
    ----------
    columns : ndarray, shape (n, p + 1) [unit]
        One column for each mean to be estimated, the readings in the last.
    first_child : tuple of ndarray, shape (groups,) [groups from 0]
        For each level from the inside out, where each group's children begin: readings for the first,
        groups of the level before for the others.
    sums : ndarray, shape (groups, p + 1) [unit]
        Sums of the columns over the innermost groups.
    counts : ndarray, shape (groups,) [readings]
        Readings in the innermost groups.
    stocks : tuple of ndarray, shape (groups,) [columns from 0]
        For the inner levels whose groups are each of one mean, which mean that is; these levels need no
        sums of the other columns, which are all zero.
    """

    columns: np.ndarray
    first_child: tuple[np.ndarray, ...]
    sums: np.ndarray
    counts: np.ndarray
    stocks: tuple[np.ndarray, ...] = ()

    @classmethod
    def of(cls, values, fixed, paths: list[list]) -> "NestedReadings":
        """Readings with a label for each level, outermost first.

        Parameters
        ----------
        values : ndarray, shape (n,) [unit]
            Readings.
        fixed : ndarray, shape (n, p) [1]
            Columns of the means.
        paths : list of list, shape (levels, n)
            Labels; the same label within another outer group is another group.

        Returns
        -------
        NestedReadings
        """
        group = np.zeros(len(values), dtype=int)
        levels = []
        for labels in paths:
            _, own = np.unique(np.array([str(label) for label in labels]), return_inverse=True)
            _, group = np.unique(np.column_stack([group, own]), axis=0, return_inverse=True)
            group = group.ravel()
            levels.append(group)
        order = np.lexsort(levels[::-1]) if levels else np.arange(len(values))
        starts = [
            np.flatnonzero(np.concatenate([[True], np.diff(level[order]) != 0])) for level in levels[::-1]
        ]
        first_child = []
        before = np.arange(len(values))
        for start in starts:
            first_child.append(np.searchsorted(before, start))
            before = start
        columns = np.column_stack([np.asarray(fixed, float), np.asarray(values, float)])[order]
        if not first_child:
            return cls(columns, (), columns[:0], np.zeros(0))
        sums = np.add.reduceat(columns, first_child[0], axis=0)
        counts = np.diff(np.append(first_child[0], len(columns))).astype(float)
        return cls(columns, tuple(first_child), sums, counts, _stocks_of_groups(columns, starts))

    def deviance(self, variances: np.ndarray) -> np.ndarray:
        """Minus twice the restricted log-likelihood but for a constant, for several sets of variances.

        Parameters
        ----------
        variances : ndarray, shape (b, levels + 1) [unit squared]
            Reading first, then from the inside out; may be complex.

        Returns
        -------
        ndarray, shape (b,) [1]
        """
        logarithms, cross = self._cross_products(variances)
        sign, size = np.linalg.slogdet(cross[:, :-1, :-1])
        coefficients = np.linalg.solve(cross[:, :-1, :-1], cross[:, :-1, -1:])
        misfit = cross[:, -1, -1] - (cross[:, -1:, :-1] @ coefficients)[:, 0, 0]
        turn = np.arctan2(sign.imag, sign.real) if np.iscomplexobj(sign) else 0.0
        return (
            logarithms + size + 1j * turn + misfit if np.iscomplexobj(cross) else logarithms + size + misfit
        )

    def means(self, variances: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Generalised least squares of the fixed means, and their covariance.

        Parameters
        ----------
        variances : ndarray, shape (levels + 1,) [unit squared]
            As in `deviance`.

        Returns
        -------
        tuple of ndarray
            Shape (p,) [unit] and (p, p) [unit squared].
        """
        _, cross = self._cross_products(np.asarray(variances)[None])
        covariance = np.linalg.inv(cross[0, :-1, :-1])
        return covariance @ cross[0, :-1, -1], covariance

    def _cross_products(self, variances: np.ndarray):
        """Sums of logarithms, and [X y]' V^-1 [X y]."""
        residual = variances[:, 0]
        cross = (self.columns.T @ self.columns)[None] / residual[:, None, None]
        logarithms = len(self.columns) * np.log(residual)
        weights = self.counts[None] / residual[:, None]
        if self.stocks:
            sums, weights, logarithms, cross = self._of_one_stock(variances, weights, logarithms, cross)
        else:
            sums = self.sums[None] / residual[:, None, None]
        for level, first in enumerate(self.first_child[len(self.stocks) :], 1 + len(self.stocks)):
            if level > 1:
                weights = np.add.reduceat(weights, first, axis=1)
                sums = sums if level == 1 + len(self.stocks) else np.add.reduceat(sums, first, axis=1)
            variance = variances[:, level, None]
            shrunk = 1 + variance * weights
            cross = cross - np.swapaxes(sums * (variance / shrunk)[:, :, None], 1, 2) @ sums
            logarithms = logarithms + np.log(shrunk).sum(axis=1)
            sums = sums / shrunk[:, :, None]
            weights = weights / shrunk
        return logarithms, cross

    def _of_one_stock(self, variances: np.ndarray, weights: np.ndarray, logarithms, cross: np.ndarray):
        """The inner levels, whose groups are each of one stock: a group's column is its weight."""
        means = self.columns.shape[1] - 1
        cross = np.array(cross)
        places = np.arange(means)
        values = self.sums[None, :, -1] / variances[:, :1]
        for level, stock in enumerate(self.stocks, 1):
            if level > 1:
                first = self.first_child[level - 1]
                weights, values = (np.add.reduceat(each, first, axis=1) for each in (weights, values))
            variance = variances[:, level, None]
            shrunk = 1 + variance * weights
            share = variance / shrunk
            cross[:, places, places] -= _sums_at(share * weights**2, stock, means)
            edge = _sums_at(share * weights * values, stock, means)
            cross[:, :-1, -1] -= edge
            cross[:, -1, :-1] -= edge
            cross[:, -1, -1] -= (share * values**2).sum(axis=1)
            logarithms = logarithms + np.log(shrunk).sum(axis=1)
            weights, values = weights / shrunk, values / shrunk
        if len(self.stocks) == len(self.first_child):
            return None, weights, logarithms, cross
        first = self.first_child[len(self.stocks)]
        parent = np.repeat(np.arange(first.size), np.diff(np.append(first, weights.shape[1])))
        sums = np.zeros((len(variances), first.size, means + 1), dtype=weights.dtype)
        cells = _sums_at(weights, parent * means + self.stocks[-1], first.size * means)
        sums[:, :, :-1] = cells.reshape(len(variances), first.size, means)
        sums[:, :, -1] = np.add.reduceat(values, first, axis=1)
        return sums, weights, logarithms, cross

    def slopes(self, log_variances: np.ndarray, free: np.ndarray) -> np.ndarray:
        """Derivatives of the deviance by the logarithms of the free variances, at several places.

        Parameters
        ----------
        log_variances : ndarray, shape (b, levels + 1) [log of unit squared]
            The places.
        free : ndarray, shape (k,) [components from 0]
            Which to differentiate by.

        Returns
        -------
        ndarray, shape (b, k) [1]
        """
        places = np.repeat(np.exp(log_variances).astype(complex), free.size, axis=0)
        rows = np.arange(len(places))
        places[rows, np.tile(free, len(log_variances))] *= 1 + 1j * COMPLEX_STEP
        return (self.deviance(places).imag / COMPLEX_STEP).reshape(len(log_variances), free.size)


def _stocks_of_groups(columns: np.ndarray, starts: list[np.ndarray]) -> tuple[np.ndarray, ...]:
    """For the inner levels, the one column that each group has a part in; none from where two mix."""
    fixed = columns[:, :-1]
    if not (fixed.size and np.isin(fixed, (0.0, 1.0)).all() and np.all(fixed.sum(axis=1) == 1)):
        return ()
    stock = np.argmax(fixed, axis=1)
    found = []
    for start in starts:
        least, most = np.minimum.reduceat(stock, start), np.maximum.reduceat(stock, start)
        if np.any(least != most):
            break
        found.append(least)
    return tuple(found)


def _sums_at(values: np.ndarray, place: np.ndarray, count: int) -> np.ndarray:
    """Sums of columns that go to the same place, shape (b, count)."""
    order = np.argsort(place, kind="stable")
    held, start = np.unique(place[order], return_index=True)
    found = np.zeros((len(values), count), dtype=values.dtype)
    found[:, held] = np.add.reduceat(values[:, order], start, axis=1)
    return found


def least_deviance(
    readings: NestedReadings, start: np.ndarray, held: dict[int, float] | None = None
) -> tuple[np.ndarray, float]:
    """The variances of greatest restricted likelihood, some of them held; Newton's steps in logarithms.

    Parameters
    ----------
    readings : NestedReadings
        The data.
    start : ndarray, shape (levels + 1,) [unit squared]
        Where to begin.
    held : dict of int to float, scalars [unit squared]
        Components that stay at a value.

    Returns
    -------
    tuple
        ndarray, shape (levels + 1,) [unit squared], and the deviance, a float [1].
    """
    held = held or {}
    scale = float(np.var(readings.columns[:, -1])) or 1.0
    place = np.log(np.maximum(start, scale * 1e-4))
    for index, value in held.items():
        place[index] = np.log(max(value, scale * FLOOR * 1e-3))
    free = np.array([i for i in range(place.size) if i not in held], dtype=int)
    place, best = _descended(readings, place, free, scale, True)
    # Zero was tried where a component was on its way there; if the deviance falls away from zero, go back.
    sunk = free[place[free] <= np.log(scale * FLOOR) + NUDGE]
    if sunk.size and np.any(readings.slopes(place[None], sunk)[0] < 0):
        again = place.copy()
        again[sunk] = np.log(scale * 1e-3)
        again, deviance = _descended(readings, again, free, scale, False)
        if deviance < best:
            place, best = again, deviance
    return np.exp(place), best


def _descended(readings, place, free, scale, may_jump_to_zero) -> tuple[np.ndarray, float]:
    low, small, high = np.log(scale * FLOOR), np.log(scale * 0.05), np.log(scale * 1e4)
    best = float(readings.deviance(np.exp(place)[None])[0])
    for _ in range(MOST_STEPS if free.size else 0):
        step = _newton_step(readings, place, free, low)
        tried = np.tile(place, (len(LENGTHS) + 1, 1))
        tried[1:, free] = np.clip(place[free] + LENGTHS[:, None] * step, low, high)
        # A component on its way to zero would take many steps of a logarithm: try zero itself.
        sinking = (step < 0) & (place[free] < small) & may_jump_to_zero
        tried[0, free] = np.where(sinking, low, tried[1 + WHOLE_STEP, free])
        found = readings.deviance(np.exp(tried))
        chosen = int(np.argmin(found))
        gain = best - float(found[chosen])
        if gain > 0:
            place, best = tried[chosen], float(found[chosen])
        if not gain > SMALL_GAIN:
            break
    return place, best


def _newton_step(readings: NestedReadings, place: np.ndarray, free: np.ndarray, low: float) -> np.ndarray:
    """A step downhill by the curvature; a component that is zero and would sink stays where it is."""
    places = np.tile(place, (free.size + 1, 1))
    places[np.arange(1, free.size + 1), free] += NUDGE
    slopes = readings.slopes(places, free)
    slope, curvature = slopes[0], (slopes[1:] - slopes[0]) / NUDGE
    curvature = (curvature + curvature.T) / 2
    sunk = (place[free] <= low + NUDGE) & (slope > 0)
    slope = np.where(sunk, 0.0, slope)
    curvature[sunk] = curvature[:, sunk] = 0.0
    values, vectors = np.linalg.eigh(curvature)
    # Where the deviance bends the wrong way the size of the bend still scales the step.
    step = -vectors @ ((vectors.T @ slope) / np.maximum(np.abs(values), 1e-3))
    longest = float(np.max(np.abs(step), initial=0.0))
    return step * min(1.0, LONGEST / longest) if longest > 0 else step
