"""The tablet behind a scan, and how its steps are numbered from the lightest area to the densest."""

from curves.models import RevisionState, TabletRevision
from scans.models import Placement, Scan, Shows

STEPS, TARGET, WHOLE = "steps", "target", "whole"


def tablet_revision_of(scan: Scan) -> TabletRevision | None:
    """The calibration of the tablet: of a strip the one it was exposed through, else the one in force."""
    if scan.shows == Shows.STRIP:
        return scan.strip.tablet_revision if scan.strip else None
    if scan.shows != Shows.TABLET or scan.tablet is None:
        return None
    return scan.tablet.revisions.filter(state=RevisionState.IN_FORCE).first()


def film_steps(revision: TabletRevision, *, is_film: bool) -> list[int]:
    """Step numbers from the lightest area of the picture to the densest.

    A tablet is densest at its densest step; a film behind it is densest at the thinnest, which let most
    light through.
    """
    by_density = sorted(revision.steps.all(), key=lambda step: step.density, reverse=is_film)
    return [step.step for step in by_density]


def layout_of(scan: Scan) -> str:
    """What is to be placed on the scan: steps with their number where it is known, a target, or fields."""
    if scan.shows in (Shows.TABLET, Shows.STRIP):
        revision = tablet_revision_of(scan)
        return f"{STEPS}-{revision.steps.count()}" if revision else STEPS
    return TARGET if scan.shows in (Shows.FRAME, Shows.PRINT) else WHOLE


def fits_layout(placement: Placement, scan: Scan) -> bool:
    """Whether areas were placed for what the scan is said to show now."""
    layout = layout_of(scan)
    return placement.layout == layout or (layout == STEPS and placement.layout.startswith(f"{STEPS}-"))
