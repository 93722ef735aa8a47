"""A circular measuring aperture: its area, its transfer of spatial frequencies, Selwyn's number."""

import math

import numpy as np
from scipy.special import j1

APERTURE_UM = 48.0
"""Diameter at which RMS granularity is stated; ISO 10505:2009 and its predecessors."""


def aperture_area(diameter_um: float = APERTURE_UM) -> float:
    """Area of a circular aperture.

    Parameters
    ----------
    diameter_um : float, scalar [um]

    Returns
    -------
    area : float, scalar [um^2]

    Examples
    --------
    >>> round(aperture_area(), 3)
    1809.557
    """
    return math.pi * diameter_um**2 / 4


def aperture_transfer(frequency, diameter_um: float = APERTURE_UM) -> np.ndarray:
    """How much of a ripple's amplitude is left in the mean over a circle: 2 J1(pi d f) / (pi d f).

    Parameters
    ----------
    frequency : array_like, any shape [cycles/mm]
    diameter_um : float, scalar [um]

    Returns
    -------
    transfer : ndarray, same shape [1]
        1 at zero frequency; negative where the ripple is reversed.
    """
    x = math.pi * diameter_um / 1000 * np.abs(np.asarray(frequency, dtype=float))
    with np.errstate(invalid="ignore"):
        return np.where(x < 1e-4, 1 - x**2 / 8, 2 * j1(x) / np.where(x == 0, 1, x))


def circle_overlap(distance_um, diameter_um: float) -> np.ndarray:
    """Area that two equal circles share.

    Parameters
    ----------
    distance_um : array_like, any shape [um]
        Distance of their centres.
    diameter_um : float, scalar [um]

    Returns
    -------
    area : ndarray, same shape [um^2]
    """
    ratio = np.clip(np.asarray(distance_um, dtype=float) / diameter_um, 0, 1)
    return diameter_um**2 / 2 * (np.arccos(ratio) - ratio * np.sqrt(1 - ratio**2))


def selwyn_granularity(sd: float, diameter_um: float = APERTURE_UM) -> float:
    """Selwyn's G = sd * sqrt(2 A): the same for every aperture much larger than the grain.

    Parameters
    ----------
    sd : float, scalar [density]
        Standard deviation of density through the aperture.
    diameter_um : float, scalar [um]

    Returns
    -------
    granularity : float, scalar [density um]

    Examples
    --------
    >>> round(selwyn_granularity(0.010), 5)
    0.60159
    """
    return sd * math.sqrt(2 * aperture_area(diameter_um))
