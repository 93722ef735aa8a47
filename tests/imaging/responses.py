"""Scanners of known response, and tablets whose certificates are in error by a known amount."""

import numpy as np


def _quadratic(light):
    return light + 0.03 * light * (1 - light)


def _srgb(light):
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def _s_curve(light):
    """A tone curve: gamma 2.2, then a third of the way to a smooth step."""
    tone = np.clip(light, 0, 1) ** (1 / 2.2)
    return tone + (tone**2 * (3 - 2 * tone) - tone) / 3


RESPONSES = {
    "linear": lambda light: light,
    "gamma": lambda light: light ** (1 / 2.2),
    "quadratic": _quadratic,
    "sRGB": _srgb,
    "S-curve": _s_curve,
}
"""Light that reaches the sensor (1 = clear) to a share of full scale."""

FLARE, DARK, CLEAR = 0.001, 300.0, 60000.0


def level_of(density, response, *, flare=FLARE, dark=DARK, clear=CLEAR):
    """True mean level of a density."""
    light = (10.0 ** -np.asarray(density, float) + flare) / (1 + flare)
    return dark + clear * RESPONSES[response](light)


def tablet_densities(steps=21, increment=0.15, first=0.05):
    """True densities of a tablet, as on its certificate but for the certificate's error."""
    return first + increment * np.arange(steps)
