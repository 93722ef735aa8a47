"""Which area is which step of the tablet: on the tablet itself, and on a film that was exposed through it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scans.imaging.density import Area
from scans.imaging.locate import LocatedTablet
from scans.imaging.measures import ImagingError


def tablet_steps(located: LocatedTablet | Sequence[Area], is_negative: bool, count: int) -> dict[int, Area]:
    """The area of each step, by the tablet's own numbers.

    Step 1 of a tablet is its thinnest. A scan of the tablet shows it lightest. A negative film took most
    exposure beneath it, so there it is the densest area; a film that was reversed, or a print of a negative,
    darkens with the tablet and is no negative in this sense.

    Parameters
    ----------
    located : LocatedTablet or sequence of Area
        From the lightest to the densest, as `locate.locate_tablet` and `hand_placed.place_steps` give them.
    is_negative : bool
        Whether it is a negative film exposed through the tablet.
    count : int
        Number of the tablet's steps; it must be the number of areas.

    Returns
    -------
    dict of int to Area
        From step 1 to step ``count``, each area labelled by its step.
    """
    areas = located.areas if isinstance(located, LocatedTablet) else tuple(located)
    if len(areas) != count:
        raise ImagingError(
            "BAD_STEP_COUNT",
            f"The tablet has {count} steps, but {len(areas)} areas were placed; place them anew.",
        )
    in_order = areas[::-1] if is_negative else areas
    return {step: replace(area, label=f"step {step}") for step, area in enumerate(in_order, start=1)}
