"""RMS granularity of even patches, each at its density, and at density 1.0 between them (`grain_series`).

    report = measure_granularity([patch, ...], (4000, 4000), limits)
    report.rms_granularity   # a Measure: 1000 times the standard deviation of density through 48 um

Patches are linear transmittance. Densities are gross (base and fog in them) and as diffuse as the scanner's
light is: compare like rigs only.

References
----------
RMS granularity: 1000 times the standard deviation of density through a 48 um circular aperture at diffuse
density 1.0; scope of ISO 10505:2009. Independent apertures: standard error of a standard deviation,
1 / sqrt(2 (N - 1)).
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from scans.imaging.aperture import APERTURE_UM, aperture_area
from scans.imaging.detrend import Surface, block_statistics, fit_surface
from scans.imaging.dust import THRESHOLD, clean_blocks, truncation_factor
from scans.imaging.grain_aperture import ApertureReading, read_through_aperture
from scans.imaging.measures import Flag, ImagingError, Measure, withheld
from scans.imaging.noise_power import NoisePower, noise_power_spectrum
from scans.imaging.picture import MICROMETRES_PER_INCH
from scans.imaging.scanner_limits import ScannerLimits

UNIT = "1000 D"
NAME = "rms_granularity"
Z95 = 1.959964
FEWEST_APERTURES = 400  # independent apertures; below, the interval is wider than a difference of films
LARGEST_TAIL = 0.15  # of the variance beyond what the scan resolves
LARGEST_NOISE = 0.7  # of the standard deviation; common practice
DUST_TO_TELL = 0.02
FALL_TO_TELL = 0.1  # density over the patch; grain then differs from end to end


@dataclass(frozen=True, slots=True)
class PatchGrain:
    """Grain of one even patch.

    Parameters
    ----------
    density : float or None, scalar [density]
        Gross mean density of the clean area; None when nothing could be read.
    rms_granularity : Measure
        Through the aperture at this density [1000 D].
    noise_power : NoisePower or None
        Spectrum as scanned: the scanner's blur and noise still in it.
    clean_share : float, scalar [1]
        Part of the patch free of dust.
    independent_apertures : float, scalar [1]
        How many independent readings through the aperture the patch is worth.
    errors : dict of str to float, scalar [1]
        Relative standard errors: ``sampling``, ``tail``, ``scanner_mtf``, ``scanner_noise``.
    flags : tuple of Flag
    """

    density: float | None
    rms_granularity: Measure
    noise_power: NoisePower | None = None
    clean_share: float = 0.0
    independent_apertures: float = 0.0
    errors: dict | None = None
    flags: tuple[Flag, ...] = ()

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return {
            "density": self.density,
            "rms_granularity": self.rms_granularity.to_dict(),
            "noise_power": self.noise_power.to_dict() if self.noise_power else None,
            "clean_share": self.clean_share,
            "independent_apertures": self.independent_apertures,
            "errors": self.errors or {},
            "flags": [flag.to_dict() for flag in self.flags],
        }


def measure_patch(
    transmittance,
    resolution_ppi: tuple[float, float] | None,
    limits: ScannerLimits | None = None,
    *,
    aperture_um: float = APERTURE_UM,
) -> PatchGrain:
    """Grain of one even patch at its own density.

    Parameters
    ----------
    transmittance : array_like, shape (rows, columns) [1]
        Linear; pixels that must not count are NaN.
    resolution_ppi : tuple of float, scalar (x, y) [pixels/inch]
        None when not known, which withholds the value.
    limits : ScannerLimits, optional
        The scanner's noise and MTF. Without the MTF the value is an "at least", without the noise an
        "at most", without both it is withheld.
    aperture_um : float, scalar [um]
        Diameter of the aperture.

    Returns
    -------
    PatchGrain
        Value withheld with ``RESOLUTION_UNKNOWN``, ``SCANNER_UNKNOWN``, ``TOO_FEW_PIXELS``,
        ``NOISE_DOMINATES`` or ``RESOLUTION_TOO_LOW``.

    Raises
    ------
    ImagingError
        When the array is not two-dimensional or the resolution is impossible.
    """
    patch = np.asarray(transmittance)
    if patch.ndim != 2 or patch.dtype.kind not in "fiu":
        raise ImagingError("BAD_SHAPE", "A patch is a two-dimensional array of linear transmittances.")
    pitch = pitch_of(resolution_ppi)
    if pitch is None:
        return PatchGrain(None, withheld(NAME, "RESOLUTION_UNKNOWN", UNIT))
    found = _even_part(patch)
    if found is None:
        return PatchGrain(None, withheld(NAME, "TOO_FEW_PIXELS", UNIT, "no even, positive area"))
    surface, clean, mean = found
    spectrum = noise_power_spectrum(patch, pitch, surface, clean)
    read = PatchGrain(
        -math.log10(mean),
        withheld(NAME, "TOO_FEW_PIXELS", UNIT, "the clean area is too small"),
        spectrum,
        float(np.mean(clean)),
        flags=_flags(clean, surface),
    )
    if spectrum is None:
        return read
    return _through_aperture(read, limits or ScannerLimits(), mean, pitch, aperture_um)


def _through_aperture(read: PatchGrain, limits: ScannerLimits, mean: float, pitch, aperture_um) -> PatchGrain:
    noise_sd = limits.noise_at(mean)
    relative = 0.0 if noise_sd is None else noise_sd / mean / math.log(10)
    noise = relative**2 * pitch[0] * pitch[1]

    def reading(noise_factor=1.0, width=1.0) -> ApertureReading:
        return read_through_aperture(
            read.noise_power, limits, noise * noise_factor, aperture_um=aperture_um, width=width
        )

    best = reading()
    apertures = _independent_apertures(read.noise_power, best, aperture_um)
    read = replace(read, independent_apertures=apertures)
    reason, note = _refusal(best, limits, noise_sd)
    if reason is None and apertures < FEWEST_APERTURES:
        reason, note = "TOO_FEW_PIXELS", f"worth {apertures:.0f} independent apertures of {FEWEST_APERTURES}"
    if reason is not None:
        return replace(read, rms_granularity=withheld(NAME, reason, UNIT, note))
    # A wrong width also bends the spectrum's end, so its effect is not in proportion: half of what twice its
    # error does, near the interval's ends, on the larger side.
    off = [reading(width=max(1 + sign * limits.width_error, 0.1)) for sign in (2, -2)]
    by_width = max(abs(each.variance - best.variance) for each in off) / best.variance / 2
    noisier = reading(noise_factor=(1 + limits.noise_error) ** 2)
    # Half of each relative error of the variance is the relative error of its square root.
    errors = {
        "sampling": best.sampling_error / 2,
        "tail": best.tail_error / 2,
        "scanner_mtf": by_width / 2,
        "scanner_noise": abs(noisier.variance - best.variance) / best.variance / 2,
    }
    value = 1000 * math.sqrt(best.variance) / truncation_factor(THRESHOLD)
    spread = math.sqrt(sum(error**2 for error in errors.values()))
    return replace(read, rms_granularity=_bounded(value, spread, limits, noise_sd), errors=errors)


def _bounded(value: float, spread: float, limits: ScannerLimits, noise_sd: float | None) -> Measure:
    """With the ends of the interval that what is known of the scanner allows."""
    low, high = value * math.exp(-Z95 * spread), value * math.exp(Z95 * spread)
    if not limits.has_mtf:
        note = "at least: the scanner's MTF is not known, so what its blur hides is missing"
        return Measure(NAME, value, low, None, UNIT, None, note)
    if noise_sd is None:
        note = "at most: the scanner's noise at this transmittance is not known and still in it"
        return Measure(NAME, value, None, high, UNIT, None, note)
    return Measure(NAME, value, low, high, UNIT)


def _refusal(best: ApertureReading, limits: ScannerLimits, noise_sd) -> tuple[str | None, str]:
    if noise_sd is None and not limits.has_mtf:
        return "SCANNER_UNKNOWN", "neither its noise at this transmittance nor its MTF is known"
    if best.variance <= 0 or best.noise_variance >= LARGEST_NOISE**2 * (best.variance + best.noise_variance):
        return "NOISE_DOMINATES", "the scanner's noise is 0.7 or more of what is seen through the aperture"
    if best.tail_share > LARGEST_TAIL:
        return "RESOLUTION_TOO_LOW", f"{best.tail_share:.0%} of the variance is beyond what the scan resolves"
    return None, ""


def _independent_apertures(power: NoisePower, best: ApertureReading, aperture_um: float) -> float:
    """Out of the sampling error by 1 / sqrt(2 (N - 1)); no more than the area holds discs."""
    if best.sampling_error <= 0:
        return 0.0
    return min(1 + 2 / best.sampling_error**2, 4 * power.area_mm2 * 1e6 / aperture_area(aperture_um))


def _even_part(patch: np.ndarray) -> tuple[Surface, np.ndarray, float] | None:
    """Smooth surface, clean blocks and mean transmittance; None when there is no positive even area."""
    blocks = block_statistics(patch)
    surface = fit_surface(blocks, patch.shape)
    if surface is None or surface.at_blocks().min() <= 0:
        return None
    clean = clean_blocks(patch, blocks, surface)
    surface = fit_surface(blocks, patch.shape, clean)
    if surface is None or surface.at_blocks().min() <= 0:
        return None
    mean = float(np.mean(blocks.mean[clean], dtype=np.float64))
    return (surface, clean, mean) if mean > 0 else None


def _flags(clean: np.ndarray, surface: Surface) -> tuple[Flag, ...]:
    left_out = 1 - float(np.mean(clean))
    level = surface.at_blocks()
    fall = math.log10(float(level.max()) / float(level.min()))
    found = (
        (left_out > DUST_TO_TELL, "DUST_LEFT_OUT", f"{left_out:.1%} of the patch was left out as dust."),
        (fall > FALL_TO_TELL, "LIGHT_TAKEN_OFF", f"Density changes by {fall:.2f} over the patch."),
    )
    return tuple(Flag(code, text) for holds, code, text in found if holds)


def pitch_of(resolution_ppi: tuple[float, float] | None) -> tuple[float, float] | None:
    """Distance from pixel to pixel.

    Parameters
    ----------
    resolution_ppi : tuple of float, scalar (x, y) [pixels/inch]
        None when not known.

    Returns
    -------
    pitch : tuple of float or None, scalar (y, x) [um]

    Raises
    ------
    ImagingError
        When a resolution is below 50 or above 50,000.
    """
    if resolution_ppi is None:
        return None
    x, y = resolution_ppi
    if not (50 <= x <= 50_000 and 50 <= y <= 50_000):
        raise ImagingError("BAD_RESOLUTION", "A resolution lies between 50 and 50,000 pixels an inch.")
    return MICROMETRES_PER_INCH / y, MICROMETRES_PER_INCH / x
