"""A part of a picture as it is shown, put together from its tiles: upright, at one size, in one tone."""

import math
from dataclasses import dataclass

import imagecodecs
import numpy as np
from scipy import ndimage

from labsite.common.errors import InvalidInput, NotFound
from scans.models import TilePyramid
from scans.queries.tiles import scans_open_to, shown_pyramid

SIZE_PX = (480, 320)
SURROUND = 119
"""Shown beyond the picture: the middle grey of a screen [code]."""
LARGEST = 1_000_000.0


@dataclass(frozen=True)
class Crop:
    """Which part is shown, and how.

    ``x``, ``y`` is its middle and ``width`` its width in pixels of the picture; it is turned by ``degrees``
    clockwise, then mirrored left to right; a code's share of 255, times ``factor``, plus ``added``, is shown.
    """

    x: float
    y: float
    width: float
    degrees: float = 0.0
    is_mirrored: bool = False
    factor: float = 1.0
    added: float = 0.0

    @classmethod
    def from_query(cls, query) -> "Crop":
        """Read from an address; InvalidInput for what is no number or out of all bounds."""
        return cls(
            x=_number(query, "x"),
            y=_number(query, "y"),
            width=_number(query, "width", least=1.0),
            degrees=_number(query, "degrees", 0.0),
            is_mirrored=query.get("mirrored") == "1",
            factor=_number(query, "factor", 1.0),
            added=_number(query, "added", 0.0),
        )


def _number(query, name: str, default: float | None = None, least: float = -LARGEST) -> float:
    try:
        value = float(query.get(name, default))
    except (TypeError, ValueError):
        raise InvalidInput(f"{name} is a number.", field=name) from None
    if not least <= value <= LARGEST:
        raise InvalidInput(f"{name} lies between {least:g} and {LARGEST:g}.", field=name)
    return value


def crop_picture(user, scan_id: int, crop: Crop) -> bytes:
    """Return a PNG of a part of a scan that this person may see; NotFound otherwise."""
    scan = scans_open_to(user).filter(pk=scan_id).select_related("file", "scanner").first()
    pyramid = scan and shown_pyramid(scan)
    if not pyramid or not pyramid.is_on_disk:
        raise NotFound("There is no picture of this scan yet, or it is not open to you.")
    shown = cropped(pyramid, crop)
    return bytes(imagecodecs.png_encode(shown, level=3))


def cropped(pyramid: TilePyramid, crop: Crop) -> np.ndarray:
    """Return the part as codes, shape (height, width) or with three colours."""
    document = pyramid.document
    # The level whose pixels are nearest to those shown, and not larger.
    down = max(0, math.floor(math.log2(max(crop.width / SIZE_PX[0], 1.0))))
    level = max(0, document["levels"] - 1 - down)
    shrink = 2.0 ** (document["levels"] - 1 - level)
    places = (_places(crop) + 0.5) / shrink - 0.5
    low = np.floor(places.min(axis=(1, 2))).astype(int) - 1
    high = np.ceil(places.max(axis=(1, 2))).astype(int) + 2
    codes, corner = _codes(pyramid, level, shrink, low, high)
    if codes is None:
        return np.full(SIZE_PX[::-1], SURROUND, np.uint8)
    at = places - corner[:, None, None]
    planes = [_sampled(plane, at, crop) for plane in np.moveaxis(codes.reshape(*codes.shape[:2], -1), 2, 0)]
    return planes[0] if len(planes) == 1 else np.stack(planes, axis=2)


def _places(crop: Crop) -> np.ndarray:
    """(y, x) in the picture of every pixel shown, shape (2, height, width) [pixels]."""
    width, height = SIZE_PX
    step = crop.width / width
    x, y = np.meshgrid(np.arange(width) - (width - 1) / 2, np.arange(height) - (height - 1) / 2)
    if crop.is_mirrored:
        x = -x
    c, s = math.cos(math.radians(crop.degrees)), math.sin(math.radians(crop.degrees))
    return np.stack([crop.y + step * (-s * x + c * y), crop.x + step * (c * x + s * y)])


def _codes(pyramid: TilePyramid, level: int, shrink: float, low, high):
    """The tiles that are needed, put together, and where their corner (y, x) lies on the level."""
    document = pyramid.document
    side, kind = document["tile_px"], document["format"]
    decode = imagecodecs.png_decode if kind == "png" else imagecodecs.jpeg8_decode
    size = np.array([math.ceil(document[name] / shrink) for name in ("height", "width")])
    low, high = np.maximum(low, 0), np.minimum(high, size)
    if np.any(low >= high):
        return None, None
    first, last = low // side, (high - 1) // side
    rows = [
        np.concatenate(
            [
                decode((pyramid.folder / str(level) / f"{column}_{row}.{kind}").read_bytes())
                for column in range(first[1], last[1] + 1)
            ],
            axis=1,
        )
        for row in range(first[0], last[0] + 1)
    ]
    return np.concatenate(rows), first * side


def _sampled(plane: np.ndarray, at: np.ndarray, crop: Crop) -> np.ndarray:
    # Squares of the scan's own pixels where they are magnified, as the viewer shows them.
    order = 0 if crop.width < SIZE_PX[0] / 2 else 1
    share = ndimage.map_coordinates(plane.astype(np.float32), at, order=order, mode="nearest") / 255
    shown = np.clip(np.rint(255 * (share * crop.factor + crop.added)), 0, 255)
    height, width = plane.shape
    inside = (at[0] > -0.5) & (at[1] > -0.5) & (at[0] < height - 0.5) & (at[1] < width - 0.5)
    return np.where(inside, shown, SURROUND).astype(np.uint8)
