"""A picture for looking at: tiles of every magnification for a browser, and a thumbnail.

The layout is that of Deep Zoom without overlap: level 0 is one pixel, each level doubles the sides of the one
before, the last has the picture's own pixels; tile ``<level>/<column>_<row>``. Going down a level, light is
averaged (transmittance where there is a calibration) and never density or codes, for light is what an eye
or a lens averages. Rows go through in bands, so that a frame of any height needs little memory.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path

import imagecodecs
import numpy as np
from scipy import ndimage

from scans.imaging.calibrate import Calibration
from scans.imaging.display_coding import Coding, coding_of, light_table
from scans.imaging.measures import ImagingError
from scans.imaging.picture import Picture
from scans.imaging.whole_folder import whole_folder

TILE_PX = 256
THUMBNAIL_PX = 480
PNG_OPTIONS = {"level": 1, "strategy": 3, "filter": 64}
"""Run lengths and averages of neighbours: on grain as small as the slow ways and several times as fast."""
JPEG_QUALITY = 90


@dataclass(frozen=True)
class Pyramid:
    """What a browser must know of the tiles.

    Parameters
    ----------
    width, height : int
        Of the last level [pixels].
    tile_px : int
        Longest side of a tile [pixels].
    levels : int
        How many; the last is ``levels - 1``.
    format : str
        "png", without loss; "jpg" for a picture that came as JPEG.
    coding : Coding
        What the codes mean.
    """

    width: int
    height: int
    tile_px: int
    levels: int
    format: str
    coding: Coding

    def to_dict(self) -> dict:
        """The fields as plain JSON values."""
        return asdict(self)

    @classmethod
    def from_dict(cls, data: dict) -> Pyramid:
        """The pyramid that `to_dict` wrote."""
        return cls(**(data | {"coding": Coding.from_dict(data["coding"])}))


def build_pyramid(
    picture: Picture, folder: str | Path, calibration: Calibration | None = None, tile_px: int = TILE_PX
) -> Pyramid:
    """Write the tiles of a picture.

    The same picture gives the same bytes. The folder appears when it is complete, or not at all.

    Parameters
    ----------
    picture : Picture
    folder : str or Path
        Replaced when it is there.
    calibration : Calibration, optional
        Valid for the picture. With one the tiles are grey and code density, of a colour scan the green
        channel's; without one they show the levels, in colour where the picture has it.
    tile_px : int
        An even number [pixels].

    Returns
    -------
    Pyramid
    """
    if tile_px < 2 or tile_px % 2:
        raise ImagingError("BAD_TILE", "The side of a tile is an even number of pixels.")
    coding = coding_of(picture, calibration)
    light = light_table(picture, calibration)
    codes, light = coding.codes(light), light.astype(np.float32)
    samples = picture.samples if calibration is None else picture.plane
    levels = (max(picture.width, picture.height) - 1).bit_length() + 1
    kind = "jpg" if picture.format == "JPEG" else "png"
    with whole_folder(Path(folder)) as building:
        below = None
        for number in range(levels - 1):
            below = _Level(building / str(number), tile_px, kind, coding, below)
        top = _Level(building / str(levels - 1), tile_px, kind, coding, below)
        for start in range(0, picture.height, tile_px):
            band = _native(samples[start : start + tile_px])
            top.write(codes[band])
            if below is not None:
                below.add(_halved(light[band]))
        if below is not None:
            below.close()
    return Pyramid(picture.width, picture.height, tile_px, levels, kind, coding)


class _Level:
    """One level: takes light from above, writes a row of tiles when it has enough, hands on the half."""

    def __init__(self, folder: Path, tile_px: int, kind: str, coding: Coding, below: _Level | None):
        folder.mkdir()
        self.folder, self.tile_px, self.kind, self.coding, self.below = folder, tile_px, kind, coding, below
        self.waiting: list[np.ndarray] = []
        self.row = 0

    def add(self, light: np.ndarray) -> None:
        """Take some rows of light; never more at once than half a tile."""
        self.waiting.append(light)
        if sum(part.shape[0] for part in self.waiting) >= self.tile_px:
            self._pass_on()

    def close(self) -> None:
        """Write what is left, here and below."""
        if self.waiting:
            self._pass_on()
        if self.below is not None:
            self.below.close()

    def _pass_on(self) -> None:
        band = np.concatenate(self.waiting)
        self.waiting = []
        self.write(self.coding.codes(band))
        if self.below is not None:
            self.below.add(_halved(band))

    def write(self, codes: np.ndarray) -> None:
        """Write one row of tiles."""
        for column, start in enumerate(range(0, codes.shape[1], self.tile_px)):
            tile = np.ascontiguousarray(codes[:, start : start + self.tile_px])
            path = self.folder / f"{column}_{self.row}.{self.kind}"
            path.write_bytes(_encoded(tile, self.kind))
        self.row += 1


def _encoded(tile: np.ndarray, kind: str) -> bytes:
    if kind == "jpg":
        return bytes(imagecodecs.jpeg8_encode(tile, level=JPEG_QUALITY))
    # Room for what does not compress: the library's own guess falls short on pure noise.
    return bytes(imagecodecs.png_encode(tile, out=2 * tile.size + 4096, **PNG_OPTIONS))


def _native(samples: np.ndarray) -> np.ndarray:
    return samples.astype(samples.dtype.newbyteorder("="), copy=False)


def _halved(light: np.ndarray) -> np.ndarray:
    """Means of two by two pixels; at an odd end, of those that are there."""
    if light.shape[0] % 2:
        light = np.concatenate([light, light[-1:]])
    if light.shape[1] % 2:
        light = np.concatenate([light, light[:, -1:]], axis=1)
    rows = light[0::2] + light[1::2]
    return (rows[:, 0::2] + rows[:, 1::2]) * np.float32(0.25)


def thumbnail(
    picture: Picture, calibration: Calibration | None = None, longest_px: int = THUMBNAIL_PX
) -> bytes:
    """A small PNG of a picture; of a large one only some rows are read.

    Parameters
    ----------
    picture : Picture
    calibration : Calibration, optional
        With one, density is shown linearly, the least of it lightest, as the film looks on a light box.
    longest_px : int
        Longest side; a smaller picture keeps its size [pixels].

    Returns
    -------
    bytes
    """
    if longest_px < 1:
        raise ImagingError("BAD_SIZE", "A thumbnail has at least one pixel.")
    coding = coding_of(picture, calibration)
    samples = picture.samples if calibration is None else picture.plane
    longest = max(picture.width, picture.height)
    factor = max(1, longest // longest_px)
    light = _shrunk(samples, light_table(picture, calibration).astype(np.float32), factor)
    sides = [max(1, round(side * longest_px / longest)) for side in (picture.height, picture.width)]
    if longest > longest_px and light.shape[:2] != tuple(sides):
        zoom = [sides[0] / light.shape[0], sides[1] / light.shape[1]] + [1] * (light.ndim - 2)
        light = ndimage.zoom(light, zoom, order=1, mode="nearest", grid_mode=True)
    codes = coding.codes(light)
    return _encoded(255 - codes if coding.kind == "density" else codes, "png")


def _shrunk(samples: np.ndarray, table: np.ndarray, factor: int) -> np.ndarray:
    """Mean light of blocks, of each of which at most two rows are looked at."""
    height, width = (max(side // factor, 1) * factor for side in samples.shape[:2])
    total = 0
    offsets = sorted({factor // 3, (2 * factor) // 3})
    for offset in offsets:
        rows = table[_native(samples[min(offset, samples.shape[0] - 1) : height : factor, :width])]
        missing = -rows.shape[1] % factor
        rows = np.pad(rows, [(0, 0), (0, missing)] + [(0, 0)] * (rows.ndim - 2), mode="edge")
        total = total + rows.reshape(rows.shape[0], -1, factor, *rows.shape[2:]).mean(axis=2)
    return total / len(offsets)
