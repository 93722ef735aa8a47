"""What a grey code of a displayed picture means: a density with a calibration, else a level of the file.

The codes of a calibrated picture are linear in density, so that a browser can match the densities of two
pictures by adding to codes alone. Those of an uncalibrated one are light through the curve of sRGB, which is
what screens expect; sixteen-bit levels are taken to be in proportion to light, eight-bit levels to have been
through that curve already, so that they come out as they are.

References
----------
IEC 61966-2-1, the curve of sRGB; from memory.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from scans.imaging.calibrate import Calibration
from scans.imaging.measures import ImagingError
from scans.imaging.picture import Picture

HIGHEST_CODE = 255
TAIL_PERCENT = 0.5
"""Part of the pixels at either end that need not be told apart: dust, perforations, the holder [percent]."""
MARGIN = 0.10
"""Room beyond what is left, for grain and for lighter or denser spots [density]."""
BEYOND = 0.10
"""How far the codes may reach beyond what is calibrated, so that noise there is not cut off [density]."""
NARROWEST = 0.50
"""Of an even picture, so that grain does not fill the screen from black to white [density]."""
MOST_LOOKED_AT = 250_000
ROUND_TO = 2


@dataclass(frozen=True)
class Coding:
    """The meaning of the codes 0 to 255 of a displayed picture.

    Parameters
    ----------
    kind : str
        "density" or "level".
    curve : str
        "linear" in density; "sRGB": code = 255 times the sRGB curve of light.
    low, high : float or None
        Densities of the codes 0 and 255, which also stand for all that is lighter or denser [density].
    step : float or None
        From one code to the next [density].
    calibrated_low, calibrated_high : float or None
        Beyond these a code is for looking at and is no measured density [density].
    """

    kind: str
    curve: str
    low: float | None = None
    high: float | None = None
    step: float | None = None
    calibrated_low: float | None = None
    calibrated_high: float | None = None

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return asdict(self)

    @classmethod
    def from_dict(cls, data: dict) -> Coding:
        """The coding that `to_dict` wrote."""
        return cls(**data)

    def codes(self, light) -> np.ndarray:
        """Codes of light, as `light_table` gives it, of any shape [fraction]; uint8 of the same shape."""
        light = np.asarray(light)
        if self.kind == "density":
            least = light.dtype.type(10.0 ** -(self.high + 1))
            share = (-np.log10(np.maximum(light, least)) - self.low) / (self.high - self.low)
        else:
            share = _encoded(np.clip(light, 0, 1))
        return np.clip(np.rint(HIGHEST_CODE * share), 0, HIGHEST_CODE).astype(np.uint8)

    def density_of(self, code) -> np.ndarray:
        """Densities that codes stand for, of any shape [density]; NaN beyond the calibrated range."""
        if self.kind != "density":
            raise ImagingError("UNCALIBRATED", "The codes of this picture are levels and no densities.")
        density = self.low + self.step * np.asarray(code, float)
        known = (density >= self.calibrated_low) & (density <= self.calibrated_high)
        return np.where(known, density, np.nan)


def coding_of(picture: Picture, calibration: Calibration | None = None) -> Coding:
    """The coding that shows a picture well.

    Parameters
    ----------
    picture : Picture
    calibration : Calibration, optional
        Valid for the picture; the caller has checked that.

    Returns
    -------
    Coding
        Of density, from the picture's own lightest to its densest parts; of level without a calibration.
    """
    if calibration is None:
        return Coding("level", "sRGB")
    if picture.refusal is not None:
        raise ImagingError("NOT_MEASURABLE", picture.refusal.text)
    plane = picture.plane
    every = max(1, int(np.sqrt(plane.size / MOST_LOOKED_AT)))
    light = light_table(picture, calibration)[plane[::every, ::every]]
    ends = np.percentile(light, [100 - TAIL_PERCENT, TAIL_PERCENT])
    lowest, highest = calibration.lowest_density, calibration.highest_density
    first, last = np.clip(-np.log10(np.maximum(ends, 1e-9)), lowest, highest)
    low, high = max(first - MARGIN, lowest - BEYOND), min(last + MARGIN, highest + BEYOND)
    missing = max(NARROWEST - (high - low), 0.0) / 2
    low, high = round(float(low - missing), ROUND_TO), round(float(high + missing), ROUND_TO)
    step = (high - low) / HIGHEST_CODE
    return Coding("density", "linear", low, high, step, round(lowest, 6), round(highest, 6))


def light_table(picture: Picture, calibration: Calibration | None = None) -> np.ndarray:
    """Light of each level, for averaging pixels.

    Parameters
    ----------
    picture : Picture
    calibration : Calibration, optional

    Returns
    -------
    light : ndarray, shape (white_level + 1,) [fraction]
        Transmittance with a calibration, else what the level is taken to stand for.
    """
    if calibration is not None:
        return calibration.response.transmittance_table(picture.white_level)
    share = np.linspace(0, 1, picture.white_level + 1)
    return _decoded(share) if picture.bit_depth == 8 else share


def _encoded(light):
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)


def _decoded(code):
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
