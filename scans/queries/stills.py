"""Still pictures of scans side by side: how much they show, how large, and the query that cuts one."""

from dataclasses import dataclass

from scans.imaging.target_layout import HOUSE_TARGET
from scans.queries.crops import SIZE_PX
from scans.queries.panes import MM_PER_INCH, Pane
from scans.queries.side_by_side import SideBySide

REGIONS = {"": "whole target"} | {region.label: region.label for region in HOUSE_TARGET.regions}
MATCHES = {"density": "grey card at one density", "none": "as scanned"}
TONES = {"positive": "positive", "negative": "negative"}
PRINT_SCALES = {"": "free", "8": "8× print", "12": "12× print", "20": "20× print"}
LARGEST_ZOOM = 10_000.0
ASSUMED_SCREEN_PPI = 96.0
"""Pixels an inch of a screen that nobody measured: what style sheets take for one (CSS Values 4, 6.2)."""


@dataclass(frozen=True)
class Look:
    """On which place of the target the pictures look, how near, and in which tones.

    ``zoom`` is in pixels shown for a millimetre on the film, or for a unit of the target.
    """

    region: str = ""
    match: str = "density"
    tone: str = "positive"
    x: float | None = None
    y: float | None = None
    zoom: float | None = None
    print_scale: str = ""

    @property
    def place(self) -> tuple[float, float]:
        """What is in the middle [target units]."""
        if self.x is not None and self.y is not None:
            return self.x, self.y
        if self.region:
            return HOUSE_TARGET.region(self.region).centre
        return HOUSE_TARGET.width / 2, HOUSE_TARGET.height / 2


def still_width(view: SideBySide, look: Look) -> float:
    """Return the width of what a still picture shows [mm on the film, or target units]."""
    if look.print_scale and view.basis == "film":
        return SIZE_PX[0] / (float(look.print_scale) * ASSUMED_SCREEN_PPI / MM_PER_INCH)
    return SIZE_PX[0] / look.zoom if look.zoom else view.field_of(look.region)


def enlargement(view: SideBySide, width: float) -> float | None:
    """Return how many times larger than the film a still is on a screen of 96 pixels an inch."""
    return SIZE_PX[0] / width * MM_PER_INCH / ASSUMED_SCREEN_PPI if view.basis == "film" else None


def still_query(view: SideBySide, pane: Pane, look: Look, width: float) -> dict[str, str]:
    """Return which part of a pane's scan its still shows, and how, as a crop is asked for."""
    x, y = pane.place_of(look.place)
    factor, added = pane.tone(
        view.density_range, is_matched=look.match == "density", is_positive=look.tone == "positive"
    )
    return {
        "x": f"{x:.2f}",
        "y": f"{y:.2f}",
        "width": f"{max(width * pane.px_per(view.basis), 1.0):.2f}",
        "degrees": f"{pane.degrees:.3f}",
        "mirrored": str(int(pane.is_mirrored)),
        "factor": f"{factor:.5f}",
        "added": f"{added:.5f}",
    }
