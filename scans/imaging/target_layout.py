"""Patch targets as data: where patches, corner marks and fields lie on a sheet, in its own units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scans.imaging.homography import box_corners
from scans.imaging.measures import ImagingError


@dataclass(frozen=True)
class PatchPlace:
    """An upright rectangle on a target.

    Parameters
    ----------
    label : str
    x, y, w, h : float
        Left, top, width and height [target units].
    reflectance_density : float or None
        Nominal visual density; None where what a film sees of it depends on its colour response [density].
    """

    label: str
    x: float
    y: float
    w: float
    h: float
    reflectance_density: float | None = None

    @property
    def corners(self) -> np.ndarray:
        """Shape (4, 2) [target units], around it from the upper left."""
        return box_corners(self.x, self.y, self.w, self.h)

    @property
    def centre(self) -> tuple[float, float]:
        """(x, y) [target units]."""
        return self.x + self.w / 2, self.y + self.h / 2


@dataclass(frozen=True)
class Fiducial:
    """A square corner mark of dark and light modules.

    Parameters
    ----------
    x, y, side : float
        Left, top and side [target units].
    pattern : tuple of str
        Rows from the top, "#" dark and "." light; all of the rim is dark, and the whole looks the same
        however it is turned or mirrored, so that it names its corner and nothing else.
    """

    x: float
    y: float
    side: float
    pattern: tuple[str, ...]

    @property
    def centre(self) -> tuple[float, float]:
        """(x, y) [target units]."""
        return self.x + self.side / 2, self.y + self.side / 2

    @property
    def modules(self) -> np.ndarray:
        """Shape (m, m), 1 for dark [1]."""
        return np.array([[cell == "#" for cell in row] for row in self.pattern], float)


@dataclass(frozen=True)
class TargetLayout:
    """A target: a light sheet with four different corner marks, patches to be read and fields to be seen.

    Parameters
    ----------
    name : str
    width, height : float
        Of the sheet [target units].
    patches : tuple of PatchPlace
    fiducials : tuple of Fiducial
        Upper left, upper right, lower right, lower left; their patterns differ from one another.
    regions : tuple of PatchPlace
        What is looked at side by side; may be patches too.
    ground_density, mark_density : float
        Of the sheet itself and of the dark modules [density].
    """

    name: str
    width: float
    height: float
    patches: tuple[PatchPlace, ...]
    fiducials: tuple[Fiducial, ...]
    regions: tuple[PatchPlace, ...] = ()
    ground_density: float = 0.08
    mark_density: float = 1.70

    def __post_init__(self):
        labels = [patch.label for patch in self.patches]
        if not labels or len(set(labels)) != len(labels):
            raise ImagingError("BAD_LAYOUT", "A target has patches, each with its own label.")
        if len(self.fiducials) != 4 or len({mark.pattern for mark in self.fiducials}) != 4:
            raise ImagingError("BAD_LAYOUT", "A target has four corner marks, no two alike.")
        for mark in self.fiducials:
            modules = mark.modules
            rim = np.concatenate([modules[0], modules[-1], modules[:, 0], modules[:, -1]])
            symmetric = np.array_equal(modules, modules.T) and np.array_equal(modules, modules[::-1])
            if not (symmetric and rim.all()):
                raise ImagingError("BAD_LAYOUT", "A corner mark has a dark rim and looks alike turned.")

    @property
    def corners(self) -> np.ndarray:
        """Corners of the sheet, shape (4, 2) [target units], from the upper left around it."""
        return box_corners(0, 0, self.width, self.height)

    def region(self, name: str) -> PatchPlace:
        """The region, or else the patch, of that name."""
        for place in (*self.regions, *self.patches):
            if place.label == name:
                return place
        raise ImagingError("UNKNOWN_REGION", f"The target {self.name} has no region {name}.")


MARK_SIDE = 20.0
SOLID = ("#####", "#####", "#####", "#####", "#####")
CROSS = ("#####", "##.##", "#...#", "##.##", "#####")
HOLLOW = ("#####", "#...#", "#...#", "#...#", "#####")
FOUR_HOLES = ("#####", "#.#.#", "#####", "#.#.#", "#####")
STEPS, FIRST_STEP, STEP_INCREMENT = 12, 0.10, 0.15
GREY_CARD = 0.745
"""A card that reflects 18 %: -log10 0.18 [density]."""
COLOURS = ("red", "yellow", "green", "cyan", "blue", "magenta", "flesh light", "flesh medium", "flesh dark")


def _house_target() -> TargetLayout:
    steps = [
        PatchPlace(f"step {index + 1}", 36.0 + 19 * index, 5.0, 19.0, 22.0, round(float(density), 3))
        for index, density in enumerate(FIRST_STEP + STEP_INCREMENT * np.arange(STEPS))
    ]
    colours = [
        PatchPlace(label, 36.0 + 25.5 * index, 173.0, 22.0, 22.0) for index, label in enumerate(COLOURS)
    ]
    grey_card = PatchPlace("grey card", 10.0, 36.0, 88.0, 62.0, GREY_CARD)
    even_tone = PatchPlace("even tone", 10.0, 104.0, 88.0, 62.0, 0.35)
    fields = (
        PatchPlace("fine texture", 106.0, 36.0, 88.0, 62.0),
        PatchPlace("shadow detail", 202.0, 36.0, 88.0, 62.0),
        PatchPlace("edge", 106.0, 104.0, 88.0, 62.0),
        PatchPlace("highlight", 202.0, 104.0, 88.0, 62.0),
    )
    return TargetLayout(
        name="house target",
        width=300.0,
        height=200.0,
        patches=(grey_card, even_tone, *steps, *colours),
        fiducials=(
            Fiducial(6.0, 6.0, MARK_SIDE, SOLID),
            Fiducial(274.0, 6.0, MARK_SIDE, CROSS),
            Fiducial(274.0, 174.0, MARK_SIDE, HOLLOW),
            Fiducial(6.0, 174.0, MARK_SIDE, FOUR_HOLES),
        ),
        regions=(grey_card, even_tone, *fields),
    )


HOUSE_TARGET = _house_target()
"""Of our own design, in millimetres: a sheet of 300 by 200 in the proportions of a 36 by 24 mm frame. Twelve
steps above, colours and flesh tones below, six fields between; a grey card is the first."""
