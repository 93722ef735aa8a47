"""Errors that readings share, carried into a fitted curve by fitting it once more with the readings moved.

An error that all readings of an instrument have in common leaves the scatter about the curve as it is, so
the fit cannot see it. The readings are moved by one standard deviation of it, and where the curve goes is
a mode of its error beside those of the reading noise.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from curves.sensitometry.fitting.form_fit import FormFit, fit_form
from curves.sensitometry.fitting.step_batch import StepBatch


@dataclass(frozen=True, slots=True, eq=False)
class CurveModes:
    """Modes of the error of a batch of curves: it is ``z @ modes``, z standard normal.

    Parameters
    ----------
    density, gradient : ndarray, shape (b, r, g) [D], [D per log10 lx s]
        Of the curve and its slope.
    base : ndarray, shape (b, r) [D]
        Of base plus fog.
    net_share, base_share : ndarray, shape (b,) [1]
        Share of the variance of the net curve and of the base that readings share.
    """

    density: np.ndarray
    gradient: np.ndarray
    base: np.ndarray
    net_share: np.ndarray
    base_share: np.ndarray


# (batch, fit, rows of the whole batch) → best density, gradient (each (b', g)) and base (b',).
Evaluation = Callable[[StepBatch, FormFit, np.ndarray], tuple[np.ndarray, np.ndarray, np.ndarray]]


def with_shared_errors(batch: StepBatch, fit: FormFit, modes: CurveModes, best_at: Evaluation) -> CurveModes:
    """The modes with those of the errors that readings share, in the same number.

    Parameters
    ----------
    batch : StepBatch
        Step data with `shared` errors, shape (b, s, n) [D].
    fit : FormFit
        The form at its best, shape (b, 7).
    modes : CurveModes
        Of the reading noise [D].
    best_at : callable
        Best curve of some rows of a batch on the grid [D].

    Returns
    -------
    CurveModes
        Unchanged for curves whose readings share no error.
    """
    chosen = np.nonzero(np.any(batch.shared != 0, axis=(1, 2)))[0]
    if not chosen.size:
        return modes
    moved = [_moved(batch, fit, number, best_at) for number in chosen]
    density, gradient, base = modes.density.copy(), modes.gradient.copy(), modes.base.copy()
    net_share, base_share = modes.net_share.copy(), modes.base_share.copy()
    for k, (of_density, of_gradient, of_base) in zip(chosen, moved, strict=True):
        net = np.concatenate([modes.density[k] - modes.base[k][:, None], of_density - of_base[:, None]])
        all_base = np.concatenate([modes.base[k], of_base])
        own = len(modes.base[k])
        net_share[k] = _share(np.sum(net[own:] ** 2), np.sum(net**2))
        base_share[k] = _share(np.sum(of_base**2), np.sum(all_base**2))
        turn = _rotation(np.concatenate([net, all_base[:, None]], axis=1))[:own]
        density[k] = turn @ np.concatenate([modes.density[k], of_density])
        gradient[k] = turn @ np.concatenate([modes.gradient[k], of_gradient])
        base[k] = turn @ all_base
    return CurveModes(density, gradient, base, net_share, base_share)


def _share(part: float, whole: float) -> float:
    return float(part / whole) if whole > 0 else 0.0


def _moved(batch, fit, number, best_at):
    """Where one curve goes for each shared error of one standard deviation."""
    errors = batch.shared[number][np.any(batch.shared[number] != 0, axis=1)]
    rows = np.full(len(errors), number)
    still, still_fit = batch.rows(rows), fit.rows(rows)
    pushed = replace(still, density=still.density + errors)
    before = best_at(still, still_fit, rows)
    after = best_at(pushed, fit_form(pushed, still_fit), rows)
    return tuple(new - old for new, old in zip(after, before, strict=True))


def _rotation(modes):
    """Turns modes into principal ones: the same covariance, the largest first."""
    turn, _, _ = np.linalg.svd(modes, full_matrices=False)
    turn = turn.T
    # Signs of singular vectors are arbitrary; fixed by a lopsided sum, they do not hang on the last bit.
    lean = np.cos(1.3 * np.arange(turn.shape[1])) + 0.5
    return turn * np.where(turn @ lean < 0, -1.0, 1.0)[:, None]
