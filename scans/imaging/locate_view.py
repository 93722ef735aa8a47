"""The small, straightened view of a scan in which a tablet is looked for.

The view is of log level, at most about a thousand pixels long, turned so that the tablet's edges run along
its rows and columns. Places in it can be carried back to the scan's own pixels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

LONGEST_SIDE = 1000
LOG_OFFSET = 0.0004
"""Added to the share of full scale before the logarithm, so that noise in the dark stays small [ratio]."""
GRADIENT_SIGMA_PX = 1.5
STEEPEST = 0.05
"""Gradients count no more than this [density per pixel]: one border is not worth many steps."""

LARGEST_TILT = 8.0
"""More than the 5 degrees that are promised, which so lie well within the search [degrees]."""
ANGLE_BINS = 160


@dataclass(frozen=True)
class View:
    """A straightened view.

    Parameters
    ----------
    log_level : ndarray, shape (h, w) [density]
        -log10 of the level as a share of full scale; rises where the scan darkens.
    unturned : ndarray, shape (h', w') [density]
        The same before it was turned.
    factor : int
        Scan pixels to a view pixel [pixels].
    angle_deg : float
        Turn of the scan that was undone, within 45 degrees [degrees].
    is_transposed : bool
        Whether rows and columns are exchanged, so that the tablet runs along the rows.
    """

    log_level: np.ndarray
    unturned: np.ndarray
    factor: int
    angle_deg: float
    is_transposed: bool = False

    @property
    def transposed(self) -> View:
        """The same view with rows and columns exchanged."""
        return replace(self, log_level=self.log_level.T, is_transposed=not self.is_transposed)

    def turned_on(self, degrees: float) -> View:
        """The view turned on by an angle in its own rows and columns, scalar [degrees]."""
        angle = self.angle_deg + (-degrees if self.is_transposed else degrees)
        turned = _turned(self.unturned, angle)
        return replace(self, log_level=turned.T if self.is_transposed else turned, angle_deg=angle)

    def to_scan(self, x, y):
        """Carry places back to the scan.

        Parameters
        ----------
        x, y : array_like, shape (n,) [view pixels]

        Returns
        -------
        places : ndarray, shape (n, 2) [pixels]
            (x, y) in the scan.
        """
        x, y = np.asarray(x, float), np.asarray(y, float)
        shape = self.log_level.shape
        if self.is_transposed:
            x, y, shape = y, x, shape[::-1]
        centre_x, centre_y = (shape[1] - 1) / 2, (shape[0] - 1) / 2
        turn = np.deg2rad(self.angle_deg)
        dx, dy = x - centre_x, y - centre_y
        back_x = centre_x + dx * np.cos(turn) - dy * np.sin(turn)
        back_y = centre_y + dx * np.sin(turn) + dy * np.cos(turn)
        half = (self.factor - 1) / 2
        return np.column_stack([back_x * self.factor + half, back_y * self.factor + half])


def straightened_view(plane: np.ndarray, white_level: int) -> View:
    """Shrink a scan, take logarithms and turn it straight.

    Parameters
    ----------
    plane : ndarray, shape (h, w) [level]
    white_level : int
        [level]

    Returns
    -------
    View
    """
    log_level, factor = shrunk_log_level(plane, white_level)
    angle = _tilt(log_level)
    return View(_turned(log_level, angle), log_level, factor, angle)


def shrunk_log_level(plane: np.ndarray, white_level: int) -> tuple[np.ndarray, int]:
    """Shrink a scan to about a thousand pixels and take logarithms.

    Parameters
    ----------
    plane : ndarray, shape (h, w) [level]
    white_level : int
        [level]

    Returns
    -------
    log_level : ndarray, shape (h', w') [density of levels]
        Rises where the scan darkens.
    factor : int
        Scan pixels to a pixel of it [pixels].
    """
    factor = max(1, -(-max(plane.shape) // LONGEST_SIDE))
    small = _shrunk(plane, factor)
    return -np.log10(small / np.float32(white_level) + np.float32(LOG_OFFSET)), factor


def _shrunk(plane: np.ndarray, factor: int) -> np.ndarray:
    """Mean of blocks, of each of which at most two rows are looked at; a third of the time of all."""
    if factor == 1:
        return plane.astype(np.float32)
    height, width = (side // factor * factor for side in plane.shape)
    total = 0
    offsets = {factor // 3, (2 * factor) // 3}
    for offset in offsets:
        rows = plane[offset:height:factor, :width].astype(np.float32)
        total = total + rows.reshape(rows.shape[0], -1, factor).sum(axis=2)
    return total / (factor * len(offsets))


def _tilt(log_level: np.ndarray) -> float:
    """Angle to the nearest axis that most of the edges have [degrees]; a first guess.

    The holder's own borders may outweigh a tablet; `locate_comb.lean_of` then mends it by the tablet alone.
    """
    down = ndimage.gaussian_filter1d(log_level, GRADIENT_SIGMA_PX, axis=0, order=1)
    down = ndimage.gaussian_filter1d(down, GRADIENT_SIGMA_PX, axis=1)
    right = ndimage.gaussian_filter1d(log_level, GRADIENT_SIGMA_PX, axis=1, order=1)
    right = ndimage.gaussian_filter1d(right, GRADIENT_SIGMA_PX, axis=0)
    size = np.hypot(down, right)
    strong = size > 3 * np.median(size[::2, ::2]) + 1e-6
    if not strong.any():
        return 0.0
    direction = np.rad2deg(np.arctan2(down[strong], right[strong]))
    direction = (direction + 45.0) % 90.0 - 45.0
    counts, borders = np.histogram(
        direction, ANGLE_BINS, (-LARGEST_TILT, LARGEST_TILT), weights=np.minimum(size[strong], STEEPEST)
    )
    counts = ndimage.gaussian_filter1d(counts, 3.0, mode="constant")
    best = int(np.argmax(counts))
    return float(borders[best] + borders[1] / 2 - borders[0] / 2)


def _turned(image: np.ndarray, angle_deg: float) -> np.ndarray:
    turn = np.deg2rad(angle_deg)
    # Output (row, column) to input (row, column), about the centre.
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    centre = (np.array(image.shape) - 1) / 2
    return ndimage.affine_transform(image, matrix, centre - matrix @ centre, order=1, mode="nearest")
