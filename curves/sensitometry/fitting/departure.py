"""The smooth departure from the characteristic form, averaged over how smooth and how large it may be.

The departure is a Gaussian process in log exposure, gated so that it vanishes in the base, written in
the sine basis of an interval somewhat wider than the measured one; a kernel is then a diagonal prior on
the coefficients. Given the form linearised at its fit,

    y - D(theta_0) = J (theta - theta_0) + gate(x) Phi(x) c + e,   e ~ N(0, sigma^2 / w),

the form's parameters are projected out, one eigen-decomposition a kernel diagonalises what remains, and
the likelihood is then a sum over eigenvalues for any amplitude. The result is averaged over kernels and
amplitudes with their posterior weights, sigma integrated out, so that no single choice is trusted.

References
----------
Solin, A. and Särkkä, S. (2020). Hilbert space methods for reduced-rank Gaussian process regression.
    Statistics and Computing 30, 419-446, eq. 19-22 (sine basis, diagonal prior by the spectral density).
Patterson, H. D. and Thompson, R. (1971). Recovery of inter-block information when block sizes are
    unequal. Biometrika 58, 545-554 (restricted likelihood).
"""

from dataclasses import dataclass

import numpy as np

BASIS_COUNT = 24
# Length scales in log10 exposure: from a kink of two steps to a bend of the whole toe (house choice).
LENGTHS = (0.25, 0.5, 1.0)
# Amplitude of the departure over the noise sd, and its prior weight; 0 = the form suffices (house choice).
RATIOS = np.array([0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 64.0, 256.0])
RATIO_PRIOR = np.array([0.10, 0.15, 0.15, 0.15, 0.15, 0.15, 0.10, 0.03, 0.02])
# Net density at which the departure is half open (house choice; small, so that only the base is spared).
GATE_DENSITY = 0.003


@dataclass(frozen=True, slots=True)
class LinearPosterior:
    """Joint posterior of the form's parameter step and the departure's coefficients.

    Parameters
    ----------
    mean : ndarray, shape (b, 7 + m)
        Step from the point of linearisation [parameter units], then coefficients [D].
    covariance : ndarray, shape (b, 7 + m, 7 + m)
        Their covariance.
    noise_variance : ndarray, shape (b,) [D^2]
        Posterior mean of sigma^2.
    noise_dof : ndarray, shape (b,) [1]
        Degrees of freedom that it rests on.
    departure_weight : ndarray, shape (b,) [1]
        Posterior probability that there is a departure at all.
    """

    mean: np.ndarray
    covariance: np.ndarray
    noise_variance: np.ndarray
    noise_dof: np.ndarray
    departure_weight: np.ndarray


def sine_basis(log_exposure, centre, half_width):
    """Sine basis on an interval, and its derivative.

    Parameters
    ----------
    log_exposure : ndarray, shape (b, n) [log10 lx s]
        Where.
    centre, half_width : ndarray, shape (b,) [log10 lx s]
        The interval of each problem.

    Returns
    -------
    basis : ndarray, shape (b, n, m) [1]
    slope : ndarray, shape (b, n, m) [per log10 lx s]
    """
    frequency = _frequencies(half_width)[:, None, :]
    width = half_width[:, None, None]
    phase = frequency * (log_exposure - centre[:, None] + half_width[:, None])[..., None]
    is_inside = (np.abs(log_exposure - centre[:, None]) <= half_width[:, None])[..., None]
    root = np.where(is_inside, width**-0.5, 0.0)
    return root * np.sin(phase), root * frequency * np.cos(phase)


def _frequencies(half_width):
    return np.pi * np.arange(1, BASIS_COUNT + 1) / (2.0 * half_width[:, None])


def _prior_variances(half_width, length):
    """Spectral density of the squared-exponential kernel of unit amplitude, shape (b, m)."""
    finest = 3.2 * half_width[:, None] / BASIS_COUNT
    length = np.maximum(length, finest)
    return np.sqrt(2 * np.pi) * length * np.exp(-0.5 * (length * _frequencies(half_width)) ** 2)


def infer_departure(rows, form_rows, departure_rows, half_width, *, prior_dof, prior_variance, data_count):
    """Average the departure over its kernels and amplitudes.

    Parameters
    ----------
    rows : ndarray, shape (b, k) [D]
        Whitened residuals of the form, then those of its prior (k = n + 7).
    form_rows : ndarray, shape (b, k, 7) [D over the unit of the parameter]
        Whitened Jacobian of the form over its prior.
    departure_rows : ndarray, shape (b, k, m) [1]
        Whitened gated basis over zeros.
    half_width : ndarray, shape (b,) [log10 lx s]
        Half width of the basis interval.
    prior_dof, prior_variance : ndarray, shape (b,) [1], [D^2]
        Scaled inverse chi-square prior of the noise variance.
    data_count : ndarray, shape (b,) [1]
        Number of readings among the rows.

    Returns
    -------
    LinearPosterior
    """
    complete, triangle = np.linalg.qr(form_rows, mode="complete")
    width = form_rows.shape[-1]
    inside, outside = complete[..., :width], complete[..., width:]
    triangle = triangle[:, :width]
    data_rows = rows.shape[1] - width
    leverage = np.einsum("bij,bij->b", inside[:, :data_rows], inside[:, :data_rows])
    dof = np.maximum(data_count - leverage, 1.0)
    free = np.einsum("bij,bi->bj", outside, rows)
    projected = np.swapaxes(outside, -1, -2) @ departure_rows

    parts = [
        _kernel_part(free, projected, _prior_variances(half_width, length), dof, prior_dof, prior_variance)
        for length in LENGTHS
    ]
    evidence = np.stack([part["evidence"] for part in parts], axis=1)
    evidence += np.log(RATIO_PRIOR)
    weight = np.exp(evidence - evidence.max(axis=(1, 2), keepdims=True))
    weight /= weight.sum(axis=(1, 2), keepdims=True)

    mean, covariance, noise = _mix(parts, weight)
    solve = np.linalg.inv(triangle)
    to_form = -solve @ (np.swapaxes(inside, -1, -2) @ departure_rows)
    form_mean = (solve @ np.einsum("bij,bi->bj", inside, rows)[..., None])[..., 0]
    form_mean += (to_form @ mean[..., None])[..., 0]
    cross = to_form @ covariance
    form_covariance = noise[:, None, None] * (solve @ np.swapaxes(solve, -1, -2))
    form_covariance += cross @ np.swapaxes(to_form, -1, -2)
    joint = np.concatenate(
        [
            np.concatenate([form_covariance, cross], axis=2),
            np.concatenate([np.swapaxes(cross, -1, -2), covariance], axis=2),
        ],
        axis=1,
    )
    return LinearPosterior(
        mean=np.concatenate([form_mean, mean], axis=1),
        covariance=joint,
        noise_variance=noise,
        noise_dof=dof + prior_dof,
        departure_weight=1.0 - weight[:, :, 0].sum(axis=1),
    )


def _kernel_part(free, projected, prior, dof, prior_dof, prior_variance):
    """What one kernel says for every amplitude: evidence, noise, and filter factors."""
    scaled = projected * np.sqrt(prior)[:, None, :]
    values, vectors = np.linalg.eigh(scaled @ np.swapaxes(scaled, -1, -2))
    values = np.maximum(values, 0.0)
    turned = np.einsum("bij,bi->bj", vectors, free)
    ratio = RATIOS[None, :, None] ** 2
    spread = 1.0 + ratio * values[:, None, :]
    misfit = np.sum(turned[:, None, :] ** 2 / spread, axis=-1)
    total = misfit + (prior_dof * prior_variance)[:, None]
    evidence = -0.5 * np.log(spread).sum(axis=-1) - 0.5 * (dof + prior_dof)[:, None] * np.log(total)
    return {
        "evidence": evidence,
        "noise": total / np.maximum(dof + prior_dof - 2.0, 1.0)[:, None],
        "factor": ratio / spread,
        "turned": turned,
        "lift": prior[:, :, None] * (np.swapaxes(projected, -1, -2) @ vectors),
        "prior": prior,
        "ratio": ratio,
    }


def _mix(parts, weight):
    """Mean and covariance of the coefficients and mean noise variance of the whole mixture."""
    noise = sum((weight[:, k] * part["noise"]).sum(axis=1) for k, part in enumerate(parts))
    means, covariance = [], 0.0
    for k, part in enumerate(parts):
        share = weight[:, k]
        scores = part["factor"] * part["turned"][:, None, :]
        kernel_means = scores @ np.swapaxes(part["lift"], -1, -2)
        means.append(kernel_means)
        loose = (share * part["noise"])[..., None]
        diagonal = (loose * part["ratio"]).sum(axis=1) * part["prior"]
        shrink = (loose * part["ratio"] * part["factor"]).sum(axis=1)
        covariance = covariance - (part["lift"] * shrink[:, None, :]) @ np.swapaxes(part["lift"], -1, -2)
        index = np.arange(diagonal.shape[1])
        covariance[:, index, index] += diagonal
    means = np.concatenate(means, axis=1)
    flat = weight.reshape(len(weight), -1)
    mean = np.einsum("bh,bhm->bm", flat, means)
    apart = (means - mean[:, None, :]) * np.sqrt(flat)[..., None]
    covariance = covariance + np.swapaxes(apart, -1, -2) @ apart
    return mean, covariance, noise
