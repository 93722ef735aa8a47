"""Areas that follow from four corners, whether a member drags them or a target was found there."""

from __future__ import annotations

import numpy as np

from scans.imaging.density import Area
from scans.imaging.homography import box_corners, carried, fit_homography
from scans.imaging.measures import ImagingError
from scans.imaging.target_layout import TargetLayout

READ_SHARE = 0.6
"""Share of a patch's or step's width and height that is read: the rest is edge, label and what lies askew."""
WAYS = {"right": (1, 0), "left": (-1, 0), "down": (0, 1), "up": (0, -1)}


def place_areas(layout: TargetLayout, corners) -> tuple[Area, ...]:
    """What to read of each patch of a target whose corners are known.

    Parameters
    ----------
    layout : TargetLayout
    corners : array_like, shape (4, 2) [pixels]
        Where the sheet's upper left, upper right, lower right and lower left corners lie in the picture.

    Returns
    -------
    tuple of Area
        One for each patch, in the layout's order.
    """
    matrix = fit_homography(layout.corners, corners)
    areas = []
    for patch in layout.patches:
        centre = np.array(patch.centre)
        areas.append(Area(patch.label, carried(matrix, centre + READ_SHARE * (patch.corners - centre))))
    return tuple(areas)


def place_steps(corners, steps: int, darkens: str) -> tuple[Area, ...]:
    """What to read of each step of a tablet whose corners are known.

    Parameters
    ----------
    corners : array_like, shape (4, 2) [pixels]
        Of all steps together, in order around them, from any corner and either way round.
    steps : int
        How many.
    darkens : str
        Which way the steps darken in the picture: "right", "left", "down" or "up".

    Returns
    -------
    tuple of Area
        From the lightest to the densest step, evenly spaced in perspective.
    """
    if darkens not in WAYS:
        raise ImagingError("BAD_WAY", "Steps darken right, left, down or up.")
    if not 2 <= steps <= 41:
        raise ImagingError("BAD_STEP_COUNT", "A tablet has between 2 and 41 steps.")
    corners = _from_the_light_end(np.asarray(corners, float), np.array(WAYS[darkens], float))
    matrix = fit_homography(box_corners(0, 0, steps, 1), corners)
    areas = []
    for step in range(steps):
        inset = (1 - READ_SHARE) / 2
        box = box_corners(step + inset, inset, READ_SHARE, READ_SHARE)
        areas.append(Area(f"step {step + 1}", carried(matrix, box)))
    return tuple(areas)


def _from_the_light_end(corners: np.ndarray, way: np.ndarray) -> np.ndarray:
    """The corners in the order of a found tablet's outline: the first side runs with the darkening."""
    if corners.shape != (4, 2):
        raise ImagingError("BAD_CORNERS", "A tablet has four corners.")
    along = [float((corners[(start + 1) % 4] - corners[start]) @ way) for start in range(4)]
    # The two sides that run most with the way and most against it are the long edges, whatever their order.
    start = int(np.argmax(along))
    ordered = np.roll(corners, -start, axis=0)
    across = np.array([abs(way[1]), abs(way[0])])
    if (ordered[3] - ordered[0]) @ across < 0:  # the first side is the lower one: take the upper one first
        ordered = ordered[[3, 2, 1, 0]]
    return ordered
