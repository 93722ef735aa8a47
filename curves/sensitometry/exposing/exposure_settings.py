"""Stops, camera settings as they truly are, and what a meter asks for.

Conventions. A stop is a factor of two in exposure, ``log10 2 = 0.30103``. Marks on a shutter or lens
are rounded for reading ("1/30", "f/22"); the mechanism steps in powers of two (1/32 s, f/22.627). Only
true values enter computations. Impossible settings raise `SensitometryError`, for they are a mistake
in what was typed, not a doubt in what was measured.

References
----------
ISO 2720:1974, General purpose photographic exposure meters (photoelectric type): guide to product
specification, for the reflected- and incident-light equations. APEX: ASA PH2.5-1960 (from memory).
"""

import math

import numpy as np

from curves.sensitometry.intervals import GREATEST, is_usable
from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.speed_scale import STOP

REFLECTED_CONSTANT = 12.5  # cd s/m2 per unit speed; ISO 2720 allows 10.6 to 13.4
LENS_FACTOR = 0.65  # lens and format loss q in H = q L t / N**2; common practice
SPEED_POINT_EXPOSURE = 0.8  # lx s at the speed point of a film of speed 1, ISO 6:1993


def positive(name: str, value: float) -> float:
    """The value, scalar [any unit], when it is a positive number; `SensitometryError` naming it if not."""
    if not (is_usable(value) and value > 1 / GREATEST):
        raise SensitometryError("IMPOSSIBLE_SETTING", f"{name} must be a number above zero, not {value}.")
    return float(value)


def stops_from_log_exposure(log_exposure):
    """Log10 exposure differences as stops: scalar or shape (n,) [log10 lx s] in, the same shape [stop] out.

    Examples
    --------
    >>> round(float(stops_from_log_exposure(0.1)), 3)
    0.332
    """
    return np.asarray(log_exposure, dtype=float) / STOP


def log_exposure_from_stops(stops):
    """Stops as log10 exposure differences: scalar or shape (n,) [stop] in, same shape [log10 lx s] out.

    Examples
    --------
    >>> round(float(log_exposure_from_stops(1)), 5)
    0.30103
    """
    return np.asarray(stops, dtype=float) * STOP


def _snapped(stops: float, per_stop: int) -> float:
    return math.floor(stops * per_stop + 0.5) / per_stop


def true_shutter_s(mark_s: float, per_stop: int = 3) -> float:
    """Exposure time that a shutter's mark stands for.

    Parameters
    ----------
    mark_s : float, scalar [s]
        The time as engraved or displayed.
    per_stop : int, scalar [settings per stop]
        3 for third stops (whole stops are among them), 2 for a shutter that steps in halves.

    Returns
    -------
    float
        Nearest power of two in such steps, scalar [s].

    Raises
    ------
    SensitometryError
        When the mark is not a positive number.

    Examples
    --------
    >>> 1 / true_shutter_s(1 / 30)
    32.0
    """
    return 2 ** -_snapped(-math.log2(positive("Shutter time", mark_s)), per_stop)


def true_aperture(mark: float, per_stop: int = 3) -> float:
    """F-number that a lens's mark stands for.

    Parameters
    ----------
    mark : float, scalar [f-number]
        The f-number as engraved or displayed.
    per_stop : int, scalar [settings per stop]
        3 for third stops (whole stops are among them), 2 for a lens that clicks in halves.

    Returns
    -------
    float
        ``2**(Av / 2)`` with Av to the nearest such step, scalar [f-number].

    Raises
    ------
    SensitometryError
        When the mark is not a positive number.

    Examples
    --------
    >>> round(true_aperture(22), 3)
    22.627
    """
    return 2 ** (_snapped(aperture_value(mark), per_stop) / 2)


def true_exposure_index(mark: float) -> float:
    """Exposure index that a meter's third-stop mark stands for, counted from 100.

    Parameters
    ----------
    mark : float, scalar [ISO arithmetic]
        The index as displayed (250, 320, 400 ...).

    Returns
    -------
    float
        ``100 * 2**(n / 3)``, scalar [ISO arithmetic].

    Examples
    --------
    >>> round(true_exposure_index(320), 2)
    317.48
    """
    return 100 * 2 ** _snapped(math.log2(positive("Exposure index", mark) / 100), 3)


def aperture_value(aperture: float) -> float:
    """APEX Av of an f-number, scalar [f-number]: ``2 log2 N``, scalar [stop]."""
    return 2 * math.log2(positive("Aperture", aperture))


def time_value(shutter_s: float) -> float:
    """APEX Tv of an exposure time, scalar [s]: ``-log2 t``, scalar [stop]."""
    return -math.log2(positive("Shutter time", shutter_s))


def speed_value(speed: float) -> float:
    """APEX Sv of a speed, scalar [ISO arithmetic]: ``5 + log2(S / 100)``, scalar [stop]."""
    return 5 + math.log2(positive("Speed", speed) / 100)


def exposure_value(aperture: float, shutter_s: float) -> float:
    """APEX Ev of a pair of true settings, f-number and time, scalars [f-number, s]; scalar [stop].

    Examples
    --------
    >>> exposure_value(true_aperture(16), true_shutter_s(1 / 125))
    15.0
    """
    return aperture_value(aperture) + time_value(shutter_s)


def reflected_exposure_value(
    luminance_cd_m2: float, speed: float, meter_constant: float = REFLECTED_CONSTANT
) -> float:
    """Exposure value that a reflected-light meter asks for.

    Parameters
    ----------
    luminance_cd_m2 : float, scalar [cd/m2]
        Luminance of the metered area.
    speed : float, scalar [ISO arithmetic]
        Speed set on the meter.
    meter_constant : float, scalar [cd s/m2]
        K of the meter, 10.6 to 13.4.

    Returns
    -------
    float
        Ev with ``N**2 / t = L S / K``, scalar [stop].
    """
    luminance = positive("Luminance", luminance_cd_m2)
    return math.log2(luminance * positive("Speed", speed) / positive("Meter constant", meter_constant))


def incident_exposure_value(illuminance_lx: float, speed: float, meter_constant: float) -> float:
    """Exposure value that an incident-light meter asks for.

    Parameters
    ----------
    illuminance_lx : float, scalar [lx]
        Illuminance at the subject.
    speed : float, scalar [ISO arithmetic]
        Speed set on the meter.
    meter_constant : float, scalar [lx s]
        C of the meter: 240 to 400 with a flat receptor, 320 to 540 with a dome (from memory).

    Returns
    -------
    float
        Ev with ``N**2 / t = E S / C``, scalar [stop].
    """
    illuminance = positive("Illuminance", illuminance_lx)
    return math.log2(illuminance * positive("Speed", speed) / positive("Meter constant", meter_constant))


def film_plane_exposure(
    luminance_cd_m2: float, aperture: float, shutter_s: float, lens_factor: float = LENS_FACTOR
) -> float:
    """Exposure that a surface gives the film, ``H = q L t / N**2``.

    Parameters
    ----------
    luminance_cd_m2 : float, scalar [cd/m2]
        Luminance of the surface.
    aperture : float, scalar [f-number]
        True f-number.
    shutter_s : float, scalar [s]
        True exposure time.
    lens_factor : float, scalar [sr]
        q, for transmission, vignetting and distance; commonly 0.65.

    Returns
    -------
    float
        Exposure, scalar [lx s].

    Examples
    --------
    >>> film_plane_exposure(3200, 16, 1 / 100)
    0.08125
    """
    light = positive("Lens factor", lens_factor) * positive("Luminance", luminance_cd_m2)
    return light * positive("Shutter time", shutter_s) / positive("Aperture", aperture) ** 2


def meter_point_above_speed_point(
    meter_constant: float = REFLECTED_CONSTANT, lens_factor: float = LENS_FACTOR
) -> float:
    """Log exposure from the speed point up to the metered tone, scalar [log10 lx s].

    Parameters
    ----------
    meter_constant : float, scalar [cd s/m2]
        K of the meter.
    lens_factor : float, scalar [sr]
        q of the lens.

    Returns
    -------
    float
        ``log10(q K / 0.8)``, scalar [log10 lx s], whatever the speed.
    """
    constant = positive("Meter constant", meter_constant) * positive("Lens factor", lens_factor)
    return math.log10(constant / SPEED_POINT_EXPOSURE)


def diffuse_luminance_cd_m2(reflectance: float, illuminance_lx: float) -> float:
    """Luminance of a matt surface, ``rho E / pi``: scalars [share of light], [lx] in, scalar [cd/m2] out."""
    return positive("Reflectance", reflectance) * positive("Illuminance", illuminance_lx) / math.pi
