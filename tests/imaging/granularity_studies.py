"""Even fields with dust as a scanner sees them, and what is read from many of them."""

from dataclasses import dataclass

import numpy as np

from scans.imaging.grain import measure_patch
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.synthetic_grain import SPECTRA, grain_field, scaled_spectrum

TRUTH = 10.0  # 1000 D
TRANSMITTANCE = 0.1  # density 1.0
BLUR_PX = 0.6
NOISE = 0.004 * np.log(10)  # relative transmittance: 0.004 in density


def with_dust(field: np.ndarray, pitch_um: float, generator, per_mm2: float) -> np.ndarray:
    """The field with round specks of 5 to 30 um radius that stop 30 to 100 per cent of the light."""
    out = field.copy()
    reach = int(30 / pitch_um) + 3
    for _ in range(generator.poisson(per_mm2 * field.size * pitch_um**2 / 1e6)):
        centre = generator.uniform(0, field.shape)
        radius, stops = generator.uniform(5, 30) / pitch_um, generator.uniform(0.3, 1)
        top, left = (max(int(c) - reach, 0) for c in centre)
        near = out[top : int(centre[0]) + reach, left : int(centre[1]) + reach]
        y, x = np.ogrid[top : top + near.shape[0], left : left + near.shape[1]]
        distance = np.hypot(y - centre[0], x - centre[1])
        near *= 1 - stops * np.clip((radius - distance) / 1.2 + 0.5, 0, 1)
    return out


@dataclass(frozen=True)
class Study:
    """Values of many patches as fractions of the truth, and how often the interval held it."""

    values: np.ndarray
    covered: np.ndarray
    half_widths: np.ndarray

    @property
    def bias(self) -> float:
        """Mean departure from the truth."""
        return float(self.values.mean() - 1)

    @property
    def rmse(self) -> float:
        """Root mean square departure from the truth."""
        return float(np.sqrt(np.mean((self.values - 1) ** 2)))

    @property
    def coverage(self) -> float:
        """Part of the intervals that hold the truth."""
        return float(self.covered.mean())


def study(
    kind: str,
    count: int,
    seed: int,
    *,
    ppi: float = 4000,
    side_mm: float = 3.0,
    dust_per_mm2: float = 0.0,
    width_error: float = 0.0,
    fall_of_density: float = 0.0,
) -> Study:
    """Measure ``count`` fresh fields of one spectrum; the blur that is told is wrong by ``width_error``."""
    generator = np.random.default_rng(seed)
    pitch = 25400 / ppi
    side = int(side_mm * 1000 / pitch)
    spectrum = scaled_spectrum(SPECTRA[kind], TRUTH)
    light = 10 ** (fall_of_density * (np.arange(side) / side - 0.5))
    found = []
    for _ in range(count):
        field = grain_field(
            (side, side), pitch, spectrum, generator, blur_um=BLUR_PX * pitch, noise_sd=float(NOISE)
        )
        field = TRANSMITTANCE * field * light.astype(np.float32)
        if dust_per_mm2:
            field = with_dust(field, pitch, generator, dust_per_mm2)
        told = BLUR_PX * pitch * (1 + width_error * generator.standard_normal())
        limits = ScannerLimits.gaussian(
            told, float(NOISE) * TRANSMITTANCE, TRANSMITTANCE, noise_error=0.02, width_error=width_error
        )
        found.append(measure_patch(field, (ppi, ppi), limits).rms_granularity)
    return Study(
        np.array([m.value for m in found]) / TRUTH,
        np.array([m.low <= TRUTH <= m.high for m in found]),
        np.array([(m.high - m.low) / 2 / TRUTH for m in found]),
    )
