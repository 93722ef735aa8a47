"""Damped least squares for many small problems at once: one routine for the engine and its references.

Levenberg-Marquardt with the scaling of Moré and the damping rule of Nielsen, written over a batch of
independent problems. A problem that has converged is frozen and no longer evaluated, so its result does
not depend on what else is in the batch.

References
----------
Moré, J. J. (1978). The Levenberg-Marquardt algorithm: implementation and theory. Numerical Analysis,
    Lecture Notes in Mathematics 630, 105-116.
Nielsen, H. B. (1999). Damping parameter in Marquardt's method. IMM-REP-1999-05, DTU.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Evaluate = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


@dataclass(frozen=True, slots=True)
class Solution:
    """Where the search ended.

    Parameters
    ----------
    parameters : ndarray, shape (b, p)
        Best parameters of each problem [units of the problem].
    sum_of_squares : ndarray, shape (b,)
        Sum of squared residuals there.
    is_converged : ndarray of bool, shape (b,)
        False where the iteration limit came first.
    iterations : int
        Iterations of the slowest problem.
    """

    parameters: np.ndarray
    sum_of_squares: np.ndarray
    is_converged: np.ndarray
    iterations: int


def least_squares(
    evaluate: Evaluate, start, *, max_iterations: int = 200, tolerance: float = 1e-12
) -> Solution:
    """Minimise the sum of squared residuals of each of a batch of problems.

    Parameters
    ----------
    evaluate : callable
        ``evaluate(parameters (k, p), problems (k,)) -> residuals (k, n), jacobian (k, n, p)`` for those
        problems of the batch whose indices are given. Non-finite residuals reject the step.
    start : array_like, shape (b, p)
        First guesses [units of the problem].
    max_iterations : int, scalar [1]
        Iterations after which a problem is left as it stands.
    tolerance : float, scalar [1]
        A problem is done when a step is smaller than this share of its (scaled) parameters, or when
        the expected fall of its sum of squares is smaller than this share of it.

    Returns
    -------
    Solution
        Parameters with shape (b, p) in the units of the problem.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 2.0])
    >>> line = lambda q, k: (q[:, :1] + q[:, 1:] * x - [[1.0, 3.0, 5.0]],
    ...                      np.broadcast_to(np.stack([x**0, x], -1), (len(k), 3, 2)))
    >>> least_squares(line, [[0.0, 0.0]]).parameters.round(9).tolist()
    [[1.0, 2.0]]
    """
    parameters = np.array(start, dtype=float)
    count, _ = parameters.shape
    active = np.arange(count)
    residuals, jacobian = evaluate(parameters, active)
    total = np.full(count, np.inf)
    total[:] = _sum_of_squares(residuals)
    is_converged = np.zeros(count, dtype=bool)
    normal, slope = _normal_equations(residuals, jacobian)
    scale = np.sqrt(np.maximum(_diagonal(normal), 1e-300))
    damping = np.full(count, 1e-3)
    growth = np.full(count, 2.0)
    iterations = 0
    while active.size and iterations < max_iterations:
        iterations += 1
        step, predicted = _damped_step(normal[active], slope[active], scale[active], damping[active])
        trial = parameters[active] + step
        trial_residuals, trial_jacobian = evaluate(trial, active)
        trial_total = _sum_of_squares(trial_residuals)
        fall = total[active] - trial_total
        gain = fall / np.maximum(predicted, 1e-300)
        is_better = fall > 0
        done = _is_small(step, predicted, scale[active], parameters[active], total[active], tolerance)

        better = active[is_better]
        parameters[better] = trial[is_better]
        total[better] = trial_total[is_better]
        new_normal, new_slope = _normal_equations(trial_residuals[is_better], trial_jacobian[is_better])
        normal[better], slope[better] = new_normal, new_slope
        scale[better] = np.maximum(scale[better], np.sqrt(np.maximum(_diagonal(new_normal), 1e-300)))
        damping[better] *= np.maximum(1 / 3, 1 - (2 * gain[is_better] - 1) ** 3)
        growth[better] = 2.0
        worse = active[~is_better]
        damping[worse] *= growth[worse]
        growth[worse] *= 2.0

        done |= damping[active] > 1e30
        is_converged[active[done]] = True
        active = active[~done]
    return Solution(parameters, total, is_converged, iterations)


def _sum_of_squares(residuals):
    with np.errstate(over="ignore", invalid="ignore"):
        total = np.einsum("bn,bn->b", residuals, residuals)
    return np.where(np.isfinite(total), total, np.inf)


def _normal_equations(residuals, jacobian):
    transposed = np.swapaxes(jacobian, -1, -2)
    return transposed @ jacobian, (transposed @ residuals[..., None])[..., 0]


def _diagonal(matrices):
    return np.einsum("bii->bi", matrices)


def _damped_step(normal, slope, scale, damping):
    """Step and the fall of the sum of squares that the linear model expects of it."""
    width = scale.shape[-1]
    scaled = normal / (scale[:, :, None] * scale[:, None, :])
    scaled[:, np.arange(width), np.arange(width)] += damping[:, None] + 1e-15
    step_scaled = -np.linalg.solve(scaled, (slope / scale)[..., None])[..., 0]
    squared = np.einsum("bi,bi->b", step_scaled, step_scaled)
    predicted = damping * squared - np.einsum("bi,bi->b", step_scaled, slope / scale)
    return step_scaled / scale, np.abs(predicted)


def _is_small(step, predicted, scale, parameters, total, tolerance):
    length = np.linalg.norm(step * scale, axis=-1)
    size = np.linalg.norm(parameters * scale, axis=-1)
    return (length <= tolerance * (size + tolerance)) | (predicted <= tolerance * tolerance * total)
