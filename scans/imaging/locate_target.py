"""Finding a patch target in a photographed frame or a print, and refusing where it is not surely the target.

Four different corner marks name the corners, so turned, mirrored and upside-down targets are told apart; the
places, sizes and angles of all four must agree with one perspective, and the patches of known density must
darken in their order. A negative is told by its marks, which are light.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize

from scans.imaging.density import Area
from scans.imaging.hand_placed import place_areas, place_steps
from scans.imaging.homography import carried, slope_at
from scans.imaging.locate_assembly import perspectives_of, runs_out
from scans.imaging.locate_marks import Mark, find_marks
from scans.imaging.locate_view import shrunk_log_level
from scans.imaging.measures import Flag, Refusal
from scans.imaging.picture import Picture
from scans.imaging.target_layout import HOUSE_TARGET, Fiducial, PatchPlace, TargetLayout

__all__ = [
    "HOUSE_TARGET",
    "Fiducial",
    "LocatedTarget",
    "PatchPlace",
    "TargetLayout",
    "locate_target",
    "place_areas",
    "place_steps",
]

OUT_OF_ORDER = 0.06
"""Part of the patches' variance that is not explained by their darkening in order."""
LEAST_RANGE = 0.08
"""Between the lightest and the darkest patch [density of levels]."""
LEAST_SIDE_PX = 100


@dataclass(frozen=True, eq=False)
class LocatedTarget:
    """A target in a picture.

    Parameters
    ----------
    layout : TargetLayout
    homography : ndarray, shape (3, 3) [pixels / target unit]
        From the layout to (x, y) in the picture.
    areas : tuple of Area
        What to read of each patch, in the layout's order.
    outline : ndarray, shape (4, 2) [pixels]
        Corners of the sheet, from the layout's upper left on; `place_areas` of them gives the areas.
    angle_deg : float
        Turn clockwise as seen; a mirrored target was mirrored left to right first [degrees].
    is_mirrored : bool
    is_negative : bool
        Whether what is dark on the target is light in the picture.
    flags : tuple of Flag
    """

    layout: TargetLayout
    homography: np.ndarray
    areas: tuple[Area, ...]
    outline: np.ndarray
    angle_deg: float
    is_mirrored: bool
    is_negative: bool
    flags: tuple[Flag, ...] = ()

    def to_dict(self) -> dict:
        """What was found as plain JSON values; the layout by its name."""
        return {
            "layout": self.layout.name,
            "homography": self.homography.tolist(),
            "outline": np.round(self.outline, 2).tolist(),
            "angle_deg": round(self.angle_deg, 3),
            "is_mirrored": self.is_mirrored,
            "is_negative": self.is_negative,
            "flags": [flag.to_dict() for flag in self.flags],
        }


def locate_target(picture: Picture, layout: TargetLayout = HOUSE_TARGET) -> LocatedTarget | Refusal:
    """Find a patch target.

    Parameters
    ----------
    picture : Picture
        A negative, a positive or a print; of a colour scan the green channel is looked at.
    layout : TargetLayout

    Returns
    -------
    LocatedTarget or Refusal
    """
    plane = picture.plane
    if min(plane.shape) < LEAST_SIDE_PX:
        return _refusal("TARGET_NOT_FOUND")
    log_level, factor = shrunk_log_level(plane, picture.white_level)
    whole, faults = [], []
    for is_negative in (False, True):
        darkness = -log_level if is_negative else log_level
        marks = find_marks(darkness, layout)
        found = perspectives_of(marks, layout)
        if not found and runs_out(marks, layout, darkness.shape):
            faults.append("CUT_SHORT")
        for matrix in found:
            fault = _fault(darkness, matrix, layout)
            if fault is None:
                whole.append((matrix, is_negative, marks))
            else:
                faults.append(fault)
    if len(whole) > 1:
        return _refusal("SEVERAL_TARGETS")
    if not whole:
        return _refusal(faults[0] if faults else "TARGET_NOT_FOUND")
    matrix, is_negative, marks = whole[0]
    if _has_another(marks, matrix, layout):
        return _refusal("SEVERAL_TARGETS")
    return located_at(_to_scan(matrix, factor), layout, is_negative=is_negative)


def located_at(
    matrix, layout: TargetLayout = HOUSE_TARGET, *, is_negative: bool, flags: tuple[Flag, ...] = ()
) -> LocatedTarget:
    """The target whose place is known.

    Parameters
    ----------
    matrix : array_like, shape (3, 3) [pixels / target unit]
        From the layout to the picture, as of `homography.fit_homography` of corners set by hand.
    layout : TargetLayout
    is_negative : bool
    flags : tuple of Flag

    Returns
    -------
    LocatedTarget
    """
    matrix = np.asarray(matrix, float)
    outline = carried(matrix, layout.corners)
    slope = slope_at(matrix, (layout.width / 2, layout.height / 2))
    is_mirrored = bool(np.linalg.det(slope) < 0)
    across = -slope[:, 0] if is_mirrored else slope[:, 0]
    return LocatedTarget(
        layout=layout,
        homography=matrix,
        areas=place_areas(layout, outline),
        outline=outline,
        angle_deg=float(np.rad2deg(np.arctan2(across[1], across[0]))),
        is_mirrored=is_mirrored,
        is_negative=is_negative,
        flags=flags,
    )


def _fault(darkness: np.ndarray, matrix: np.ndarray, layout: TargetLayout) -> str | None:
    """What speaks against a target at a place: a patch out of the picture, or not dark in its order."""
    height, width = darkness.shape
    corners = np.concatenate([carried(matrix, patch.corners) for patch in layout.patches])
    if np.any(corners < -0.5) or np.any(corners > (width - 0.5, height - 0.5)):
        return "CUT_SHORT"
    known = [patch for patch in layout.patches if patch.reflectance_density is not None]
    known.sort(key=lambda patch: patch.reflectance_density)
    if len(known) < 3:
        return None
    read = np.array([_median_of(darkness, matrix, patch) for patch in known])
    smooth = optimize.isotonic_regression(read).x
    if smooth[-1] - smooth[0] < LEAST_RANGE:
        return "TARGET_NOT_FOUND"
    out_of_order = np.square(read - smooth).sum() / np.square(read - read.mean()).sum()
    return None if out_of_order < OUT_OF_ORDER else "TARGET_NOT_FOUND"


def _median_of(darkness: np.ndarray, matrix: np.ndarray, patch: PatchPlace) -> float:
    across, down = np.meshgrid(np.linspace(-0.3, 0.3, 7), np.linspace(-0.3, 0.3, 7))
    points = np.column_stack([across.ravel() * patch.w, down.ravel() * patch.h]) + patch.centre
    x, y = np.rint(carried(matrix, points)).astype(int).T
    return float(np.median(darkness[y, x]))


def _has_another(marks: list[Mark], matrix: np.ndarray, layout: TargetLayout) -> bool:
    """Whether marks of two different corners, solid ones not counted, are left beside the target."""
    centres = carried(matrix, [mark.centre for mark in layout.fiducials])
    solid = [corner for corner, mark in enumerate(layout.fiducials) if mark.modules.all()]
    left = set()
    for mark in marks:
        is_own = np.hypot(*(centres - mark.centre).T).min() < mark.side / 2
        if not is_own and mark.corner not in solid:
            left.add(mark.corner)
    return len(left) > 1


def _to_scan(matrix: np.ndarray, factor: int) -> np.ndarray:
    half = (factor - 1) / 2
    matrix = np.array([[factor, 0, half], [0, factor, half], [0, 0, 1]]) @ matrix
    return matrix / matrix[2, 2]


WORDS = {
    "TARGET_NOT_FOUND": "No patch target was found; have all of it in the picture, sharp, its four corner "
    "marks clear of anything else, filling at least half of the frame's length.",
    "CUT_SHORT": "The target runs out of the picture; photograph or scan it whole.",
    "SEVERAL_TARGETS": "More than one patch target was found; cut the picture down to one.",
}


def _refusal(code: str) -> Refusal:
    return Refusal(code, WORDS[code])
