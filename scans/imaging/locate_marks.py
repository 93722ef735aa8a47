"""Corner marks in a small view of a picture: dark squares of the right pattern on lighter ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from scans.imaging.homography import box_corners
from scans.imaging.target_layout import TargetLayout

SMALLEST_PX = 14.0
"""Side of the smallest mark: below three pixels a module its pattern is not read [view pixels]."""
LARGEST_SHARE = 1.25
"""Side of the largest mark against that of a target that fills the view."""
FAINTEST, BRIGHTEST, FINER = 0.04, 2.0, 1.3
"""Heights at which the view is cut, each so much above the last [density of levels]."""
HALFWAY = (0.38, 0.62)
"""A mark is measured where the cut lies about half up its own height."""
SMOOTHING_PX = 0.8
SPECK_PX, HAIR_PX = 5, 3
SQUARENESS = (0.86, 1.10)
"""Area over what a square of the same second moments has; a disc has 1.05, a cross or a ring less."""
MOST_STRETCHED = 1.5
RIM_LEAST, RING_MOST = 0.6, 0.45
SPOILT_MODULES = 3
"""Of the rim, which dust or a hair may lighten."""
LARGEST_MISFIT = 0.30
"""Mean difference from the pattern over the modules inside the rim, as a part of the contrast."""
ALIKE_PX = 0.35


@dataclass(frozen=True)
class Mark:
    """A corner mark that was found.

    Parameters
    ----------
    centre : tuple of float (x, y) [view pixels]
    side : float [view pixels]
    angle_deg : float
        Within 45 degrees [degrees].
    corner : int
        Which of the layout's marks it is.
    misfit : float
        [ratio]
    """

    centre: tuple[float, float]
    side: float
    angle_deg: float
    corner: int
    misfit: float


def find_marks(darkness: np.ndarray, layout: TargetLayout) -> list[Mark]:
    """All corner marks of a layout in a view.

    Parameters
    ----------
    darkness : ndarray, shape (h, w) [density of levels]
        Rises where the target is dark: of a negative, the log level turned round.
    layout : TargetLayout

    Returns
    -------
    list of Mark
        Of those that lie over one another, the best fitting.
    """
    largest = LARGEST_SHARE * max(darkness.shape) * layout.fiducials[0].side / layout.width
    smooth = ndimage.gaussian_filter(darkness, SMOOTHING_PX)
    # Light specks and hairs are closed first: one of them would lower all of the window after; dark hairs,
    # which would tie a mark to what lies beside it, are opened.
    clean = ndimage.grey_opening(ndimage.grey_closing(smooth, size=SPECK_PX), size=HAIR_PX)
    # What is narrower than the window is cut away; the height of what was cut away is that of marks.
    height = clean - ndimage.grey_opening(clean, size=int(largest) | 1)
    marks: list[Mark] = []
    cut = FAINTEST
    while cut < BRIGHTEST:
        for shape in _shapes(height, cut, largest):
            marks.extend(_recognised(smooth, shape, layout))
        cut *= FINER
    return _best_of_each_place(marks)


def _shapes(height: np.ndarray, cut: float, largest: float) -> list[tuple[float, float, float, float]]:
    """Centre, side and angle of each square-like patch above a cut that is about half its height."""
    labels, _ = ndimage.label(height > cut)
    found = []
    for index, box in enumerate(ndimage.find_objects(labels), start=1):
        sides = [part.stop - part.start for part in box]
        if min(sides) < SMALLEST_PX or max(sides) > 1.5 * largest or max(sides) > 2 * min(sides):
            continue
        mask = labels[box] == index
        peak = float(np.percentile(height[box][mask], 75))
        if not HALFWAY[0] < cut / peak < HALFWAY[1]:
            continue
        shape = _square(ndimage.binary_fill_holes(mask))
        if shape is not None:
            x, y, side, angle = shape
            found.append((x + box[1].start, y + box[0].start, side, angle))
    return found


def _square(mask: np.ndarray) -> tuple[float, float, float, float] | None:
    """Centre, side and angle of a mask that is about a square."""
    rows, columns = np.nonzero(mask)
    area = rows.size
    x, y = columns.mean(), rows.mean()
    dx, dy = columns - x, rows - y
    covariance = np.cov(np.stack([dx, dy]), bias=True)
    spread = np.linalg.eigvalsh(covariance)
    if spread[0] <= 0 or spread[1] > MOST_STRETCHED**2 * spread[0]:
        return None
    if not SQUARENESS[0] < area / (12 * np.sqrt(spread[0] * spread[1])) < SQUARENESS[1]:
        return None
    # The fourth power of a square's points, as complex numbers, points away from its sides.
    fourth = np.mean((dx + 1j * dy) ** 4)
    angle = np.rad2deg(np.angle(-fourth)) / 4
    return float(x), float(y), float(np.sqrt(area)), float(angle)


def _recognised(smooth: np.ndarray, shape, layout: TargetLayout) -> list[Mark]:
    """The mark whose pattern a square shows, or nothing."""
    x, y, side, angle = shape
    modules = len(layout.fiducials[0].pattern)
    places = (np.arange(modules) + 0.5) / modules - 0.5
    grid = np.array([(column, row) for row in places for column in places])
    ring = _ring(0.5 + 0.75 / modules)
    turn = np.deg2rad(angle)
    matrix = side * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    read = _read_at(smooth, np.concatenate([grid, ring]) @ matrix.T + (x, y))
    values, around = read[: len(grid)].reshape(modules, modules), read[len(grid) :]
    is_rim = np.ones((modules, modules), bool)
    is_rim[1:-1, 1:-1] = False
    ground, dark = float(np.median(around)), float(np.median(values[is_rim]))
    if dark - ground < FAINTEST:
        return []
    values, around = (values - ground) / (dark - ground), (around - ground) / (dark - ground)
    if np.sort(values[is_rim])[SPOILT_MODULES] < RIM_LEAST or np.percentile(around, 80) > RING_MOST:
        return []
    misfits = [np.abs(values - mark.modules)[~is_rim].mean() for mark in layout.fiducials]
    best = int(np.argmin(misfits))
    if misfits[best] > LARGEST_MISFIT:
        return []
    return [Mark((x, y), side, angle, best, float(misfits[best]))]


def _ring(half: float) -> np.ndarray:
    """Points around a square, its corners left out, shape (28, 2)."""
    along = np.linspace(-0.8 * half, 0.8 * half, 7)
    sides = [np.column_stack([along, np.full(7, way * half)]) for way in (-1, 1)]
    return np.concatenate([*sides, *(side[:, ::-1] for side in sides)])


def _read_at(view: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Mean of five points about each; as it is at the border beyond the view."""
    offsets = np.concatenate([[(0.0, 0.0)], box_corners(-0.7, -0.7, 1.4, 1.4)])
    spread = points[:, None, :] + offsets
    return ndimage.map_coordinates(view, [spread[..., 1], spread[..., 0]], order=1, mode="nearest").mean(
        axis=1
    )


def _best_of_each_place(marks: list[Mark]) -> list[Mark]:
    kept: list[Mark] = []
    for mark in sorted(marks, key=lambda mark: mark.misfit):
        if all(np.hypot(*np.subtract(mark.centre, other.centre)) > ALIKE_PX * other.side for other in kept):
            kept.append(mark)
    return kept
