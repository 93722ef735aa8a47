"""The characteristic curve's physical form: base, toe, straight part or arc, and shoulder.

With ``s(v) = ln(1 + e^v)`` (a ramp with a soft corner) the toe and what follows it are

    u(x) = w1 s((x - x1) / w1),    T(x) = g u^p,

a straight line of slope g above the toe when p = 1, an arc that steepens when p > 1. The shoulder bends
T over at the net density M,

    D(x) = b + M - w2 s((M - T) / w2) + w2 ln(1 + e^(-M / w2)),

so that D is b far below the toe and never falls. ``x1`` is where the line meets the base, ``w1`` the
softness of the toe in log exposure, ``w2`` that of the shoulder in density. The form is the composition
of two soft ramps; a single soft ramp is the closed-form toe of textbooks (common practice, no source).

Parameters are carried as ``(b, ln g, x1, ln w1, ln M, ln w2, ln p)`` so that any real vector is a valid,
rising curve.
"""

import numpy as np

PARAMETER_COUNT = 7
_LEAST = 1e-30


def soft_ramp(argument):
    """ln(1 + e^v) and its slope, without overflow.

    Parameters
    ----------
    argument : array_like, any shape [1]
        v.

    Returns
    -------
    ramp, slope : ndarray, same shape [1]
        The ramp and the logistic function, its derivative.
    """
    small = np.exp(-np.abs(argument))
    logistic = np.where(argument >= 0, 1.0, small) / (1.0 + small)
    return np.maximum(argument, 0.0) + np.log1p(small), logistic


def form_density(parameters, log_exposure):
    """Density of the form.

    Parameters
    ----------
    parameters : array_like, shape (b, 7)
        ``(b, ln g, x1, ln w1, ln M, ln w2, ln p)`` in density and log10 lx s.
    log_exposure : array_like, shape (b, n) [log10 lx s]
        Exposures.

    Returns
    -------
    density : ndarray, shape (b, n) [D]

    Examples
    --------
    >>> q = np.array([[0.25, np.log(0.70), -2.6, np.log(0.20), np.log(50.0), np.log(0.1), 0.0]])
    >>> float(form_density(q, np.array([[-2.591632]]))[0, 0].round(5))
    0.35
    """
    return form_derivatives(parameters, log_exposure)[0]


def form_derivatives(parameters, log_exposure):
    """Density, gradient, and how both change with each parameter.

    Parameters
    ----------
    parameters : array_like, shape (b, 7)
        As for `form_density`.
    log_exposure : array_like, shape (b, n) [log10 lx s]
        Exposures.

    Returns
    -------
    density : ndarray, shape (b, n) [D]
    gradient : ndarray, shape (b, n) [D per log10 lx s]
    density_jacobian, gradient_jacobian : ndarray, shape (b, n, 7)
        Derivatives by the parameters [unit of the first over that of the parameter].
    """
    base, contrast, foot, toe, top, shoulder, power = _unpack(parameters)
    z = (log_exposure - foot) / toe
    ramp, s1 = soft_ramp(z)
    reach = toe * np.maximum(ramp, _LEAST)
    log_reach = np.log(reach)
    line = contrast * np.exp(power * log_reach)
    line_slope = power * line / reach * s1
    # How reach answers to ln w1; the foot moves everything along the axis.
    reach_toe = toe * (ramp - z * s1)

    q = (top - line) / shoulder
    bend, s2 = soft_ramp(q)
    floor, floor_slope = soft_ramp(-top / shoulder)
    density = base + top - shoulder * bend + shoulder * floor
    gradient = line_slope * s2

    by_contrast, by_toe, by_power = line, power * line / reach * reach_toe, power * line * log_reach
    by_shoulder = shoulder * (q * s2 - bend + floor) + top * floor_slope
    density_jacobian = np.stack(
        [
            np.ones_like(density),
            s2 * by_contrast,
            -gradient,
            s2 * by_toe,
            top * (1.0 - s2 - floor_slope),
            by_shoulder,
            s2 * by_power,
        ],
        axis=-1,
    )
    curl = line_slope * s2 * (1.0 - s2) / shoulder
    stretch = (power - 1.0) / reach
    gradient_jacobian = np.stack(
        [
            np.zeros_like(density),
            gradient - curl * by_contrast,
            -gradient * (stretch * s1 + (1.0 - s1) / toe) + curl * line_slope,
            gradient * (stretch * reach_toe - (1.0 - s1) * z) - curl * by_toe,
            curl * top,
            -curl * q * shoulder,
            gradient * (1.0 + power * log_reach) - curl * by_power,
        ],
        axis=-1,
    )
    return density, gradient, density_jacobian, gradient_jacobian


def _unpack(parameters):
    parameters = np.asarray(parameters, dtype=float)
    base, log_contrast, foot, *logs = np.moveaxis(parameters, -1, 0)[..., None]
    contrast, toe, top, shoulder, power = np.exp(np.clip([log_contrast, *logs], -12.0, 12.0))
    return base, contrast, foot, toe, top, shoulder, power
