"""Fitting the characteristic form to a batch of step data, with weak priors and several starts."""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.fitting.characteristic_form import PARAMETER_COUNT, form_density
from curves.sensitometry.fitting.least_squares import least_squares
from curves.sensitometry.fitting.step_batch import StepBatch

# Weak priors of (b, ln g, x1, ln w1, ln M, ln w2, ln p): house choice, wide enough for every family of
# stock that was tried (slopes 0.1 to 3, toes 0.02 to 0.8 log exposure wide, arcs up to a square). Widths
# of the base and the foot are in density and log exposure; the top's centre is set from the data.
PRIOR_CENTRE = (0.0, np.log(0.65), 0.0, np.log(0.12), 0.0, np.log(0.25), 0.0)
PRIOR_WIDTH = (1.0, 0.8, 2.0, 0.6, 0.7, 0.8, 0.25)

# Iterations and tolerance of the search: from several guesses to a good start, then to the end. The fine
# tolerance leaves the parameters within a few ten-thousandths of their own standard error.
COARSE = (25, 1e-2)
FINE = (60, 1e-5)


@dataclass(frozen=True, slots=True)
class FormFit:
    """The form at its best, shape (b, 7), and the noise variance it suggests, shape (b,) [D^2]."""

    parameters: np.ndarray
    noise_variance: np.ndarray
    prior_centre: np.ndarray

    def rows(self, chosen) -> "FormFit":
        """The fits chosen by an index, shape (b',)."""
        return FormFit(self.parameters[chosen], self.noise_variance[chosen], self.prior_centre[chosen])

    def updated(self, chosen, other: "FormFit") -> "FormFit":
        """This fit with the chosen rows taken from another."""
        arrays = []
        for name in FormFit.__slots__:
            values = getattr(self, name).copy()
            values[chosen] = getattr(other, name)
            arrays.append(values)
        return FormFit(*arrays)


def fit_form(batch: StepBatch, start: FormFit | None = None) -> FormFit:
    """Fit the form twice: with the noise known beforehand, then with the noise that the fit shows.

    Parameters
    ----------
    batch : StepBatch
        Step data, shape (b, n) [log10 lx s, D].
    start : FormFit, optional
        An earlier fit of nearly the same data; several first guesses are tried without it.

    Returns
    -------
    FormFit
        Parameters with shape (b, 7) and noise variance with shape (b,) [D^2].
    """
    if start is None:
        centre, guesses = prior_centre_and_starts(batch)
        parameters = _best_of(batch, centre, guesses)
        variance = residual_variance(batch, parameters, centre, batch.prior_variance)
    else:
        centre, parameters, variance = start.prior_centre, start.parameters, start.noise_variance
    parameters = _search(batch, centre, variance, parameters, FINE)
    return FormFit(parameters, residual_variance(batch, parameters, centre, variance), centre)


def _best_of(batch, centre, guesses):
    """Where the best of several first guesses leads, all searched at once and not yet to the end."""
    count, size = len(guesses), len(centre)
    rows = np.tile(np.arange(size), count)
    ends = _search(
        batch, centre, batch.prior_variance, np.concatenate(guesses), COARSE, rows=rows, give_objective=True
    )
    parameters, objective = ends
    best = np.argmin(objective.reshape(count, size), axis=0)
    return parameters.reshape(count, size, -1)[best, np.arange(size)]


def row_weights(batch: StepBatch, gradient, variance):
    """Weight of each row relative to one reading, with the tablet's error worked in.

    Parameters
    ----------
    batch : StepBatch
        Step data, shape (b, n) [log10, D].
    gradient : ndarray, shape (b, n) [D per log10]
        Slope of the form at each row.
    variance : ndarray, shape (b,) [D^2]
        Noise variance of one reading.

    Returns
    -------
    weight : ndarray, shape (b, n) [1]
    """
    spread = (gradient * batch.tablet_sd[:, None]) ** 2 / variance[:, None]
    return batch.weight / (1.0 + batch.weight * spread)


def form_rows(batch: StepBatch, parameters, centre, variance):
    """Residuals and Jacobian over sigma, prior rows below, all times sigma: units stay density.

    Parameters
    ----------
    batch : StepBatch
        Step data, shape (b, n) [D].
    parameters, centre : ndarray, shape (b, 7) [unit of each parameter]
        Where to linearise; centre of the prior.
    variance : ndarray, shape (b,) [D^2]
        Noise variance of one reading.

    Returns
    -------
    residuals : ndarray, shape (b, n + 7) [D]
        Data minus form, then prior centre minus parameters.
    jacobian : ndarray, shape (b, n + 7, 7) [D over the unit of the parameter]
    root_weight : ndarray, shape (b, n) [1]
    density, gradient : ndarray, shape (b, n) [D], [D per log10 lx s]
    """
    density, gradient, jacobian = form_density(parameters, batch.log_exposure)
    root = np.sqrt(row_weights(batch, gradient, variance))
    tie = np.sqrt(variance)[:, None] / np.asarray(PRIOR_WIDTH)
    residuals = np.concatenate([root * (batch.density - density), tie * (centre - parameters)], axis=1)
    prior_rows = tie[:, :, None] * np.eye(PARAMETER_COUNT)
    rows = np.concatenate([root[..., None] * jacobian, prior_rows], axis=1)
    return residuals, rows, root, density, gradient


def residual_variance(batch: StepBatch, parameters, centre, variance):
    """Posterior mean of the noise variance given the form.

    Parameters
    ----------
    batch : StepBatch
        Step data, shape (b, n) [log10, D].
    parameters, centre : ndarray, shape (b, 7) [unit of each parameter]
        The form, and the centre of its prior.
    variance : ndarray, shape (b,) [D^2]
        Noise variance that the rows are weighted by.

    Returns
    -------
    variance : ndarray, shape (b,) [D^2]
    """
    residuals, jacobian, root, _, _ = form_rows(batch, parameters, centre, variance)
    count = batch.log_exposure.shape[1]
    orthogonal, _ = np.linalg.qr(jacobian)
    leverage = np.einsum("bij,bij->b", orthogonal[:, :count], orthogonal[:, :count])
    dof = np.maximum((root > 0).sum(axis=1) - leverage, 0.0)
    total = np.einsum("bi,bi->b", residuals[:, :count], residuals[:, :count])
    mixed = (batch.prior_dof * batch.prior_variance + total) / (batch.prior_dof + dof)
    return np.maximum(mixed, batch.least_variance)


def _search(batch, centre, variance, start, tolerance, *, rows=None, give_objective=False):
    """Least squares from ``start``; ``rows`` says which curve of the batch each problem belongs to."""
    rows = np.arange(len(start)) if rows is None else rows

    def evaluate(parameters, problems):
        chosen = rows[problems]
        part = batch.rows(chosen)
        residuals, jacobian, *_ = form_rows(part, parameters, centre[chosen], variance[chosen])
        return -residuals, jacobian

    solution = least_squares(evaluate, start, max_iterations=tolerance[0], tolerance=tolerance[1])
    return (solution.parameters, solution.sum_of_squares) if give_objective else solution.parameters


def prior_centre_and_starts(batch: StepBatch):
    """Centre of the prior, and three first guesses: no shoulder, a shoulder, a long toe.

    Parameters
    ----------
    batch : StepBatch
        Step data, shape (b, n) [log10, D].

    Returns
    -------
    centre : ndarray, shape (b, 7) [unit of each parameter]
    guesses : tuple of ndarray, each shape (b, 7) [unit of each parameter]
    """
    used = batch.weight > 0
    exposed = used & ~batch.is_base
    middle = np.where(used, batch.density, np.nan)
    lowest = np.nanmin(np.where(exposed, middle, np.inf), axis=1)
    highest = np.nanmax(np.where(exposed, middle, -np.inf), axis=1)
    base_weight = (batch.weight * batch.is_base).sum(axis=1)
    base_mean = (batch.weight * batch.is_base * batch.density).sum(axis=1) / np.maximum(base_weight, 1e-9)
    base = np.where(base_weight > 0, np.minimum(base_mean, lowest + 0.02), lowest)
    rise = np.maximum(highest - base, 0.05)
    # Line through the places where 20 % and 70 % of the rise is reached.
    first, second = (_crossing(batch, exposed, base + share * rise) for share in (0.2, 0.7))
    slope = np.clip(0.5 * rise / np.maximum(second - first, 0.05), 0.05, 5.0)
    foot = first - 0.2 * rise / slope
    centre = np.tile(np.array(PRIOR_CENTRE), (len(base), 1))
    centre[:, 0] = base
    centre[:, 2] = 0.5 * (batch.low + batch.high)
    centre[:, 4] = np.log(1.3 * rise)
    plain = centre.copy()
    plain[:, 1], plain[:, 2], plain[:, 4] = np.log(slope), foot, np.log(1.5 * rise)
    bent, slow = plain.copy(), plain.copy()
    bent[:, 4] = np.log(rise)
    bent[:, 5] = np.log(0.15)
    slow[:, 1] += 0.25
    slow[:, 3] = np.log(0.3)
    return centre, (plain, bent, slow)


def _crossing(batch, exposed, level):
    """First exposure from which the running median of three steps stays above the level."""
    density = np.where(exposed, batch.density, np.inf)
    left = np.concatenate([density[:, :1], density[:, :-1]], axis=1)
    right = np.concatenate([density[:, 1:], density[:, -1:]], axis=1)
    smooth = np.median(np.stack([left, density, right]), axis=0)
    is_above = exposed & (smooth >= level[:, None])
    index = np.argmax(is_above, axis=1)
    return np.where(is_above.any(axis=1), batch.log_exposure[np.arange(len(index)), index], batch.high)
