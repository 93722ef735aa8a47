"""The fitted curves of a batch with their uncertainty: form, departure, outliers, and draws on a grid."""

from dataclasses import dataclass

import numpy as np

from curves.sensitometry.fitting.characteristic_form import form_derivatives
from curves.sensitometry.fitting.departure import GATE_DENSITY, LinearPosterior, infer_departure, sine_basis
from curves.sensitometry.fitting.form_fit import FormFit, form_rows
from curves.sensitometry.fitting.gridded_curves import GriddedCurves
from curves.sensitometry.fitting.posterior_draws import ROWS_PER_CURVE, with_draws
from curves.sensitometry.fitting.shared_errors import CurveModes, with_shared_errors
from curves.sensitometry.fitting.step_batch import StepBatch

CELLS = 112
CELLS_BELOW = 14
CELLS_ABOVE = 7
MODE_COUNT = 14


@dataclass(frozen=True, slots=True)
class CurvePosterior:
    """Fitted curves with draws.

    Parameters
    ----------
    curves : GriddedCurves
        Row ``k * (1 + 2 p)`` is the best estimate of curve k, followed by its draws [D].
    modes : ndarray, shape (b, r, g) [D]
        Curve error is ``z @ modes``, z standard normal, on the grid.
    base_modes : ndarray, shape (b, r) [D]
        The same for base plus fog.
    batch : StepBatch
        The steps as used: weight 0 where a step was left out.
    posterior : LinearPosterior
        Noise and departure.
    form : ndarray, shape (b, 7)
        Parameters of the form at its own best.
    net_share, base_share : ndarray, shape (b,) [1]
        Share of the variance of the net curve and of the base that comes from corrections.
    """

    curves: GriddedCurves
    modes: np.ndarray
    base_modes: np.ndarray
    batch: StepBatch
    posterior: LinearPosterior
    form: np.ndarray
    net_share: np.ndarray
    base_share: np.ndarray

    def best_row(self, number: int) -> int:
        """Row of the best estimate of one curve among `curves`."""
        return number * ROWS_PER_CURVE

    def grid(self, number: int) -> np.ndarray:
        """Grid of one curve, shape (g,) [log10 lx s]."""
        row = self.best_row(number)
        columns = np.arange(self.curves.density.shape[1])
        return self.curves.origin[row] + self.curves.spacing[row] * columns


def draw_curves(batch: StepBatch, fit: FormFit) -> CurvePosterior:
    """Add the departure to every fitted form of the batch and draw from the posterior of the curves.

    Parameters
    ----------
    batch : StepBatch
        Step data without outliers, shape (b, n) [log10, D].
    fit : FormFit
        The form at its best, shape (b, 7).

    Returns
    -------
    CurvePosterior
        Curves on a grid that reaches somewhat beyond the measured range [D].
    """
    posterior, parameters = _departure_at(batch, fit)
    spacing = (batch.high - batch.low) / CELLS
    grid = batch.low[:, None] + spacing[:, None] * np.arange(-CELLS_BELOW, CELLS + CELLS_ABOVE + 1)
    density, gradient, design, slope_design = _evaluate(batch, parameters, posterior, grid)
    density, gradient = _rearranged(density, gradient, spacing)
    factor = _factor(posterior.covariance, design)
    # Modes of the curve, of its slope and of its base; the last one shifts it along the exposure axis, by
    # what the spread between strips leaves uncertain of their mean.
    shift = -gradient * batch.strip_error[:, None]
    modes = _with_mode(design @ factor, shift)
    slope_modes = _with_mode(slope_design @ factor, np.gradient(shift, axis=1) / spacing[:, None])
    base_modes = np.concatenate([factor[:, 0, :], np.zeros((len(factor), 1))], axis=1)
    base = parameters[:, 0] + posterior.mean[:, 0]

    def best_at(part, part_fit, rows):
        at, best = _departure_at(part, part_fit)
        level, slope, *_ = _evaluate(part, best, at, grid[rows])
        return level, slope, best[:, 0] + at.mean[:, 0]

    none = np.zeros(len(base))
    every = CurveModes(modes, slope_modes, base_modes, none, none)
    every = with_shared_errors(batch, fit, every, best_at)
    curves = GriddedCurves(
        inside=(CELLS_BELOW, CELLS_BELOW + CELLS + 1),
        origin=np.repeat(batch.origin + grid[:, 0], ROWS_PER_CURVE),
        spacing=np.repeat(spacing, ROWS_PER_CURVE),
        density=_rows(with_draws(batch.level[:, None] + density, every.density)),
        gradient=_rows(with_draws(gradient, every.gradient)),
        base=with_draws((batch.level + base)[:, None], every.base[..., None]).ravel(),
        low=np.repeat(batch.origin + batch.low, ROWS_PER_CURVE),
        high=np.repeat(batch.origin + batch.high, ROWS_PER_CURVE),
    )
    return CurvePosterior(
        curves=curves,
        modes=every.density,
        base_modes=every.base,
        batch=batch,
        posterior=posterior,
        form=fit.parameters,
        net_share=every.net_share,
        base_share=every.base_share,
    )


def _rearranged(density, gradient, spacing):
    """The curves made to rise: their densities in order, with the slopes that go with it.

    Chernozhukov, V., Fernández-Val, I. and Galichon, A. (2009). Improving point and interval estimators of
    monotone functions by rearrangement. Biometrika 96, 559-575.
    """
    rising = np.sort(density, axis=1)
    is_moved = rising != density
    slopes = np.gradient(rising, axis=1) / spacing[:, None]
    return rising, np.maximum(np.where(is_moved, slopes, gradient), 0.0)


def _with_mode(columns, row):
    return np.concatenate([np.swapaxes(columns, -1, -2), row[:, None, :]], axis=1)


def _rows(values):
    return values.reshape(-1, values.shape[-1])


def _interval(batch):
    centre = 0.5 * (batch.low + batch.high)
    return centre, 0.5 * (batch.high - batch.low) * 1.15 + 0.25


def _gated_basis(batch, density, base, log_exposure):
    centre, half_width = _interval(batch)
    net = np.maximum(density - base[:, None], 0.0)
    basis, slope = sine_basis(log_exposure, centre, half_width)
    return net / (net + GATE_DENSITY), net, basis, slope


def _departure_at(batch, fit):
    """Posterior of the joint linear model at the form's best."""
    parameters, variance = fit.parameters, fit.noise_variance
    rows, jacobian, root, density, _ = form_rows(batch, parameters, fit.prior_centre, variance)
    gate, _, basis, _ = _gated_basis(batch, density, parameters[:, 0], batch.log_exposure)
    departure = (root * gate)[..., None] * basis
    blank = np.zeros((len(rows), jacobian.shape[1] - departure.shape[1], departure.shape[2]))
    posterior = infer_departure(
        rows,
        jacobian,
        np.concatenate([departure, blank], axis=1),
        _interval(batch)[1],
        prior_dof=batch.prior_dof,
        prior_variance=batch.prior_variance,
        data_count=(batch.weight > 0).sum(axis=1),
    )
    return posterior, parameters


def _evaluate(batch, parameters, posterior, log_exposure):
    """Curve, gradient and their designs (derivatives by all coefficients) at given exposures."""
    density, gradient, jacobian, slope_jacobian = form_derivatives(parameters, log_exposure)
    gate, net, basis, slope = _gated_basis(batch, density, parameters[:, 0], log_exposure)
    gate_slope = gradient * GATE_DENSITY / (net + GATE_DENSITY) ** 2
    design = np.concatenate([jacobian, gate[..., None] * basis], axis=-1)
    slope_design = np.concatenate(
        [slope_jacobian, gate[..., None] * slope + gate_slope[..., None] * basis], axis=-1
    )
    mean = posterior.mean[:, :, None]
    density = density + (design @ mean)[..., 0]
    return density, gradient + (slope_design @ mean)[..., 0], design, slope_design


def _factor(covariance, design):
    """Square root of the covariance whose columns move curve and base most, shape (b, 7 + m, r).

    The principal directions are taken from the curve at every sixth grid point and the base: the curve is
    smooth between them, and so small a problem is solved without the threads of the linear algebra library,
    which cost more than they bring.
    """
    width = covariance.shape[-1]
    scale = np.sqrt(np.maximum(np.einsum("bii->bi", covariance), 1e-30))
    correlation = covariance / (scale[:, :, None] * scale[:, None, :])
    correlation[:, np.arange(width), np.arange(width)] += 1e-9
    root = scale[..., None] * np.linalg.cholesky(correlation)
    moved = np.concatenate([design[:, ::6] @ root, root[:, :1]], axis=1)
    values, vectors = np.linalg.eigh(moved @ np.swapaxes(moved, -1, -2))
    values, vectors = values[:, ::-1][:, :MODE_COUNT], vectors[..., ::-1][..., :MODE_COUNT]
    is_there = values > 1e-12 * values[:, :1]
    weight = np.where(is_there, 1.0 / np.sqrt(np.where(is_there, values, 1.0)), 0.0)
    # Signs of eigenvectors are arbitrary; fixed by a lopsided sum, they do not hang on the last bit.
    lean = np.cos(1.3 * np.arange(vectors.shape[1])) + 0.5
    weight = weight * np.where(lean @ vectors < 0, -1.0, 1.0)
    return root @ (np.swapaxes(moved, -1, -2) @ (vectors * weight[:, None, :]))
