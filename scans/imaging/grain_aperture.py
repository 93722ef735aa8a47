"""From a noise power spectrum to the fluctuation behind a circular aperture, the scanner divided out.

sd^2 = integral of (W - W_noise) / MTF^2 * [2 J1(pi d f) / (pi d f)]^2 over all frequencies. What the scan
resolves is summed; beyond, where the scanner's MTF is below 0.3 or past Nyquist, the spectrum is continued
from its own level and slope there: white if it is flat, else falling exponentially. That tail is a few per
cent. What its true shape can make of it, between a power law and a Gaussian fall, is its systematic error.
A continued tail also folds back into the band as aliases; they are subtracted.
"""

import math
from dataclasses import dataclass

import numpy as np

from scans.imaging.aperture import APERTURE_UM, aperture_area, aperture_transfer
from scans.imaging.noise_power import NoisePower
from scans.imaging.scanner_limits import MTF_LIMIT, ScannerLimits

TAIL_ENDS = 4000.0  # cycles/mm; the aperture passes less than 1e-4 of white noise beyond
SURFACE_TERMS = 6  # of the smooth surface: so many low ripples are lost with it


@dataclass(frozen=True, slots=True)
class ApertureReading:
    """Variance behind the aperture and what it is made of.

    Parameters
    ----------
    variance : float, scalar [density^2]
        Of the grain alone, the tail included.
    noise_variance : float, scalar [density^2]
        What the scanner's noise, had it not been subtracted, would have added.
    tail_share : float, scalar [1]
        Part of ``variance`` that lies beyond what the scan resolves.
    tail_error : float, scalar [1]
        Half the range that the tail's shape leaves, over ``variance``.
    sampling_error : float, scalar [1]
        Relative standard error of ``variance`` from the patch's finite area.
    """

    variance: float
    noise_variance: float
    tail_share: float
    tail_error: float
    sampling_error: float


def read_through_aperture(
    power: NoisePower,
    limits: ScannerLimits,
    noise_power: float = 0.0,
    *,
    aperture_um: float = APERTURE_UM,
    width: float = 1.0,
) -> ApertureReading:
    """The variance that a perfect instrument would read through the aperture.

    Parameters
    ----------
    power : NoisePower
        Spectrum as scanned.
    limits : ScannerLimits
        With the scanner's MTF; when it is not known nothing is divided and nothing continued.
    noise_power : float, scalar [density^2 um^2]
        The scanner's white noise: its pixel variance times the pixel's area.
    aperture_um : float, scalar [um]
        Diameter of the aperture.
    width : float, scalar [1]
        Width of the scanner's blur over the stated one, to see what an error in it does.

    Returns
    -------
    ApertureReading
        ``variance`` may be negative where noise was over-subtracted.
    """
    y, x = power.frequency_y[:, None], power.frequency_x
    radius = np.hypot(y, x)
    cell = float((y[1, 0] - y[0, 0]) * (x[1] - x[0])) / 1e6  # per um^2
    mtf = limits.mtf_at(radius, width)
    resolved = mtf > MTF_LIMIT
    gain = resolved * (aperture_transfer(radius, aperture_um) / np.maximum(mtf, MTF_LIMIT)) ** 2
    grain = power.power - noise_power
    tail = _Tail(0.0, 0.0, 0.0)
    if limits.has_mtf:
        tail, grain = _continued(power, grain, mtf, resolved, limits, width, aperture_um)
    body = float(np.sum(grain * gain)) * cell
    total = body + tail.variance
    # The mean square of an estimate exceeds the square of what it estimates by one part in its number.
    averaged = float(power.area_mm2 * 1e6 * cell)
    variance = 2 * cell * float(np.sum((power.power * gain) ** 2)) / (power.area_mm2 * 1e6)
    spread = math.sqrt(variance / (1 + 1 / max(averaged, 1)))
    lost = SURFACE_TERMS * aperture_area(aperture_um) / (power.area_mm2 * 1e6)
    scale = max(abs(total), 1e-30)
    return ApertureReading(
        total * (1 + lost),
        noise_power * float(np.sum(gain)) * cell,
        tail.variance / scale,
        abs(tail.slow - tail.fast) / 2 / scale,
        spread / scale,
    )


@dataclass(frozen=True, slots=True)
class _Tail:
    """Variance beyond the resolved band: best, and if the power falls slowly or fast."""

    variance: float
    slow: float
    fast: float


def _continued(power, grain, mtf, resolved, limits, width, aperture_um) -> tuple[_Tail, np.ndarray]:
    """The tail, and the grain's spectrum without the aliases that it folds back."""
    y, x = power.frequency_y[:, None], power.frequency_x
    radius = np.hypot(y, x)
    # A corner of the band may be resolved where its sides are not; the tail begins where any direction ends.
    edge = min(-float(y[0, 0]), -float(x[0]), float(radius[resolved].max()))
    upper = resolved & (radius > 0.8 * edge) & (radius <= edge)
    lower = resolved & (radius > 0.6 * edge) & (radius <= 0.8 * edge)
    folded = np.zeros_like(radius)
    for i, j in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (1, -1), (-1, 1), (-1, -1)):
        folded += limits.mtf_at(np.hypot(y - 2 * i * y[0, 0], x - 2 * j * x[0]), width) ** 2
    # Twice: the level is read from what the aliases have been taken out of.
    clean = grain
    for _ in range(2):
        level = max(float(np.mean((clean / np.maximum(mtf, MTF_LIMIT) ** 2)[upper])), 0.0)
        clean = grain - level * folded
    true_power = clean / np.maximum(mtf, MTF_LIMIT) ** 2
    levels = [float(np.mean(true_power[ring])) for ring in (lower, upper)]
    places = [float(np.mean(radius[ring])) for ring in (lower, upper)]
    cell = (y[1, 0] - y[0, 0]) * (x[1] - x[0]) / 1e6
    return _tail(levels, places, radius[resolved], cell, aperture_um), clean


def _tail(levels, places, resolved_radius: np.ndarray, cell: float, aperture_um: float) -> _Tail:
    """What the continued spectrum holds over all frequencies, less what of it is resolved."""
    below, level = levels
    if level <= 0 or below <= 0:
        return _Tail(0.0, 0.0, 0.0)
    fall = max(math.log(below / level), 0.0)
    frequency = np.linspace(0, TAIL_ENDS, 20_001)
    ring = 2 * np.pi * frequency * frequency[1] / 1e6
    passed = aperture_transfer(frequency, aperture_um) ** 2 * ring
    resolved = aperture_transfer(resolved_radius, aperture_um) ** 2 * cell
    # Each maps frequency so that the logarithm of the power falls in proportion to it.
    best, slow, fast = (
        level
        * float(
            np.sum(passed * _falling(scale(frequency), scale(np.array(places)), fall))
            - np.sum(resolved * _falling(scale(resolved_radius), scale(np.array(places)), fall))
        )
        for scale in (np.asarray, lambda f: np.log(np.maximum(f, 1e-3)), np.square)
    )
    return _Tail(best, slow, fast)


def _falling(scale: np.ndarray, places: np.ndarray, fall: float) -> np.ndarray:
    """One at the upper place and below, then down by e to the ``fall`` for each distance of the places."""
    return np.exp(-fall * np.maximum((scale - places[1]) / (places[1] - places[0]), 0))
