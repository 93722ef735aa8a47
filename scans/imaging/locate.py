"""Finding a step tablet in a scan, and refusing what is not the tablet that was told."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from scans.imaging.density import Area
from scans.imaging.hand_placed import READ_SHARE
from scans.imaging.locate_checks import (
    BEYOND,
    SMALLEST_INCREMENT,
    faults_of,
    ladder_of,
    refusal_of,
    unevenness,
)
from scans.imaging.locate_comb import Band, Comb, find_band, find_comb, lean_of, moved
from scans.imaging.locate_view import View, straightened_view
from scans.imaging.measures import Flag, ImagingError, Refusal
from scans.imaging.picture import Picture

KINDS = (11, 21, 31)
LEAST_SCORE = 0.25
STRAIGHT_ENOUGH_DEG = 0.15
SHIFTS = (0, -1, 1, -2, 2)
LEAST_SHARE = 0.03
"""Width of the narrowest picture that is looked at, as a share of its length."""


@dataclass(frozen=True)
class LocatedTablet:
    """A step tablet in a scan.

    Parameters
    ----------
    areas : tuple of Area
        What to read of each step, from the lightest to the densest.
    outline : ndarray, shape (4, 2) [pixels]
        Corners of all steps together, (x, y).
    angle_deg : float
        Turn from straight, within 8 degrees [degrees].
    darkens : str
        Which way the steps darken: "right", "left", "down" or "up".
    flags : tuple of Flag
    """

    areas: tuple[Area, ...]
    outline: np.ndarray
    angle_deg: float
    darkens: str
    flags: tuple[Flag, ...] = ()


def locate_tablet(picture: Picture, steps: int | None = None, *, is_distinct: bool = True, densities=None):
    """Find a step tablet.

    Parameters
    ----------
    picture : Picture
    steps : int, optional
        Number of its steps; 11, 21 and 31 are tried when not given, and one must fit alone.
    is_distinct : bool
        False for a film that was exposed through a tablet, whose thinnest steps may look alike: they are then
        placed by the others' spacing, counted from the densest, and flagged.
    densities : array_like, shape (steps,), optional [density]
        Calibrated densities of the tablet itself, lightest first, where they are known. They tell how its
        steps should differ where these are not even within a tenth or so.

    Returns
    -------
    LocatedTablet or Refusal
    """
    if steps is not None and not 6 <= steps <= 41:
        raise ImagingError("BAD_STEP_COUNT", "A tablet has between 6 and 41 steps.")
    if min(picture.plane.shape) < LEAST_SHARE * max(picture.plane.shape) or min(picture.plane.shape) < 24:
        return refusal_of("TABLET_NOT_FOUND", steps or KINDS[-1])
    view = straightened_view(picture.plane, picture.white_level)
    if steps is not None:
        found = _located(view, steps, is_distinct)
        if isinstance(found, LocatedTablet) or densities is None:
            return found
        return _located(view, steps, is_distinct, np.diff(np.asarray(densities, float)))
    found = [_located(view, count, is_distinct) for count in KINDS]
    tablets = [each for each in found if isinstance(each, LocatedTablet)]
    if len(tablets) == 1:
        return tablets[0]
    return refusal_of("AMBIGUOUS", KINDS[-1]) if tablets else _commonest(found)


def _commonest(refusals: list[Refusal]) -> Refusal:
    codes = [refusal.code for refusal in refusals]
    uneven = [refusal for refusal in refusals if refusal.code == "STEPS_UNEVEN"]
    if uneven:
        return uneven[0]
    code = "TABLET_NOT_FOUND" if len(set(codes)) > 1 else codes[0]
    return Refusal(code, "No whole tablet of 11, 21 or 31 steps was found; give its number of steps.")


def _located(view: View, steps: int, is_distinct: bool, told=None) -> LocatedTablet | Refusal:
    candidates = []
    for each in (view, view.transposed):
        band = find_band(each.log_level)
        comb = None if band is None else find_comb(band, steps)
        if comb is not None and comb.score >= LEAST_SCORE:
            candidates.append((comb.score, each, band))
    if not candidates:
        return refusal_of("TABLET_NOT_FOUND", steps)
    _, view, band = max(candidates, key=lambda candidate: candidate[0])
    view, band = _straightened(view, band)
    comb = find_comb(band, steps)
    if comb is None:
        return refusal_of("TABLET_NOT_FOUND", steps)
    return _checked(view, band, comb, steps, is_distinct, told)


def _straightened(view: View, band: Band) -> tuple[View, Band]:
    """Turn by what the tablet's own edges lean, twice at most."""
    for _ in range(2):
        lean = lean_of(view.log_level, band)
        if abs(lean) < STRAIGHT_ENOUGH_DEG:
            break
        turned = view.turned_on(lean)
        found = find_band(turned.log_level)
        if found is None:
            break
        view, band = turned, found
    return view, band


def _checked(
    view: View, band: Band, comb: Comb, steps: int, is_distinct: bool, told: np.ndarray | None
) -> LocatedTablet | Refusal:
    ladders, faults = {}, {}
    for shift in SHIFTS:
        placed = comb if shift == 0 else moved(band, comb, shift)
        ladders[shift] = ladder_of(view.log_level, band, placed.places)
        faults[shift] = faults_of(ladders[shift], steps, is_distinct, told)
    fitting = [shift for shift in SHIFTS if not faults[shift]]
    if not fitting:
        fewest = min(faults.values(), key=len)
        return refusal_of(Counter(fewest).most_common(1)[0][0], steps)
    if len(fitting) > 1:
        return refusal_of("AMBIGUOUS", steps)
    ladder = ladders[fitting[0]]
    edges = ladder.edges[BEYOND : BEYOND + steps + 1]
    excess = unevenness(view.log_level, band, edges)
    if excess.max() > 1:
        return refusal_of("STEPS_UNEVEN", steps, int(np.argmax(excess)) + 1)
    increments = np.diff(ladder.value[BEYOND : BEYOND + steps])
    weak = int((~ladder.has_edge[BEYOND + 1 : BEYOND + steps] | (increments < SMALLEST_INCREMENT)).sum())
    flags = ()
    if weak:
        text = f"{weak} edges between steps are too faint to see; they were placed by the others' spacing."
        flags = (Flag("WEAK_STEPS", text),)
    return _tablet(view, band, edges, flags)


def _tablet(view: View, band: Band, edges: np.ndarray, flags: tuple[Flag, ...]) -> LocatedTablet:
    middle, half = (band.top + band.bottom) / 2, (band.bottom - band.top) / 2
    areas = []
    for step, (one, other) in enumerate(pairwise(edges), start=1):
        inset = (1 - READ_SHARE) / 2 * (other - one)
        x = np.array([one + inset, other - inset])[[0, 1, 1, 0]]
        y = middle + READ_SHARE * half * np.array([-1, -1, 1, 1])
        areas.append(Area(f"step {step}", view.to_scan(x, y)))
    corners = view.to_scan(
        np.array([edges[0], edges[-1], edges[-1], edges[0]]),
        np.array([band.top, band.top, band.bottom, band.bottom]),
    )
    ways = ("down", "up") if view.is_transposed else ("right", "left")
    return LocatedTablet(
        areas=tuple(areas),
        outline=corners,
        angle_deg=view.angle_deg,
        darkens=ways[0] if edges[-1] > edges[0] else ways[1],
        flags=flags,
    )
