"""The house target drawn by maths: marks, patches, and fields of fine texture, shadow, highlight and an edge.

Densities are drawn point by point; the caller draws finely enough and blurs, as a lens does.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from scans.imaging.homography import carried
from scans.imaging.target_layout import PatchPlace, TargetLayout

BACKGROUND = 0.95
EDGE_TONES = (0.30, 0.80)
EDGE_ANGLE_DEG = 5.0
"""From upright; between 3 and 15 degrees, as edges are measured."""
GRATING_PERIODS = (4.0, 2.0, 1.0, 0.6)
"""Of the bars in the fine texture [target units]."""
PANCHROMATIC: dict[str, float] = {
    "red": 0.72,
    "yellow": 0.22,
    "green": 0.62,
    "cyan": 0.50,
    "blue": 0.98,
    "magenta": 0.70,
    "flesh light": 0.28,
    "flesh medium": 0.46,
    "flesh dark": 0.88,
}
"""What an invented film of even response sees of the colours [density]."""
LEAVES = np.random.default_rng(20260101).random((4, 64, 64)).astype(np.float32)


def target_density(
    layout: TargetLayout, matrix, shape: tuple[int, int], colours: Mapping[str, float] = PANCHROMATIC
) -> np.ndarray:
    """What a camera is shown: the target on a table.

    Parameters
    ----------
    layout : TargetLayout
        Fields named as in the house target are drawn; regions without a drawing stay as light as the sheet.
    matrix : array_like, shape (3, 3) [samples / target unit]
        Perspective from the target to (x, y) of the samples.
    shape : tuple of int, scalar [samples]
        Rows and columns.
    colours : mapping of str to float, scalar [density]
        What the film sees of each patch that has no reflectance density; mid grey where none is given.

    Returns
    -------
    density : ndarray of float32, shape (rows, columns) [density]
        Reflectance density.
    """
    density = _table(shape)
    canvas = _Canvas(density, np.asarray(matrix, float))
    canvas.fill(PatchPlace("sheet", 0, 0, layout.width, layout.height), layout.ground_density)
    for mark in layout.fiducials:
        module = mark.side / len(mark.pattern)
        canvas.fill(PatchPlace("mark", mark.x, mark.y, mark.side, mark.side), layout.mark_density)
        for row, column in np.argwhere(mark.modules == 0):
            hole = PatchPlace("hole", mark.x + column * module, mark.y + row * module, module, module)
            canvas.fill(hole, layout.ground_density)
    for patch in layout.patches:
        tone = patch.reflectance_density
        canvas.fill(patch, colours.get(patch.label, 0.7) if tone is None else tone)
    for region in layout.regions:
        if region.label in FIELDS:
            canvas.draw(region, FIELDS[region.label])
    return density


class _Canvas:
    """Samples, and the way from them back to the target."""

    def __init__(self, density: np.ndarray, matrix: np.ndarray):
        self.density, self.matrix, self.back = density, matrix, np.linalg.inv(matrix)

    def fill(self, place: PatchPlace, tone: float) -> None:
        """One tone all over a place."""
        self.draw(place, lambda x, y: tone)

    def draw(self, place: PatchPlace, field) -> None:
        """A field, given as density at (x, y) from the place's upper left corner [target units]."""
        window = self._window(place)
        if window is None:
            return
        rows = np.arange(window[0].start, window[0].stop, dtype=np.float32)[:, None]
        columns = np.arange(window[1].start, window[1].stop, dtype=np.float32)[None, :]
        back = self.back.astype(np.float32)
        x, y, depth = (line[0] * columns + line[1] * rows + line[2] for line in back)
        x, y = x / depth - np.float32(place.x), y / depth - np.float32(place.y)
        inside = (x >= 0) & (x < np.float32(place.w)) & (y >= 0) & (y < np.float32(place.h))
        np.copyto(self.density[window], field(x, y), where=inside)

    def _window(self, place: PatchPlace):
        corners = carried(self.matrix, place.corners)
        height, width = self.density.shape
        low = np.clip(np.floor(corners.min(axis=0)), 0, (width, height)).astype(int)
        high = np.clip(np.ceil(corners.max(axis=0)) + 1, 0, (width, height)).astype(int)
        return None if np.any(high <= low) else (slice(low[1], high[1]), slice(low[0], high[0]))


def _table(shape: tuple[int, int]) -> np.ndarray:
    """What the sheet lies on: dark, with a slow unevenness."""
    rows = np.linspace(0, 9, shape[0], dtype=np.float32)[:, None]
    columns = np.linspace(0, 13, shape[1], dtype=np.float32)[None, :]
    waves = np.sin(columns + 2 * np.sin(0.7 * rows)) * np.sin(1.3 * rows)
    return (BACKGROUND + 0.1 * waves).astype(np.float32)


def _fine_texture(x, y):
    """Bars of four periods, level and upright; below them two cloths and foliage."""
    density = np.empty(x.shape, np.float32)
    for part, texture in (
        ((x < 44) & (y < 28), lambda x, y: _bars(y, x / 11)),
        ((x >= 44) & (y < 28), lambda x, y: _bars(x, y / 7)),
        ((x < 44) & (y >= 28), lambda x, y: 0.45 + 0.3 * _cloth(x, y, np.where(x < 22, 1.6, 0.8))),
        ((x >= 44) & (y >= 28), _foliage),
    ):
        density[part] = texture(x[part], y[part])
    return density


def _bars(along, row):
    """Sine bars along one way, of another period in each row."""
    period = np.array(GRATING_PERIODS, np.float32)[np.clip(row % 4, 0, 3).astype(np.intp)]
    return -np.log10(0.40 + 0.30 * np.sin(2 * np.pi * along / period))


def _cloth(x, y, period):
    """A twill: threads that pass over and under one another, -1 to 1."""
    warp = np.abs(np.sin(np.pi * x / period))
    weft = np.abs(np.sin(np.pi * y / period))
    over = np.sin(np.pi * (x + y) / (2 * period)) > 0
    return 2 * np.where(over, warp, weft) - 1


def _foliage(x, y):
    """Leaves of several sizes over one another: in each cell of a turned lattice an ellipse, at random."""
    density = np.full(x.shape, 1.25, np.float32)
    for size, lattice in ((5.0, 0.3), (3.4, 1.1), (3.4, 0.7), (2.2, 1.9), (2.2, 2.5), (1.3, 0.9), (0.8, 2.2)):
        a, b = (
            (x * np.cos(lattice) + y * np.sin(lattice)) / size,
            (y * np.cos(lattice) - x * np.sin(lattice)) / size,
        )
        column, row = np.floor(a).astype(np.intp), np.floor(b).astype(np.intp)
        plane = int(17 * lattice)
        turn, shade, along, across = (each[(row + plane) % 64, (column + plane) % 64] for each in LEAVES)
        a, b = a - column - 0.4 - 0.2 * along, b - row - 0.4 - 0.2 * across
        cosine, sine = np.cos(np.pi * turn), np.sin(np.pi * turn)
        distance = ((a * cosine + b * sine) / 0.4) ** 2 + ((b * cosine - a * sine) / 0.17) ** 2
        leaf = 0.20 + 1.0 * shade + 0.15 * np.clip(distance, 0, 1)
        density = np.where((distance < 1) & (shade > 0.15), leaf, density)
    return density


def _folds(x, y):
    """Slow folds of a cloth, -1 to 1."""
    return np.sin(x / 7 + 1.5 * np.sin(y / 11)) * np.cos(y / 23 + 0.4 * np.sin(x / 5))


def _shadow(x, y):
    return 1.45 + 0.24 * _folds(x, y) + 0.06 * _cloth(x, y, 2.4)


def _highlight(x, y):
    return 0.17 + 0.07 * _folds(x, y) + 0.03 * _cloth(x, y, 2.4)


def _edge(x, y):
    lean = (y - 31) * np.tan(np.deg2rad(EDGE_ANGLE_DEG))
    return np.where(x - 44 < lean, *EDGE_TONES)


FIELDS = {
    "fine texture": _fine_texture,
    "shadow detail": _shadow,
    "highlight": _highlight,
    "edge": _edge,
}
"""Drawings by the region's name: density at (x, y) from its upper left corner [target units]."""
