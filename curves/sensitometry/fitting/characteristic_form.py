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
    """Density of the form, its gradient, and how the density changes with each parameter.

    Parameters
    ----------
    parameters : array_like, shape (b, 7) [D, log10 lx s, and their logarithms]
        ``(b, ln g, x1, ln w1, ln M, ln w2, ln p)``.
    log_exposure : array_like, shape (b, n) [log10 lx s]
        Exposures.

    Returns
    -------
    density : ndarray, shape (b, n) [D]
    gradient : ndarray, shape (b, n) [D per log10 lx s]
    jacobian : ndarray, shape (b, n, 7)
        Derivatives of the density [D over the unit of the parameter].

    Examples
    --------
    >>> q = np.array([[0.25, np.log(0.70), -2.6, np.log(0.20), np.log(50.0), np.log(0.1), 0.0]])
    >>> float(form_density(q, np.array([[-2.591632]]))[0][0, 0].round(5))
    0.35
    """
    form = _Form(parameters, log_exposure)
    return form.density, form.gradient, form.density_jacobian()


def form_derivatives(parameters, log_exposure):
    """As `form_density`, and how the gradient changes with each parameter.

    Parameters
    ----------
    parameters : array_like, shape (b, 7) [D, log10 lx s, and their logarithms]
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
    form = _Form(parameters, log_exposure)
    return form.density, form.gradient, form.density_jacobian(), form.gradient_jacobian()


class _Form:
    """The parts of the form at given exposures, shared by value and derivatives."""

    def __init__(self, parameters, log_exposure):
        base, log_contrast, foot, *logs = np.moveaxis(np.asarray(parameters, dtype=float), -1, 0)[..., None]
        limited = np.clip(np.stack([log_contrast, *logs]), -12.0, 12.0)
        contrast, self.toe, self.top, self.shoulder, self.power = np.exp(limited)
        self.z = (log_exposure - foot) / self.toe
        ramp, self.s1 = soft_ramp(self.z)
        self.reach = self.toe * np.maximum(ramp, _LEAST)
        self.log_reach = np.log(self.reach)
        # A trial step may go anywhere; e^50 is beyond all film and leaves room for squares.
        self.line = contrast * np.exp(np.minimum(self.power * self.log_reach, 50.0))
        self.line_slope = self.power * self.line / self.reach * self.s1
        # How reach answers to ln w1; the foot moves everything along the axis.
        self.reach_toe = self.toe * (ramp - self.z * self.s1)
        self.q = (self.top - self.line) / self.shoulder
        self.bend, self.s2 = soft_ramp(self.q)
        self.floor, self.floor_slope = soft_ramp(-self.top / self.shoulder)
        self.density = base + self.top - self.shoulder * (self.bend - self.floor)
        self.gradient = self.line_slope * self.s2
        self.by_toe = self.power * self.line / self.reach * self.reach_toe
        self.by_power = self.power * self.line * self.log_reach

    def density_jacobian(self):
        top, s2 = self.top, self.s2
        jacobian = np.empty((*self.density.shape, PARAMETER_COUNT))
        jacobian[..., 0] = 1.0
        jacobian[..., 1] = s2 * self.line
        jacobian[..., 2] = -self.gradient
        jacobian[..., 3] = s2 * self.by_toe
        jacobian[..., 4] = top * (1.0 - s2 - self.floor_slope)
        jacobian[..., 5] = self.shoulder * (self.q * s2 - self.bend + self.floor) + top * self.floor_slope
        jacobian[..., 6] = s2 * self.by_power
        return jacobian

    def gradient_jacobian(self):
        gradient, s1 = self.gradient, self.s1
        curl = gradient * (1.0 - self.s2) / self.shoulder
        stretch = (self.power - 1.0) / self.reach
        jacobian = np.empty((*self.density.shape, PARAMETER_COUNT))
        jacobian[..., 0] = 0.0
        jacobian[..., 1] = gradient - curl * self.line
        jacobian[..., 2] = curl * self.line_slope - gradient * (stretch * s1 + (1.0 - s1) / self.toe)
        jacobian[..., 3] = gradient * (stretch * self.reach_toe - (1.0 - s1) * self.z) - curl * self.by_toe
        jacobian[..., 4] = curl * self.top
        jacobian[..., 5] = -curl * self.q * self.shoulder
        jacobian[..., 6] = gradient * (1.0 + self.power * self.log_reach) - curl * self.by_power
        return jacobian
