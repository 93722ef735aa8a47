"""Corner marks put together: four that agree on one perspective, or fewer that say it runs out of view."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import combinations

import numpy as np

from scans.imaging.homography import fit_homography, slope_at
from scans.imaging.locate_marks import Mark
from scans.imaging.measures import ImagingError
from scans.imaging.target_layout import TargetLayout

MOST_MARKS = 60
"""Marks of one corner that are tried; dark patches pass for a solid mark."""
SIDE_AGREES, DISTANCE_AGREES = 1.18, 1.35
ANGLE_AGREES_DEG = 7.0
MOST_PERSPECTIVE = 1.5
"""Scale at the nearest corner over that at the farthest."""
MOST_SKEW = 1.3


def perspectives_of(marks: list[Mark], layout: TargetLayout) -> list[np.ndarray]:
    """Perspectives on which a mark of each corner agree.

    Parameters
    ----------
    marks : list of Mark
    layout : TargetLayout

    Returns
    -------
    list of ndarray, shape (3, 3) [view pixels / target unit]
    """
    places = np.array([mark.centre for mark in layout.fiducials])
    found = []
    for four in _families(marks, layout, range(4)):
        try:
            matrix = fit_homography(places, [mark.centre for mark in four])
        except ImagingError:
            continue
        if _agree(four, [slope_at(matrix, place) for place in places], layout):
            found.append(matrix)
    return found


def runs_out(marks: list[Mark], layout: TargetLayout, shape: tuple[int, int]) -> bool:
    """Whether three marks, or two, say that another lies out of the picture.

    Parameters
    ----------
    marks : list of Mark
    layout : TargetLayout
    shape : tuple of int, scalar [view pixels]
        Rows and columns.

    Returns
    -------
    bool
    """
    # Three tell it surely: a fourth that lies in the picture is covered, not cut off. Two do so only where no
    # other two, such as a dark patch taken for a mark, speak against it.
    told = _told(marks, layout, shape, 3) or _told(marks, layout, shape, 2)
    return bool(told) and all(told)


def _told(marks: list[Mark], layout: TargetLayout, shape: tuple[int, int], count: int) -> list[bool]:
    """Of each family of so many marks, whether another then lies out of the picture either way round."""
    places = np.array([mark.centre for mark in layout.fiducials])
    told = []
    for corners in combinations(range(4), count):
        for chosen in _families(marks, layout, corners):
            guesses = [
                guess
                for guess in _guesses(places[list(corners)], np.array([mark.centre for mark in chosen]))
                if _agree(chosen, [guess[:, :2]] * count, layout)
            ]
            if guesses:
                margin = chosen[0].side / 2
                told.append(all(_lies_out(guess, places, shape, margin) for guess in guesses))
    return told


def _families(marks: list[Mark], layout: TargetLayout, corners: Iterable[int]) -> list[tuple[Mark, ...]]:
    """Marks of those corners whose distances are about what their sizes lead one to expect.

    Built up one by one, so that a sheet full of marks does not multiply.
    """
    families: list[tuple[Mark, ...]] = [()]
    for corner in corners:
        of_corner = [mark for mark in marks if mark.corner == corner][:MOST_MARKS]
        families = [
            (*family, mark)
            for family in families
            for mark in of_corner
            if all(_is_kin(mark, other, layout) for other in family)
        ]
    return families


def _is_kin(one: Mark, other: Mark, layout: TargetLayout) -> bool:
    places = layout.fiducials[one.corner], layout.fiducials[other.corner]
    expected = math.dist(*(place.centre for place in places)) / (places[0].side + places[1].side)
    seen = math.dist(one.centre, other.centre) / (one.side + other.side)
    smaller, larger = sorted((one.side, other.side))
    if larger > MOST_PERSPECTIVE * SIDE_AGREES * smaller:
        return False
    return 1 / DISTANCE_AGREES < seen / expected < DISTANCE_AGREES


def _guesses(places: np.ndarray, found: np.ndarray) -> Iterator[np.ndarray]:
    """Affine maps, shape (2, 3), through three points, or through two without skew, either way round."""
    if len(places) == 3:
        yield np.linalg.solve(np.column_stack([places, np.ones(3)]), found).T
        return
    before, after = places @ (1, 1j), found @ (1, 1j)
    for is_mirrored in (False, True):
        start = np.conj(before) if is_mirrored else before
        turn = (after[1] - after[0]) / (start[1] - start[0])
        shift = after[0] - turn * start[0]
        way = -1 if is_mirrored else 1
        yield np.array(
            [[turn.real, -way * turn.imag, shift.real], [turn.imag, way * turn.real, shift.imag]], float
        )


def _lies_out(guess: np.ndarray, places: np.ndarray, shape: tuple[int, int], margin: float) -> bool:
    x, y = guess @ np.column_stack([places, np.ones(len(places))]).T
    inside = (x > margin) & (x < shape[1] - margin) & (y > margin) & (y < shape[0] - margin)
    return not inside.all()


def _agree(marks, slopes, layout: TargetLayout) -> bool:
    """Whether the marks' own sizes and angles are those of the perspective through their centres."""
    scales = []
    for mark, slope in zip(marks, slopes, strict=True):
        scale = np.sqrt(abs(np.linalg.det(slope)))
        side = scale * layout.fiducials[mark.corner].side
        if not side / SIDE_AGREES < mark.side < side * SIDE_AGREES:
            return False
        stretch = np.linalg.svd(slope, compute_uv=False)
        if stretch[0] > MOST_SKEW * stretch[1]:
            return False
        angle = np.rad2deg(np.arctan2(slope[1, 0], slope[0, 0]))
        if abs((mark.angle_deg - angle + 45) % 90 - 45) > ANGLE_AGREES_DEG:
            return False
        scales.append(scale)
    return max(scales) < MOST_PERSPECTIVE * min(scales)
