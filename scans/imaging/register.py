"""Laying one frame upon another, so that a viewer shows the same place at the same magnification.

A similarity turns, scales and moves, and mirrors where one frame was scanned from the other side. Frames that
were photographed from different places differ by a perspective besides; how far they then lie apart at worst
is told with it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from scans.imaging.homography import carried
from scans.imaging.locate_target import LocatedTarget
from scans.imaging.measures import ImagingError
from scans.imaging.target_layout import PatchPlace

GRID = 9
"""Points along either side of the sheet that are laid upon one another."""


@dataclass(frozen=True)
class Registration:
    """How pixels of the other picture come to lie on the reference's.

    ``reference = scale * turn(rotation_deg) @ mirror @ other + (shift_x_px, shift_y_px)``, where the mirror
    changes the sign of the other's x, and the turn is clockwise as seen.

    Parameters
    ----------
    rotation_deg : float [degrees]
    scale : float [reference pixels / pixel]
    shift_x_px, shift_y_px : float [reference pixels]
    is_mirrored : bool
    residual_px, largest_px : float or None
        Root mean square and greatest distance left between points of the two targets; None where two points
        or the resolution were all that was known [reference pixels].
    method : str
        "target", "points" or "resolution".
    """

    rotation_deg: float
    scale: float
    shift_x_px: float
    shift_y_px: float
    is_mirrored: bool
    residual_px: float | None
    largest_px: float | None
    method: str

    @property
    def matrix(self) -> np.ndarray:
        """From the other's pixels to the reference's, shape (3, 3) [reference pixels / pixel]."""
        turn = math.radians(self.rotation_deg)
        c, s = self.scale * math.cos(turn), self.scale * math.sin(turn)
        way = -1.0 if self.is_mirrored else 1.0
        return np.array([[way * c, -s, self.shift_x_px], [way * s, c, self.shift_y_px], [0, 0, 1]])

    def to_dict(self) -> dict:
        """The fields as plain JSON values, rounded to a thousandth of a pixel over any picture."""
        return {
            "rotation_deg": round(self.rotation_deg, 6),
            "scale": round(self.scale, 9),
            "shift_x_px": round(self.shift_x_px, 3),
            "shift_y_px": round(self.shift_y_px, 3),
            "is_mirrored": self.is_mirrored,
            "residual_px": None if self.residual_px is None else round(self.residual_px, 3),
            "largest_px": None if self.largest_px is None else round(self.largest_px, 3),
            "method": self.method,
        }


def registration(reference: LocatedTarget, other: LocatedTarget, region: str | None = None) -> Registration:
    """Lay a frame on the reference by the target in both.

    Parameters
    ----------
    reference, other : LocatedTarget
        Of the same layout.
    region : str, optional
        A region or patch of the layout to be laid upon one another as well as can be; the whole sheet when
        not given. Of frames that differ in perspective the regions elsewhere then lie further apart.

    Returns
    -------
    Registration
    """
    layout = reference.layout
    if layout != other.layout:
        raise ImagingError("OTHER_LAYOUT", "The two frames do not show the same kind of target.")
    place = (
        PatchPlace("sheet", 0, 0, layout.width, layout.height) if region is None else layout.region(region)
    )
    x, y = np.meshgrid(np.linspace(0, place.w, GRID), np.linspace(0, place.h, GRID))
    points = np.column_stack([x.ravel() + place.x, y.ravel() + place.y])
    is_mirrored = reference.is_mirrored != other.is_mirrored
    here, there = carried(reference.homography, points), carried(other.homography, points)
    turn, shift = _similarity(there, here, is_mirrored)
    apart = np.abs(turn * _complex(there, is_mirrored) + shift - _complex(here, False))
    return _registration(
        turn, shift, is_mirrored, "target", float(np.sqrt(np.mean(apart**2))), float(apart.max())
    )


def registration_of_points(reference_points, other_points, *, is_mirrored: bool = False) -> Registration:
    """Lay a frame on the reference by two points that a member set in both.

    Parameters
    ----------
    reference_points, other_points : array_like, shape (2, 2) [pixels]
        (x, y) of the same two things in either picture.
    is_mirrored : bool
        Whether one was scanned from the other side; two points do not tell.

    Returns
    -------
    Registration
        Without a residual.
    """
    here, there = np.asarray(reference_points, float), np.asarray(other_points, float)
    if here.shape != (2, 2) or there.shape != (2, 2) or not np.isfinite([here, there]).all():
        raise ImagingError("BAD_POINTS", "Set two points in either picture.")
    if min(np.hypot(*np.diff(each, axis=0)[0]) for each in (here, there)) < 1:
        raise ImagingError("BAD_POINTS", "The two points lie on one another; set them further apart.")
    return _registration(*_similarity(there, here, is_mirrored), is_mirrored, "points")


def registration_of_resolution(
    reference_ppi: float,
    other_ppi: float,
    reference_point,
    other_point,
    *,
    rotation_deg: float = 0.0,
    is_mirrored: bool = False,
) -> Registration:
    """Lay a frame on the reference by the resolutions and one point that a member set in both.

    Parameters
    ----------
    reference_ppi, other_ppi : float, scalar [pixels per inch]
    reference_point, other_point : array_like, shape (2,) [pixels]
        (x, y) of the same thing in either picture.
    rotation_deg : float
        Turn of the other, clockwise as seen, after mirroring [degrees].
    is_mirrored : bool

    Returns
    -------
    Registration
        Without a residual.
    """
    here, there = np.asarray(reference_point, float), np.asarray(other_point, float)
    numbers = np.concatenate([[reference_ppi, other_ppi, rotation_deg], here.ravel(), there.ravel()])
    if here.shape != (2,) or there.shape != (2,) or not np.isfinite(numbers).all():
        raise ImagingError("BAD_POINTS", "Set one point in either picture.")
    if min(reference_ppi, other_ppi) <= 0:
        raise ImagingError("BAD_RESOLUTION", "A resolution is above 0 pixels per inch.")
    turn = reference_ppi / other_ppi * np.exp(1j * math.radians(rotation_deg))
    shift = _complex(here[None], False)[0] - turn * _complex(there[None], is_mirrored)[0]
    return _registration(turn, shift, is_mirrored, "resolution")


def region_box(located: LocatedTarget, region: str) -> tuple[float, float, float, float]:
    """The upright box around a region of a target, for a viewer to go to.

    Parameters
    ----------
    located : LocatedTarget
    region : str
        A region or patch of its layout.

    Returns
    -------
    box : tuple of float, scalar [pixels]
        (x, y, width, height) in the picture.
    """
    corners = carried(located.homography, located.layout.region(region).corners)
    low, high = corners.min(axis=0), corners.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1])


def _complex(points: np.ndarray, is_mirrored: bool) -> np.ndarray:
    return (-points[:, 0] if is_mirrored else points[:, 0]) + 1j * points[:, 1]


def _similarity(points: np.ndarray, onto: np.ndarray, is_mirrored: bool) -> tuple[complex, complex]:
    """Turn with scale, and shift, by least squares, as complex numbers."""
    start, end = _complex(points, is_mirrored), _complex(onto, False)
    from_middle = start - start.mean()
    turn = np.vdot(from_middle, end - end.mean()) / np.vdot(from_middle, from_middle)
    return complex(turn), complex(end.mean() - turn * start.mean())


def _registration(turn, shift, is_mirrored, method, residual=None, largest=None) -> Registration:
    return Registration(
        rotation_deg=float(np.rad2deg(np.angle(turn))),
        scale=float(abs(turn)),
        shift_x_px=float(shift.real),
        shift_y_px=float(shift.imag),
        is_mirrored=is_mirrored,
        residual_px=residual,
        largest_px=largest,
        method=method,
    )
