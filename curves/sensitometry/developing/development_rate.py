"""How contrast grows with development time: the first-order law of a family.

The law has two constants, the contrast that is approached and the rate of approach. It describes one
developer and film; times are read from it only within the tested ones.

References
----------
``gamma = gamma_inf (1 - exp(-k t))`` with these names: Ives, H. E. (1920), read in a secondary text.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.special import gammaincinv

from curves.sensitometry.developing.development import DevelopmentFamily
from curves.sensitometry.intervals import Z95, is_usable, measure_with_error
from curves.sensitometry.measures import Measure, SensitometryError, withheld

PROFILE_DROP = float(2 * gammaincinv(0.5, 0.95))


@dataclass(frozen=True)
class TimeContrastCurve:
    """The first-order law fitted to a family.

    Parameters
    ----------
    contrast_limit : Measure
        Contrast approached with endless time [D per log10 exposure].
    rate_per_min : Measure
        k [1/min].
    induction_min : float, scalar [min]
        Time before development starts to show, as given by the caller.
    chi_square, degrees : float, int, scalars [1]
        Weighted residual sum of squares and its degrees of freedom: well above them, the law does not
        fit this film and developer.
    covariance : ndarray, shape (2, 2) [1]
        Of the logarithms of limit and rate.
    tested_min : tuple of float, shape (2,) [min]
        Shortest and longest tested time.
    """

    contrast_limit: Measure
    rate_per_min: Measure
    induction_min: float
    chi_square: float
    degrees: int
    covariance: np.ndarray
    tested_min: tuple[float, float]

    @property
    def is_supported(self) -> bool:
        """Whether limit and rate could be found."""
        return self.contrast_limit.value is not None

    def contrast_at(self, time_min: float) -> Measure:
        """Contrast after a development time within the tested ones.

        Parameters
        ----------
        time_min : float, scalar [min]
            Development time.

        Returns
        -------
        Measure
            ``contrast_at_time`` [D per log10 exposure]; ``OUTSIDE_TESTED_RANGE`` elsewhere.
        """
        if not self.is_supported:
            return withheld("contrast_at_time", self.contrast_limit.reason)
        if not is_usable(time_min):
            return withheld("contrast_at_time", "INVALID_INPUT")
        if not self.tested_min[0] <= time_min <= self.tested_min[1]:
            return withheld("contrast_at_time", "OUTSIDE_TESTED_RANGE")
        limit, rate = self.contrast_limit.value, self.rate_per_min.value
        reach = rate * (time_min - self.induction_min)
        value = -limit * math.expm1(-reach)
        slope = np.array([value, limit * reach * math.exp(-reach)])
        return measure_with_error("contrast_at_time", value, float(np.sqrt(slope @ self.covariance @ slope)))

    def time_for(self, aim: float) -> Measure:
        """Development time for an aim contrast, within the tested times.

        Parameters
        ----------
        aim : float, scalar [D per log10 exposure]
            Contrast wanted.

        Returns
        -------
        Measure
            ``time_for_aim_contrast`` [min]; ``NOT_REACHED`` at or above the limit,
            ``OUTSIDE_TESTED_RANGE`` when the law's time was not tested.

        Notes
        -----
        ``t = t0 - ln(1 - aim / limit) / k``; the interval is that of ``ln (t - t0)``, first order.
        """
        if not self.is_supported:
            return withheld("time_for_aim_contrast", self.contrast_limit.reason, "min")
        if not is_usable(aim) or aim <= 0:
            return withheld("time_for_aim_contrast", "INVALID_INPUT", "min")
        limit, rate = self.contrast_limit.value, self.rate_per_min.value
        if aim >= limit:
            note = f"the contrast levels off at {limit:.2f}"
            return withheld("time_for_aim_contrast", "NOT_REACHED", "min", note)
        reach = -math.log1p(-aim / limit)
        time = reach / rate
        if not self.tested_min[0] <= time + self.induction_min <= self.tested_min[1]:
            note = f"tested {self.tested_min[0]:g} to {self.tested_min[1]:g} min"
            return withheld("time_for_aim_contrast", "OUTSIDE_TESTED_RANGE", "min", note)
        slope = np.array([-(aim / limit) / (1 - aim / limit) / reach, -1.0])
        spread = Z95 * float(np.sqrt(slope @ self.covariance @ slope))
        low, high = (self.induction_min + time * math.exp(side * spread) for side in (-1, 1))
        note = "from the first-order law"
        return Measure("time_for_aim_contrast", time + self.induction_min, low, high, "min", None, note)


def fit_time_contrast(family: DevelopmentFamily, induction_min: float = 0.0) -> TimeContrastCurve:
    """Limit and rate of the first-order law of a family.

    Parameters
    ----------
    family : DevelopmentFamily
        Contrasts by time; two times determine the law, a third tests it.
    induction_min : float, scalar [min]
        Time before development starts to show.

    Returns
    -------
    TimeContrastCurve
        Withheld with ``TOO_FEW_TIMES`` or ``NO_SATURATION`` where the contrasts show no levelling off
        (for times t and 2t: the second contrast is at least twice the first).

    Notes
    -----
    The limit is eliminated (it is linear), the rate found by weighted least squares on its logarithm.
    Intervals are of the profile likelihood, since the limit's error is very skew; an end that the data
    do not bound is left open.
    """
    if not is_usable(induction_min) or induction_min < 0:
        raise SensitometryError("INVALID_INDUCTION", "The induction time must be zero or more minutes.")
    late = family.time_min > induction_min
    law = _FirstOrderFit(
        family.time_min[late] - induction_min, family.contrast[late], family.contrast_sd[late]
    )
    reason = law.reason
    tested = (float(family.time_min[0]), float(family.time_min[-1])) if family.time_min.size else (0.0, 0.0)
    if reason:
        limit, rate = withheld("contrast_limit", reason), withheld("development_rate", reason, "1/min")
        return TimeContrastCurve(limit, rate, induction_min, 0.0, 0, np.zeros((2, 2)), tested)
    log_limit, log_rate, least, covariance = law.solution()
    rate_ends, limit_ends = law.rate_interval(log_rate, least), law.limit_interval(log_limit, least)
    if rate_ends[0] is None:
        # Growth in a straight line is not excluded, and that has no limit.
        limit_ends = limit_ends[0], None
    rate = _bounded("development_rate", log_rate, rate_ends, "1/min")
    limit = _bounded("contrast_limit", log_limit, limit_ends, "")
    return TimeContrastCurve(limit, rate, induction_min, least, law.time.size - 2, covariance, tested)


def _bounded(name: str, log_value: float, ends: tuple[float | None, float | None], unit: str) -> Measure:
    low, high = (None if end is None else math.exp(end) for end in ends)
    note = "" if low and high else "the data leave one side of the interval open"
    return Measure(name, math.exp(log_value), low, high, unit, None, note)


class _FirstOrderFit:
    """Weighted least squares of the law, and the profile likelihood of each constant."""

    def __init__(self, time: np.ndarray, contrast: np.ndarray, sd: np.ndarray):
        self.time, self.contrast, self.sd = time, contrast, sd
        self.reason = None
        if time.size < 2:
            self.reason = "TOO_FEW_TIMES"
            return
        # A slower rate looks like a straight line, a faster one like a step, whatever the contrasts.
        self._scan(np.linspace(math.log(0.01 / time[-1]), math.log(30 / time[0]), 400))
        if self.best == 0:
            self.reason = "NO_SATURATION"
        elif self.best == self.rates.size - 1 or self.limits[self.best] <= 0:
            self.reason = "NO_RISE"
        else:
            near = np.flatnonzero(self.costs - self.costs[self.best] < 25)
            low, high = max(near[0] - 1, 0), min(near[-1] + 1, self.rates.size - 1)
            self._scan(np.linspace(self.rates[low], self.rates[high], 800))

    def _scan(self, rates: np.ndarray) -> None:
        """Best limit and cost at each log rate."""
        self.rates = rates
        self.growth = -np.expm1(-np.exp(rates)[:, None] * self.time) / self.sd
        scaled = self.growth @ (self.contrast / self.sd)
        self.limits = scaled / np.einsum("ij,ij->i", self.growth, self.growth)
        residual = self.contrast / self.sd - self.limits[:, None] * self.growth
        self.costs = np.einsum("ij,ij->i", residual, residual)
        self.best = int(np.argmin(self.costs))

    def solution(self) -> tuple[float, float, float, np.ndarray]:
        """Log limit, log rate, least cost, and the covariance of the two logarithms."""
        found = least_squares(
            lambda p: (self.contrast + math.exp(p[0]) * np.expm1(-math.exp(p[1]) * self.time)) / self.sd,
            [math.log(self.limits[self.best]), self.rates[self.best]],
            ftol=1e-14,
            gtol=1e-14,
        )
        covariance = np.linalg.pinv(found.jac.T @ found.jac)
        return float(found.x[0]), float(found.x[1]), 2 * float(found.cost), covariance

    def rate_interval(self, log_rate: float, least: float) -> tuple[float | None, float | None]:
        """Ends of the log rate's interval; None where the cost never rises enough."""
        return _profile_ends(self.rates, self.costs, log_rate, least)

    def limit_interval(self, log_limit: float, least: float) -> tuple[float | None, float | None]:
        """Ends of the log limit's interval; None where the cost never rises enough."""
        # Steps in proportion to the distance serve narrow and wide intervals alike.
        offsets = np.geomspace(1e-5, 3, 160)
        grid = log_limit + np.concatenate([-offsets[::-1], [0.0], offsets])
        limits = np.exp(grid)
        # |c/s - L g|^2 = |c/s|^2 - 2 L g.c/s + L^2 |g|^2, least over the rates for each limit.
        square = float(np.sum((self.contrast / self.sd) ** 2))
        cross = self.growth @ (self.contrast / self.sd)
        own = np.einsum("ij,ij->i", self.growth, self.growth)
        costs = np.array([np.min(square - 2 * v * cross + v * v * own) for v in limits])
        return _profile_ends(grid, costs, log_limit, least)


def _profile_ends(grid, costs, at: float, least: float) -> tuple[float | None, float | None]:
    """Where the cost, going outward, first exceeds its least by the 95 % quantile of chi-square."""
    excess = costs - least - PROFILE_DROP
    middle = int(np.searchsorted(grid, at))
    ends = []
    for outward in (np.arange(middle - 1, -1, -1), np.arange(middle, grid.size)):
        beyond = outward[excess[outward] > 0]
        if beyond.size == 0 or beyond[0] == outward[0]:
            ends.append(None if beyond.size == 0 else float(grid[beyond[0]]))
            continue
        j = beyond[0]
        i = j + 1 if j < middle else j - 1
        share = excess[i] / (excess[i] - excess[j])
        ends.append(float(grid[i] + share * (grid[j] - grid[i])))
    return ends[0], ends[1]
