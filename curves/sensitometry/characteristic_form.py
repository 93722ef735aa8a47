"""The characteristic curve's physical form: base, toe, straight part and shoulder, six parameters.

With ``s(u) = ln(1 + e^u)`` (a ramp with a soft corner) the toe and straight part are

    T(x) = g w1 s((x - x1) / w1)

and the shoulder bends T over at the net density M,

    D(x) = b + M - w2 s((M - T) / w2) + w2 ln(1 + e^(-M / w2)),

so that D is b far below the toe and never falls. ``g`` is the slope of the straight part, ``x1`` the
exposure where its line meets the base, ``w1`` the softness of the toe in log exposure, ``w2`` that of
the shoulder in density. The form is the composition of two soft ramps; a single soft ramp is the
closed-form toe curve found in textbooks (common practice, no source).

Parameters are carried as ``(b, ln g, x1, ln w1, ln M, ln w2)`` so that any real vector is a valid,
rising curve.
"""

import numpy as np

PARAMETER_COUNT = 6


def soft_ramp(u):
    """ln(1 + e^u) and its slope, without overflow.

    Parameters
    ----------
    u : array_like, any shape [1]
        Argument.

    Returns
    -------
    ramp, slope : ndarray, same shape [1]
        The ramp and the logistic function, its derivative.
    """
    small = np.exp(-np.abs(u))
    logistic = np.where(u >= 0, 1.0, small) / (1.0 + small)
    return np.maximum(u, 0.0) + np.log1p(small), logistic


def form_density(parameters, log_exposure):
    """Density of the form.

    Parameters
    ----------
    parameters : array_like, shape (b, 6)
        ``(b, ln g, x1, ln w1, ln M, ln w2)`` [D; ln D per log10 lx s; log10 lx s; ln log10 lx s; ln D; ln D].
    log_exposure : array_like, shape (b, n) [log10 lx s]
        Exposures.

    Returns
    -------
    density : ndarray, shape (b, n) [D]

    Examples
    --------
    >>> q = np.array([[0.25, np.log(0.70), -2.6, np.log(0.20), np.log(50.0), np.log(0.1)]])
    >>> float(form_density(q, np.array([[-2.591632]]))[0, 0].round(5))
    0.35
    """
    base, contrast, foot, toe, top, shoulder = _unpack(parameters)
    ramp, _ = soft_ramp((log_exposure - foot) / toe)
    bend, _ = soft_ramp((top - contrast * toe * ramp) / shoulder)
    return base + top - shoulder * bend + shoulder * np.log1p(np.exp(-top / shoulder))


def form_derivatives(parameters, log_exposure):
    """Density, gradient, and how both change with each parameter.

    Parameters
    ----------
    parameters : array_like, shape (b, 6)
        As for `form_density`.
    log_exposure : array_like, shape (b, n) [log10 lx s]
        Exposures.

    Returns
    -------
    density : ndarray, shape (b, n) [D]
    gradient : ndarray, shape (b, n) [D per log10 lx s]
    density_jacobian, gradient_jacobian : ndarray, shape (b, n, 6)
        Derivatives by the parameters [unit of the first over that of the parameter].
    """
    base, contrast, foot, toe, top, shoulder = _unpack(parameters)
    z = (log_exposure - foot) / toe
    ramp, s1 = soft_ramp(z)
    line = contrast * toe * ramp
    q = (top - line) / shoulder
    bend, s2 = soft_ramp(q)
    floor, floor_slope = soft_ramp(-top / shoulder)
    density = base + top - shoulder * bend + shoulder * floor
    gradient = contrast * s1 * s2

    line_toe = contrast * toe * (ramp - z * s1)
    density_jacobian = np.stack(
        [
            np.ones_like(density),
            s2 * line,
            -gradient,
            s2 * line_toe,
            top * (1.0 - s2 - floor_slope),
            shoulder * (q * s2 - bend + floor) + top * floor_slope,
        ],
        axis=-1,
    )
    curl1 = s1 * (1.0 - s1)
    curl2 = s2 * (1.0 - s2) / shoulder
    gradient_jacobian = np.stack(
        [
            np.zeros_like(density),
            gradient - contrast * s1 * curl2 * line,
            contrast * (-curl1 / toe * s2 + contrast * s1 * s1 * curl2),
            contrast * (-curl1 * z * s2 - s1 * curl2 * line_toe),
            contrast * s1 * curl2 * top,
            -contrast * s1 * curl2 * q * shoulder,
        ],
        axis=-1,
    )
    return density, gradient, density_jacobian, gradient_jacobian


def _unpack(parameters):
    parameters = np.asarray(parameters, dtype=float)
    base, log_contrast, foot, log_toe, log_top, log_shoulder = np.moveaxis(parameters, -1, 0)[..., None]
    logs = np.clip(np.stack([log_contrast, log_toe, log_top, log_shoulder]), -12.0, 12.0)
    contrast, toe, top, shoulder = np.exp(logs)
    return base, contrast, foot, toe, top, shoulder
