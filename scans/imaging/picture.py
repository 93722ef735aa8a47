"""A picture as it came out of a file: samples with what the file says about them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scans.imaging.measures import Flag, ImagingError, Refusal

MICROMETRES_PER_INCH = 25400.0
GREEN = 1


@dataclass(frozen=True, eq=False)
class Picture:
    """Samples of one scan and what its file says about them.

    Parameters
    ----------
    samples : ndarray, shape (h, w) or (h, w, 3) [level]
        uint8 or uint16 in any byte order; may be a map of a file, of which only what is used is read.
    format : str
        "TIFF", "PNG", "JPEG", or "" for a picture that was made and not read.
    bit_depth : int
        8 or 16, bits a sample.
    resolution_ppi : tuple of float or None, (x, y) [pixels per inch]
        None when the file does not say.
    metadata : dict
        Free text from the file: ``make``, ``model``, ``software``, ``date_time``, ``colour_profile``, and
        ``compression``; only what is there.
    refusal : Refusal or None
        Why it may be looked at and not measured.
    flags : tuple of Flag
    """

    samples: np.ndarray
    format: str = ""
    bit_depth: int = 16
    resolution_ppi: tuple[float, float] | None = None
    metadata: dict = field(default_factory=dict)
    refusal: Refusal | None = None
    flags: tuple[Flag, ...] = ()

    def __post_init__(self):
        shape = self.samples.shape
        if len(shape) not in (2, 3) or 0 in shape or (len(shape) == 3 and shape[2] != 3):
            raise ImagingError("BAD_SHAPE", "A picture has the shape (h, w) or (h, w, 3), none of them zero.")
        if self.samples.dtype.kind != "u" or self.samples.dtype.itemsize != self.bit_depth // 8:
            raise ImagingError("BAD_SAMPLES", "Samples are unsigned integers of the stated bit depth.")

    @property
    def height(self) -> int:
        """Number of rows."""
        return self.samples.shape[0]

    @property
    def width(self) -> int:
        """Number of columns."""
        return self.samples.shape[1]

    @property
    def channels(self) -> int:
        """1 for grey, 3 for red, green and blue."""
        return 1 if self.samples.ndim == 2 else self.samples.shape[2]

    @property
    def white_level(self) -> int:
        """The highest level that a sample can have."""
        return 2**self.bit_depth - 1

    @property
    def is_measurable(self) -> bool:
        """Whether densities, grain and sharpness may be read from it."""
        return self.refusal is None

    @property
    def pixel_pitch_um(self) -> tuple[float, float] | None:
        """Distance from pixel to pixel (x, y) [um]; None when the resolution is not known."""
        if self.resolution_ppi is None:
            return None
        return tuple(MICROMETRES_PER_INCH / each for each in self.resolution_ppi)

    @property
    def plane(self) -> np.ndarray:
        """The samples that are measured, shape (h, w) [level]: grey, or the green channel; not copied."""
        return self.samples if self.samples.ndim == 2 else self.samples[:, :, GREEN]
