"""Linear light of a part of a picture, through a calibration's response where there is one."""

import numpy as np

from scans.imaging.calibrate import Calibration
from scans.imaging.picture import Picture


def light_of(
    picture: Picture, corners, calibration: Calibration | None, *, is_whole_box: bool = False
) -> np.ndarray:
    """Transmittance of each pixel in the box around four corners; what lies outside them is NaN.

    In single precision, to save memory. With ``is_whole_box`` everything in the box counts.
    """
    corners = np.asarray(corners, float)
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 1, (picture.width, picture.height))
    levels = np.ascontiguousarray(picture.plane[low[1] : high[1], low[0] : high[0]])
    if calibration is None:
        light = levels.astype(np.float32) / np.float32(picture.white_level)
    else:
        light = calibration.response.transmittance_table(picture.white_level).astype(np.float32)[levels]
    if not is_whole_box and not _is_upright(corners):
        light[~_inside(light.shape, corners - low)] = np.nan
    return light


def _is_upright(corners: np.ndarray) -> bool:
    """Whether the corners are the box itself."""
    spread = np.sort(corners, axis=0)
    return bool(np.all(np.abs(spread[[0, 2]] - spread[[1, 3]]) < 0.5))


def _inside(shape: tuple[int, int], corners: np.ndarray) -> np.ndarray:
    y, x = np.ogrid[: shape[0], : shape[1]]
    sides = []
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        sides.append((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0))
    return np.all([side >= 0 for side in sides], axis=0) | np.all([side <= 0 for side in sides], axis=0)
