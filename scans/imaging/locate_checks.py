"""The self-check: is a comb of edges the tablet that was told, whole, and alone?

The steps are read off a straightened view and faults are counted; `locate` does so for each place that the
comb could stand (as found, or one or two steps along) and accepts a tablet only where exactly one has none.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from scans.imaging.locate_comb import Band
from scans.imaging.measures import Refusal

BEYOND = 2
"""Steps looked at beyond either end."""
SMALLEST_INCREMENT = 0.004
"""Least difference between neighbouring steps that counts as one [density of the scan's levels]."""
LIGHT_END = (0.62, 1.6)
DENSE_END = (0.45, 1.35)
WITHIN = (0.45, 2.2)
"""Increment of a step relative to what its neighbours lead one to expect: at the ends, and within. The
response bends slowly, and flare presses the dense steps together the more the denser they are [ratio]."""
NOISE = 0.006
"""What grain may add to an increment between dense steps [density of levels]."""
FAINT = 0.01
"""Difference of a clear margin from the lightest step that may hide their edge [density of levels]."""
CONTRAST = 0.007
"""Least difference between a step and what lies beside it across the tablet [density of levels]."""
UNEVEN_FLOOR, UNEVEN_SHARE, UNEVEN_NOISES = 0.02, 0.12, 5.0
EDGE_SHARE = 0.12
EDGE_HEIGHT = 0.12
"""Slope of an edge of unit height, a third of what smoothing of 1.2 pixels leaves [1 per pixel]."""


@dataclass(frozen=True)
class Ladder:
    """Patches along a comb and beyond its ends, lightest side first; patch i is step i - BEYOND.

    Parameters
    ----------
    edges : ndarray, shape (n + 2 BEYOND + 1,) [view pixels]
    value : ndarray, shape (n + 2 BEYOND,) [density of levels]
        NaN outside the view.
    contrast : ndarray, shape (n + 2 BEYOND,) [density of levels]
        Greater of the differences to what lies beside the patch across the tablet.
    has_edge : ndarray of bool, shape (n + 2 BEYOND + 1,)
    """

    edges: np.ndarray
    value: np.ndarray
    contrast: np.ndarray
    has_edge: np.ndarray


def ladder_of(log_level: np.ndarray, band: Band, places: np.ndarray) -> Ladder:
    """Read the patches of a comb.

    Parameters
    ----------
    log_level : ndarray, shape (h, w) [density of levels]
    band : Band
    places : ndarray, shape (n + 1,) [view pixels]

    Returns
    -------
    Ladder
    """
    before, after = places[0] - places[1], places[-1] - places[-2]
    steps_out = np.arange(1, BEYOND + 1)
    edges = np.concatenate([places[0] + before * steps_out[::-1], places, places[-1] + after * steps_out])
    height = band.bottom - band.top
    above = _beside(log_level, band.top - 0.30 * height, band.top - 0.14 * height)
    below = _beside(log_level, band.bottom + 0.14 * height, band.bottom + 0.30 * height)
    value = _patches(band.profile, edges)
    beside = [np.abs(value - _patches(rows, edges)) for rows in (above, below) if rows is not None]
    contrast = np.max(beside, axis=0) if beside else np.full(value.size, np.inf)
    return Ladder(edges, value, contrast, _edges_seen(band, edges, value))


def _beside(log_level: np.ndarray, first: float, last: float) -> np.ndarray | None:
    rows = log_level[max(int(first), 0) : max(int(last) + 1, 0)]
    return np.median(rows, axis=0) if rows.shape[0] >= 2 else None


def _patches(profile: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Median of the middle half of each patch, NaN where it is not wholly in the view."""
    found = np.full(edges.size - 1, np.nan)
    for index, (one, other) in enumerate(pairwise(edges)):
        low, high = sorted((one, other))
        inset = 0.25 * (high - low)
        if low + inset >= 0 and high - inset <= profile.size - 1:
            found[index] = np.median(profile[int(low + inset) : int(high - inset) + 1])
    return found


def _edges_seen(band: Band, edges: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Where an edge is seen, and not somewhere between; a narrow margin may hide behind alike patches."""
    seen = np.zeros(edges.size, bool)
    increments = np.abs(np.diff(value[BEYOND:-BEYOND]))
    nearest = increments[np.clip(np.arange(edges.size) - BEYOND - 1, 0, increments.size - 1)]
    nearest = np.where(np.isfinite(nearest), nearest, 0.0)
    for index in range(1, edges.size - 1):
        reach = EDGE_SHARE * abs(edges[index + 1] - edges[index - 1]) / 2 + 1.5
        low, high = max(int(edges[index] - reach), 0), int(edges[index] + reach) + 2
        window = np.abs(band.edge[low:high])
        step = np.fmax(abs(value[index] - value[index - 1]), FAINT)
        if window.size:
            seen[index] = window.max() > EDGE_HEIGHT * min(step, nearest[index]) + band.noise
    return seen


def faults_of(
    ladder: Ladder, steps: int, is_distinct: bool, increments_told: np.ndarray | None = None
) -> list[str]:
    """Codes of what speaks against a ladder's being the tablet.

    Parameters
    ----------
    ladder : Ladder
    steps : int
    is_distinct : bool
        Whether every step must be seen to differ from the next, as on a tablet; on a film exposed through
        one the thinnest steps may look alike.
    increments_told : ndarray, shape (steps - 1,), optional [density]
        Calibrated differences from step to step: no real tablet has them quite even, and then it is what
        departs from them that speaks against the ladder.

    Returns
    -------
    list of str
        Keys of `flags.REASONS`; empty when all is well.
    """
    first, last = BEYOND, BEYOND + steps - 1
    value = ladder.value
    if not np.isfinite(value[first : last + 1]).all():
        return ["CUT_SHORT"] * steps
    if is_distinct:
        return _tablet_faults(ladder, first, last, _proportions(increments_told, steps))
    return _film_faults(ladder, first, last)


def _proportions(increments_told: np.ndarray | None, steps: int) -> np.ndarray:
    """How each increment should compare with their mean; 1 where nothing sensible was told."""
    if increments_told is None:
        return np.ones(steps - 1)
    told = np.asarray(increments_told, float)
    if told.shape != (steps - 1,) or not (told > 0).all():
        return np.ones(steps - 1)
    return told / told.mean()


def _tablet_faults(ladder: Ladder, first: int, last: int, proportions: np.ndarray) -> list[str]:
    increments = np.diff(ladder.value[first : last + 1])
    faults = ["STEPS_IRREGULAR"] * int((increments < SMALLEST_INCREMENT).sum())
    if faults:
        return faults
    increments = increments / proportions
    for index in range(1, increments.size - 1):
        near = np.concatenate([increments[max(index - 2, 0) : index], increments[index + 1 : index + 3]])
        if not WITHIN[0] < increments[index] / np.median(near) < WITHIN[1]:
            faults.append("STEPS_IRREGULAR")
    if not _goes_on(increments[0], increments[1:3], LIGHT_END):
        faults.append("WRONG_STEP_COUNT")
    if not _goes_on(increments[-1], increments[-3:-1][::-1], DENSE_END):
        faults.append("WRONG_STEP_COUNT")
    # At the light end a margin of clear film may lie, too like the first step for an edge to be seen.
    faults += ["CUT_SHORT"] * (not ladder.has_edge[last + 1])
    inner = ladder.has_edge[first + 1 : last + 1]
    faults += ["STEPS_IRREGULAR"] * int((~inner).sum())
    # A step beside which there is no other density is a piece of the surround, not of the tablet.
    faults += ["WRONG_STEP_COUNT"] * sum(ladder.contrast[at] < CONTRAST for at in (first, last))
    faults += ["WRONG_STEP_COUNT"] * _step_beyond(ladder, first, -1, increments[:2], LIGHT_END)
    faults += ["WRONG_STEP_COUNT"] * _step_beyond(ladder, last, 1, increments[-2:][::-1], DENSE_END)
    return faults


def _goes_on(increment: float, neighbours: np.ndarray, limits: tuple[float, float]) -> bool:
    """Whether an increment at an end follows its two neighbours, the nearest first, in proportion."""
    expected = neighbours[0] ** 2 / neighbours[1]
    return limits[0] < increment / expected < limits[1] or abs(increment - expected) < NOISE


def _step_beyond(ladder: Ladder, end: int, way: int, neighbours: np.ndarray, limits) -> bool:
    """Whether one more step of the same kind lies beyond an end."""
    patch = end + way
    far_edge, near_edge = (patch, end) if way < 0 else (patch + 1, patch)
    increment = way * (ladder.value[patch] - ladder.value[end])
    return bool(
        np.isfinite(increment)
        and increment > SMALLEST_INCREMENT
        and ladder.has_edge[near_edge]
        and (ladder.has_edge[far_edge] or way < 0)
        and ladder.contrast[patch] > CONTRAST
        and _goes_on(increment, neighbours, limits)
    )


def _film_faults(ladder: Ladder, first: int, last: int) -> list[str]:
    """Weaker: the steps never lighten by more than noise, and end at the dense side with an edge."""
    increments = np.diff(ladder.value[first : last + 1])
    faults = ["STEPS_IRREGULAR"] * int((increments < -3 * SMALLEST_INCREMENT).sum())
    clear = ladder.has_edge[first + 1 : last + 1] & (increments > SMALLEST_INCREMENT)
    faults += ["TABLET_NOT_FOUND"] * max(0, 5 - int(clear.sum()))
    for index in range(1, increments.size - 1):
        near = np.concatenate([increments[max(index - 2, 0) : index], increments[index + 1 : index + 3]])
        if increments[index] > 2.5 * max(near.max(), 3 * SMALLEST_INCREMENT):
            faults.append("STEPS_IRREGULAR")
    if not ladder.has_edge[last + 1]:
        faults.append("CUT_SHORT")
    if ladder.contrast[last] < CONTRAST:
        faults.append("WRONG_STEP_COUNT")
    if increments[-1] > SMALLEST_INCREMENT:
        faults += ["WRONG_STEP_COUNT"] * _step_beyond(ladder, last, 1, increments[-2:][::-1], DENSE_END)
    return faults


def unevenness(log_level: np.ndarray, band: Band, edges: np.ndarray) -> np.ndarray:
    """How far parts of each step depart from the whole, against what is allowed.

    The steps are cut into three by three parts; what all steps have in common (light that falls off across
    the tablet) is not counted.

    Parameters
    ----------
    log_level : ndarray, shape (h, w) [density of levels]
    band : Band
    edges : ndarray, shape (n + 1,) [view pixels]

    Returns
    -------
    excess : ndarray, shape (n,) [ratio]
        Above 1 where a step is uneven.
    """
    height = band.bottom - band.top
    cuts = np.linspace(band.top + 0.18 * height, band.bottom - 0.18 * height, 4)
    parts = np.empty((edges.size - 1, 3, 3))
    noise = np.empty(edges.size - 1)
    for step, (one, other) in enumerate(pairwise(edges)):
        inset = 0.26 * (other - one)
        sides = np.sort(np.linspace(one + inset, other - inset, 4))
        for row in range(3):
            rows = log_level[int(cuts[row]) : int(cuts[row + 1]) + 1]
            for column in range(3):
                block = rows[:, int(sides[column]) : int(sides[column + 1]) + 1]
                parts[step, row, column] = np.median(block)
        spread = np.median(np.abs(block - parts[step, 2, 2])) * 1.4826
        noise[step] = 1.25 * spread / np.sqrt(block.size) * 2  # neighbouring pixels share their grain
    departure = parts - np.median(parts, axis=(1, 2), keepdims=True)
    departure -= np.median(departure, axis=0, keepdims=True)
    values = np.median(parts, axis=(1, 2))
    increments = np.abs(np.gradient(values))
    allowed = np.maximum(UNEVEN_FLOOR, UNEVEN_SHARE * increments) + UNEVEN_NOISES * noise
    return np.abs(departure).max(axis=(1, 2)) / allowed


WORDS = {
    "CUT_SHORT": "{steps} steps do not all lie within the picture, or the tablet's end is not seen; scan it "
    "whole, with some surround.",
    "STEPS_IRREGULAR": "What looks like a tablet does not darken steadily by {steps} evenly spaced steps; "
    "check the number of steps, and that nothing lies over it.",
    "WRONG_STEP_COUNT": "The tablet seen has not {steps} steps; give the right number, or scan all of it.",
    "TABLET_NOT_FOUND": "No tablet of {steps} steps was found; lay it straight, filling at least a third of "
    "the picture.",
    "STEPS_UNEVEN": "Step {step} is not uniform; see that no other film, tape or shadow lies over the "
    "tablet.",
    "AMBIGUOUS": "The tablet's {steps} steps could stand in two places; scan it with some surround.",
}


def refusal_of(code: str, steps: int, step: int = 0) -> Refusal:
    """The refusal of a code, in words that name the number of steps.

    Parameters
    ----------
    code : str
        Key of `WORDS`.
    steps : int
    step : int
        The step that is meant, from 1.

    Returns
    -------
    Refusal
    """
    return Refusal(code, WORDS[code].format(steps=steps, step=step))
