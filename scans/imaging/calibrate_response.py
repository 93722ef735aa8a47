"""The response of a scanner: one falling curve from level to density, with its standard error.

A form of gain, flare and gamma is fitted to the steps of a calibrated tablet,

    T(level) = gain (level - dark)^gamma - flare,      D = -log10 T,

and whatever the steps show beyond it is followed by a smooth departure: the mean of a Gaussian process along
density, stretched at the light end, where tone curves bend most. Several sizes of departure, none among
them, are weighed by their restricted likelihood against the known error of the tablet's densities, so that
it vanishes where the form suffices. The form's three parameters move with it, so the error of the whole is
known.

References
----------
C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, section 2.7 (explicit
basis functions: the mean, the variance and the likelihood); from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import least_squares

SMALLEST_TRANSMITTANCE = 1e-6
BENDS = np.array([0.0, *np.geomspace(0.003, 3.0, 13)])
"""Candidate sizes of the departure, as its standard deviation before the form has moved [density]."""
PRIOR = np.array([1.0, *np.full(BENDS.size - 1, 1.0 / (BENDS.size - 1))])
"""Weight of each beforehand: as much for none as for all others together."""
LENGTH, STRETCH = 1.75, 1.0
"""How far along the stretched axis a departure stays alike, and how much is added to density for it:
T changes by one over the light end, where a step of density then counts up to 3.3 times. Tried on five
responses; the length may be halved or the stretch doubled for 10 % of the error."""
NEGLIGIBLE = 1e-3
DENSITY_STEP = 0.005


@dataclass(frozen=True)
class Response:
    """A falling curve from level to density.

    Parameters
    ----------
    level : ndarray, shape (m,) [level]
        Rising; from the densest to the lightest step that was used.
    density : ndarray, shape (m,) [density]
        Falling.
    standard_error : ndarray, shape (m,) [density]
        Of the curve, common to all that is read near that level.
    dark_level : float
        Level of no light at all [level].
    gamma, flare : float
        Of the form: exponent, and stray light as a fraction of clear light [ratio].
    departure_odds : float
        Evidence for any departure from the form against none [ratio].
    """

    level: np.ndarray
    density: np.ndarray
    standard_error: np.ndarray
    dark_level: float
    gamma: float
    flare: float
    departure_odds: float

    def density_at(self, level):
        """Density at levels, NaN outside the calibrated range.

        Parameters
        ----------
        level : array_like, shape (k,) [level]

        Returns
        -------
        density, standard_error : ndarray, shape (k,) [density]
        """
        level = np.asarray(level, float)
        density = np.interp(level, self.level, self.density, left=np.nan, right=np.nan)
        return density, np.interp(level, self.level, self.standard_error, left=np.nan, right=np.nan)

    def level_at(self, density):
        """Level at densities, NaN outside the calibrated range.

        Parameters
        ----------
        density : array_like, shape (k,) [density]

        Returns
        -------
        level : ndarray, shape (k,) [level]
        """
        return np.interp(density, self.density[::-1], self.level[::-1], left=np.nan, right=np.nan)

    def transmittance_table(self, white_level: int) -> np.ndarray:
        """Transmittance of each level, for averaging pixels.

        Beyond the calibrated range the table goes on as a straight line, into negative transmittance too,
        so that a pixel whose noise takes it out of the range still counts with its noise and an average
        has no bias. A density is never read from that part.

        Parameters
        ----------
        white_level : int
            The highest level [level].

        Returns
        -------
        transmittance : ndarray, shape (white_level + 1,) [fraction]
        """
        levels = np.arange(white_level + 1, dtype=float)
        known = 10.0**-self.density
        table = np.interp(levels, self.level, known)
        for beyond, (edge, inner) in ((levels < self.level[0], (0, 3)), (levels > self.level[-1], (-1, -4))):
            slope = (known[edge] - known[inner]) / (self.level[edge] - self.level[inner])
            table[beyond] = known[edge] + slope * (levels[beyond] - self.level[edge])
        return table


def fit_response(level, density, standard_error, dark_level: float) -> tuple[Response, np.ndarray]:
    """Fit the response to the steps of a tablet.

    Parameters
    ----------
    level : array_like, shape (n,) [level]
        Mean level of each step, falling, above the dark level.
    density : array_like, shape (n,) [density]
        Calibrated density of each step, rising.
    standard_error : array_like, shape (n,) [density]
        Of each calibrated density, the reading of its level included.
    dark_level : float
        [level]

    Returns
    -------
    response : Response
    residual : ndarray, shape (n,) [density]
        Calibrated density less the curve, by step.
    """
    light = np.asarray(level, float) - dark_level
    density, error = np.asarray(density, float), np.asarray(standard_error, float)
    form = _fit_form(light, density, error)
    axis = _form_density(form, light)
    residual = density - axis
    slopes = _slopes(form, light)
    weights = _weights(axis, residual, slopes, error)
    grid = np.geomspace(light.min(), light.max(), int(np.ptp(density) / DENSITY_STEP) + 2)
    while True:
        curve, spread = _average(form, grid, axis, residual, slopes, error, weights)
        if np.all(np.diff(curve) < 0) or weights[0] == 1.0:
            break
        weights[np.flatnonzero(weights)[-1]] = 0.0  # a curve that rises anywhere is bent too far
        weights = weights / weights.sum() if weights.any() else np.eye(BENDS.size)[0]
    response = Response(
        level=grid + dark_level,
        density=curve,
        standard_error=spread,
        dark_level=float(dark_level),
        gamma=float(form[1]),
        flare=float(form[2]),
        departure_odds=float(min((1 - weights[0]) / max(weights[0], 1e-9), 1e9)),
    )
    return response, density - np.interp(light, grid, curve)


def _fit_form(light, density, error) -> np.ndarray:
    """Log gain, gamma and flare by weighted least squares, from three first guesses of gamma."""
    fits = []
    for gamma in (1.0, 1.6, 2.4):
        start = [-density.min() - gamma * np.log10(light.max()), gamma, 0.0005]
        fits.append(
            least_squares(
                lambda form: (_form_density(form, light) - density) / error,
                start,
                x_scale=[0.1, 0.1, 1e-3],
                bounds=([-np.inf, 0.3, -0.02], [np.inf, 4.0, 0.1]),
            )
        )
    return min(fits, key=lambda fit: fit.cost).x


def _form_density(form, light):
    log_gain, gamma, flare = form
    transmittance = 10.0 ** (log_gain + gamma * np.log10(light)) - flare
    return -np.log10(np.maximum(transmittance, SMALLEST_TRANSMITTANCE))


def _slopes(form, light):
    """Slope of density against each parameter, shape (n, 3)."""
    with_flare = 10.0 ** (form[0] + form[1] * np.log10(light))
    transmittance = np.maximum(with_flare - form[2], SMALLEST_TRANSMITTANCE)
    share = with_flare / transmittance
    return np.column_stack([-share, -share * np.log10(light), 1 / (np.log(10) * transmittance)])


def _covariance(a, b):
    """Of a departure of unit size, between places in density."""
    a, b = (np.asarray(each) + STRETCH * (1 - 10.0 ** -np.asarray(each)) for each in (a, b))
    return np.exp(-0.5 * ((a[:, None] - b[None, :]) / LENGTH) ** 2)


def _weights(axis, residual, slopes, error) -> np.ndarray:
    """Weight of each size of departure after the steps have been seen, shape (sizes,) [fraction]."""
    unit = _covariance(axis, axis)
    gains = np.array(
        [_restricted_likelihood(unit * bend**2 + np.diag(error**2), residual, slopes) for bend in BENDS]
    )
    weights = PRIOR * np.exp(gains - gains.max())
    weights[weights < NEGLIGIBLE * weights.max()] = 0.0
    return weights / weights.sum()


def _restricted_likelihood(covariance, residual, slopes) -> float:
    factor = cho_factor(covariance, lower=True)
    weighted = cho_solve(factor, slopes)
    information = slopes.T @ weighted
    move = np.linalg.solve(information, weighted.T @ residual)
    left = residual - slopes @ move
    half_log_determinant = np.log(np.diag(factor[0])).sum() + 0.5 * np.linalg.slogdet(information)[1]
    return -half_log_determinant - 0.5 * float(left @ cho_solve(factor, left))


def _average(form, light, axis, residual, slopes, error, weights):
    """The curve and its standard error at light levels, over the sizes of departure."""
    mean, square = np.zeros(light.size), np.zeros(light.size)
    for bend, weight in zip(BENDS, weights, strict=True):
        if weight:
            curve, variance = _predict(form, light, axis, residual, slopes, error, bend)
            mean += weight * curve
            square += weight * (curve**2 + variance)
    return mean, np.sqrt(np.maximum(square - mean**2, 0.0))


def _predict(form, light, axis, residual, slopes, error, bend):
    """The curve and its variance: form, its move, and a departure of one size."""
    places = _form_density(form, light)
    factor = cho_factor(bend**2 * _covariance(axis, axis) + np.diag(error**2), lower=True)
    weighted = cho_solve(factor, slopes)
    information = np.linalg.inv(slopes.T @ weighted)
    move = information @ (weighted.T @ residual)
    across = bend**2 * _covariance(places, axis)
    here = _slopes(form, light)
    curve = places + here @ move + across @ cho_solve(factor, residual - slopes @ move)
    unexplained = here - across @ weighted
    variance = (
        bend**2
        - np.einsum("ij,ji->i", across, cho_solve(factor, across.T))
        + np.einsum("ij,jk,ik->i", unexplained, information, unexplained)
    )
    return curve, np.maximum(variance, 0.0)
