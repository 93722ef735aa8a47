"""A scanner's own noise and MTF out of trials: even areas scanned twice, and a sharp edge.

The edge must be far sharper than the scanner (a bare metal edge, a chrome target), or its own blur is
taken for the scanner's. The two scans must lie on one another, or grain is taken for noise.
"""

import math
from collections.abc import Sequence

import numpy as np

from scans.imaging.detrend import MAD_TO_SD, block_statistics, fit_surface
from scans.imaging.edge_report import Z95, EdgeReport
from scans.imaging.measures import ImagingError
from scans.imaging.scanner_limits import ScannerLimits

FEWEST_SQUARES = 200  # of 8 x 8 pixels: the noise is then known to 5 %


def repeat_noise(first, second) -> tuple[float, float, float]:
    """Noise of a pixel from two scans of the same even area.

    Half the variance of the difference is the noise's, since grain is the same in both. Means over 8 x 8
    pixels are compared, about the size of the 48 um aperture at 4000 pixels an inch: noise that is alike
    from pixel to pixel, as in lines, then counts as much as it will through the aperture.

    Parameters
    ----------
    first, second : array_like, shape (rows, columns) [transmittance]

    Returns
    -------
    transmittance : float, scalar [1]
        Mean of both.
    noise_sd : float, scalar [transmittance]
        Of a pixel, were the noise independent from pixel to pixel.
    error : float, scalar [1]
        Relative standard error of ``noise_sd``.

    Raises
    ------
    ImagingError
        When the shapes differ or fewer than 200 squares of 8 x 8 pixels can be compared.
    """
    first, second = np.asarray(first, dtype=np.float32), np.asarray(second, dtype=np.float32)
    if first.ndim != 2 or first.shape != second.shape:
        raise ImagingError("BAD_SHAPE", "Give two scans of the same area, with the same shape.")
    blocks = block_statistics(second - first)
    surface = fit_surface(blocks, first.shape)
    if surface is None:
        raise ImagingError("TOO_FEW_PIXELS", "The two scans share too few pixels.")
    rest = blocks.mean - surface.at_blocks()
    rest = rest[: rest.shape[0] // 2 * 2, : rest.shape[1] // 2 * 2]
    squares = (rest[0::2, 0::2] + rest[0::2, 1::2] + rest[1::2, 0::2] + rest[1::2, 1::2]) / 4
    squares = squares[np.isfinite(squares)]
    if squares.size < FEWEST_SQUARES:
        raise ImagingError("TOO_FEW_PIXELS", f"Noise needs {FEWEST_SQUARES} squares of 8 x 8 pixels.")
    # A speck that moved between the scans must not count: beyond 4.5 robust deviations it is left out.
    far = 4.5 * MAD_TO_SD * float(np.median(np.abs(squares)))
    kept = squares[np.abs(squares) <= far]
    noise = 8 * float(np.std(kept)) / math.sqrt(2)
    mean = float(np.nanmean((first + second) / 2, dtype=np.float64))
    return mean, noise, 1 / math.sqrt(2 * (kept.size - 1))


def limits_from_trials(repeats: Sequence[tuple], edge: EdgeReport | None = None) -> ScannerLimits:
    """The scanner's limits from its trials.

    Parameters
    ----------
    repeats : sequence of (array_like, array_like), shape (rows, columns) each [transmittance]
        Pairs of scans of even areas, in any order; none leaves the noise unknown.
    edge : EdgeReport, optional
        Of a sharp edge; its scan must cross 50 %.

    Returns
    -------
    ScannerLimits

    Raises
    ------
    ImagingError
        When a pair cannot be compared or the edge gave no MTF50 with an interval.
    """
    found = sorted(repeat_noise(first, second) for first, second in repeats)
    table = {}
    if edge is not None:
        mtf50 = edge.mtf50
        if mtf50.value is None or mtf50.low is None or mtf50.high is None:
            raise ImagingError("NO_MTF", "The sharp edge gave no frequency of half modulation.")
        table = {
            "mtf_frequency": tuple(edge.frequency.tolist()),
            "mtf": tuple(edge.mtf.tolist()),
            "width_error": (mtf50.high - mtf50.low) / (2 * Z95 * mtf50.value),
        }
    if found:
        table["noise_error"] = max(error for _, _, error in found)
    return ScannerLimits(tuple(mean for mean, _, _ in found), tuple(noise for _, noise, _ in found), **table)
