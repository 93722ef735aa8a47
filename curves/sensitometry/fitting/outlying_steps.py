"""Steps that the others contradict: found by externally studentised deletion residuals, left out, told.

References
----------
Cook, R. D. and Weisberg, S. (1982). Residuals and Influence in Regression. Chapman and Hall, section 2.2.
"""

from dataclasses import replace

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.fitting.form_fit import FormFit, fit_form, form_rows
from curves.sensitometry.fitting.step_batch import StepBatch

# Chance of a false alarm a strip that an outlying step must beat (Bonferroni over its steps), and the
# least size of one that matters (house choice).
OUTLIER_CHANCE = 0.01
OUTLIER_LEAST = 0.03
MOST_OUTLIERS = 3


def fit_without_outliers(batch: StepBatch) -> tuple[StepBatch, FormFit]:
    """Fit the form; leave out, one at a time, a step whose deletion residual is too large; refit.

    Parameters
    ----------
    batch : StepBatch
        Step data, shape (b, n) [log10, D].

    Returns
    -------
    batch : StepBatch
        With weight 0 for the steps left out, and the measured range of those that are left.
    fit : FormFit
        The form at its best, shape (b, 7).
    """
    fit = fit_form(batch)
    weight = batch.weight.copy()
    open_rows = np.arange(len(batch.low))
    for _ in range(MOST_OUTLIERS):
        worst, is_out = _worst_step(batch.rows(open_rows), fit.rows(open_rows))
        open_rows = open_rows[is_out]
        if not open_rows.size:
            break
        weight[open_rows, worst[is_out]] = 0.0
        batch = replace(batch, weight=weight)
        fit = fit.updated(open_rows, fit_form(batch.rows(open_rows)))
    return _measured_range(batch), fit


def _measured_range(batch):
    """The range of the steps that are left: an outlier at an end takes its end with it."""
    is_used = (batch.weight > 0) & ~batch.is_base
    low = np.where(is_used, batch.log_exposure, np.inf).min(axis=1)
    return replace(batch, low=low, high=np.where(is_used, batch.log_exposure, -np.inf).max(axis=1))


def _worst_step(batch, fit):
    """Index of each curve's worst step and whether it is to be left out; the base never is."""
    residuals, jacobian, root, _, _ = form_rows(batch, fit.parameters, fit.prior_centre, fit.noise_variance)
    count = batch.log_exposure.shape[1]
    orthogonal, _ = np.linalg.qr(jacobian)
    leverage = np.einsum("bij,bij->bi", orthogonal[:, :count], orthogonal[:, :count])
    free = np.maximum(1.0 - leverage, 1e-6)
    residuals = residuals[:, :count]
    dof = (root > 0).sum(axis=1) - leverage.sum(axis=1) + batch.prior_dof
    total = (residuals**2).sum(axis=1) + batch.prior_dof * batch.prior_variance
    rest = (total[:, None] - residuals**2 / free) / np.maximum(dof[:, None] - 1.0, 1.0)
    rest = np.maximum(rest, batch.least_variance[:, None])
    studentised = np.abs(residuals) / np.sqrt(rest * free)
    size = np.abs(residuals) / np.maximum(root, 1e-12) / free
    is_open = (batch.weight > 0) & ~batch.is_base & (size > OUTLIER_LEAST)
    studentised = np.where(is_open, studentised, 0.0)
    worst = np.argmax(studentised, axis=1)
    tail = 0.5 * OUTLIER_CHANCE / np.maximum((batch.weight > 0).sum(axis=1), 1)
    limit = stdtrit(np.maximum(dof - 1.0, 1.0), 1.0 - tail)
    return worst, studentised[np.arange(len(worst)), worst] > limit
