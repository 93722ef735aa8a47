"""Transmittance and density, averages of grainy areas, and the Callier factor.

References
----------
ISO 5-1:2009, Photography and graphic technology: density measurements, geometry and functional
notation (definition of density, from memory). Callier, A., Phot. J. 33, 200 (1909) for the ratio of
specular to diffuse density (from memory).
"""

import math

import numpy as np
from scipy.special import stdtrit

from curves.sensitometry.intervals import GREATEST, Z95, is_usable, measure_with_error
from curves.sensitometry.measures import Measure, withheld

LEAST_TRANSMITTANCE = 1e-9  # no instrument tells less light from none
LEAST_DENSITY = 0.01  # the last digit of a densitometer; a ratio of less says nothing


def density_from_transmittance(transmittance: float, sd: float | None = None) -> Measure:
    """Density of a transmittance, ``D = -log10 T``.

    Parameters
    ----------
    transmittance : float, scalar [share of light]
        Above 1 it gives a small negative density, which is kept.
    sd : float or None, scalar [share of light]
        Standard error of the transmittance.

    Returns
    -------
    Measure
        ``density`` [D]; ``SATURATED`` for a transmittance of zero or less, or too small to be told from it.

    Examples
    --------
    >>> round(density_from_transmittance(0.18).value, 4)
    0.7447
    """
    if not is_usable(transmittance) or (sd is not None and not is_usable(sd)):
        return withheld("density", "INVALID_INPUT", "D")
    if transmittance < LEAST_TRANSMITTANCE:
        return withheld("density", "SATURATED", "D", "no light was measured, so the density has no bound")
    error = None if sd is None else abs(sd) / (transmittance * math.log(10))
    return measure_with_error("density", -math.log10(transmittance), error, "D")


def mean_density(densities) -> Measure:
    """Density of an area from readings of its parts, averaged as transmittances.

    Parameters
    ----------
    densities : array_like, shape (n,) [D]
        Densities of equal parts; non-finite ones are left out.

    Returns
    -------
    Measure
        ``mean_density`` [D], lower than the mean of the densities by about ``(ln 10 / 2) sd**2``, with
        Student's interval from the scatter of the parts.
    """
    density = np.asarray(densities, dtype=float).ravel()
    density = density[np.abs(density) <= GREATEST]
    if density.size == 0:
        return withheld("mean_density", "INVALID_INPUT", "D")
    # Referred to the lightest part, so that very dense areas do not underflow to zero light.
    lightest = density.min()
    share = 10.0 ** -(density - lightest)
    value = lightest - math.log10(share.mean())
    if density.size < 2:
        return measure_with_error("mean_density", value, None, "D")
    error = share.std(ddof=1) / math.sqrt(density.size) / (share.mean() * math.log(10))
    error *= float(stdtrit(density.size - 1, 0.975)) / Z95
    return measure_with_error("mean_density", value, error, "D")


def callier_factor(
    specular_density: float, diffuse_density: float, density_sd: float | None = None
) -> Measure:
    """Callier factor Q, the specular over the diffuse density of the same area.

    Parameters
    ----------
    specular_density, diffuse_density : float, scalar [D]
        Net densities read with the two geometries.
    density_sd : float or None, scalar [D]
        Standard error of either reading.

    Returns
    -------
    Measure
        ``callier_factor`` [ratio]; ``ILL_DEFINED`` when the diffuse density is not clear of its error.

    Examples
    --------
    >>> callier_factor(1.30, 1.00).value
    1.3
    """
    if not is_usable(specular_density, diffuse_density) or not is_usable(density_sd or 0.0):
        return withheld("callier_factor", "INVALID_INPUT")
    if diffuse_density <= max(LEAST_DENSITY, Z95 * abs(density_sd or 0.0)):
        return withheld("callier_factor", "ILL_DEFINED", note="the diffuse density is not clear of zero")
    ratio = specular_density / diffuse_density
    error = None if density_sd is None else abs(density_sd) * math.hypot(1, ratio) / diffuse_density
    return measure_with_error("callier_factor", ratio, error)
