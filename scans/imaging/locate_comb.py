"""Where the steps of a tablet lie in a straightened view: first the rows it fills, then its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

BAND_ROWS = 8
EDGE_SIGMA_PX = 1.2
SMALLEST_PITCH_PX = 6.0
SHORTEST = 0.3
"""Length of the shortest tablet that is looked for, as a share of the view."""
FEWEST_EDGES, MANY_EDGES = 5, 18
TALLEST = 2.5
"""Height of an edge against the median of all beyond which it is a border and no step's edge [ratio]."""
TOO_STEEP = 0.16
"""The edge of a step of 0.4 D, blurred as here [density per pixel]."""
LARGEST_LEAN, LEAN_STEP = 0.16, 0.004
"""Leans that are tried [pixels a row]: 9 degrees, in steps of a quarter of one."""


@dataclass(frozen=True)
class Band:
    """The rows that a tablet fills, and its profile along them.

    Parameters
    ----------
    top, bottom : float
        First and last row [view pixels].
    profile : ndarray, shape (w,) [density]
        Median log level down the rows, without the outer fifth at each long edge.
    edge : ndarray, shape (w,) [density per pixel]
        Its slope.
    noise : float
        Spread of the slope where there is no edge [density per pixel].
    """

    top: float
    bottom: float
    profile: np.ndarray
    edge: np.ndarray
    noise: float


@dataclass(frozen=True)
class Comb:
    """Edges of the steps: ``places[k]`` is the edge before step k, lightest step first.

    Parameters
    ----------
    places : ndarray, shape (n + 1,) [view pixels]
        Rising, or falling when the tablet darkens towards the left.
    score : float
        Mean over the inner edges of how clearly each is seen, less what is seen between them [ratio].
    """

    places: np.ndarray
    score: float


def find_band(log_level: np.ndarray) -> Band | None:
    """Rows whose pattern of upright edges is the picture's strongest common one.

    Parameters
    ----------
    log_level : ndarray, shape (h, w) [density]

    Returns
    -------
    Band or None
        None when no rows share a pattern.
    """
    height, width = log_level.shape
    count = height // BAND_ROWS
    if count < 3 or width < 40:
        return None
    bands = log_level[: count * BAND_ROWS].reshape(count, BAND_ROWS, width).mean(axis=1)
    pressed = _pressed(bands)
    values, vectors = np.linalg.eigh(pressed @ pressed.T)
    share = vectors[:, -1] * np.sign(vectors[:, -1].sum())
    best = int(np.argmax(share))
    if values[-1] <= 0 or share[best] <= 0:
        return None
    pattern = share @ pressed
    alike = pressed @ pattern
    rows = _run_around(alike > 0.45 * np.median(alike[alike > 0.7 * alike.max()]), best)
    top, bottom = _exact_rows(log_level, pattern, rows[0] * BAND_ROWS, (rows[1] + 1) * BAND_ROWS)
    inset = 0.2 * (bottom - top)
    inner = log_level[int(top + inset) : int(np.ceil(bottom - inset)) + 1]
    if inner.shape[0] < 3:
        return None
    profile = np.median(inner, axis=0)
    edge = ndimage.gaussian_filter1d(profile, EDGE_SIGMA_PX, order=1)
    noise = float(np.median(np.abs(edge - np.median(edge))) * 1.4826)
    return Band(float(top), float(bottom), profile, edge, noise)


def lean_of(log_level: np.ndarray, band: Band) -> float:
    """How far the edges within a band lean: the angle at which its rows, shifted, add up to most.

    Parameters
    ----------
    log_level : ndarray, shape (h, w) [density]
    band : Band

    Returns
    -------
    angle : float
        To turn the view on by, so that they stand upright [degrees].
    """
    rows = np.arange(int(band.top), int(band.bottom) - BAND_ROWS // 2, BAND_ROWS // 2)
    if rows.size < 3:
        return 0.0
    bands = np.array([log_level[row : row + BAND_ROWS // 2].mean(axis=0) for row in rows])
    pressed = _pressed(bands)
    lever = rows - rows.mean()
    leans = np.arange(-LARGEST_LEAN, LARGEST_LEAN + LEAN_STEP / 2, LEAN_STEP)
    columns = np.arange(bands.shape[1])
    energy = []
    for lean in leans:
        shifted = (columns[None, :] + np.rint(lean * lever)[:, None].astype(int)) % columns.size
        energy.append(np.square(np.take_along_axis(pressed, shifted, axis=1).sum(axis=0)).sum())
    best = int(np.argmax(ndimage.gaussian_filter1d(energy, 1.0)))
    return float(-np.rad2deg(np.arctan(leans[best])))


def _pressed(rows: np.ndarray) -> np.ndarray:
    """Slope along each row, pressed into -1 to 1 so that every clear edge counts alike.

    What is steeper than any step's edge is blanked with its surroundings: the borders of holder and film,
    which may be longer than the tablet's own edges and lie at another angle.
    """
    slope = ndimage.gaussian_filter1d(rows, EDGE_SIGMA_PX, axis=1, order=1)
    size = np.abs(slope)
    noise = np.median(size, axis=1, keepdims=True) * 1.4826
    pressed = np.tanh(slope / np.maximum(5 * noise, 0.004))
    pressed[ndimage.maximum_filter1d(size, 7, axis=1) > TOO_STEEP] = 0.0
    return pressed


def _run_around(marked: np.ndarray, start: int) -> tuple[int, int]:
    """First and last index of the run of true values around a place; single gaps are bridged."""
    bridged = ndimage.binary_closing(np.pad(marked, 2), np.ones(3))[2:-2]
    first = last = start
    while first > 0 and bridged[first - 1]:
        first -= 1
    while last < marked.size - 1 and bridged[last + 1]:
        last += 1
    return first, last


def _exact_rows(log_level, pattern, top: int, bottom: int) -> tuple[float, float]:
    """Rows where the likeness to the pattern falls to half, to the pixel."""
    height = log_level.shape[0]
    first, last = max(top - 2 * BAND_ROWS, 0), min(bottom + 2 * BAND_ROWS, height)
    alike = ndimage.uniform_filter1d(_pressed(log_level[first:last]) @ pattern, 3)
    inside = alike > 0.5 * np.median(alike[top - first : bottom - first])
    run = _run_around(inside, int(np.clip((top + bottom) // 2 - first, 0, inside.size - 1)))
    return first + run[0], first + run[1]


def find_comb(band: Band, steps: int) -> Comb | None:
    """The best comb of evenly spaced edges, in the direction that most edges darken.

    Parameters
    ----------
    band : Band
    steps : int

    Returns
    -------
    Comb or None
        None when no edge is clear or the view is too small for so many steps.
    """
    seen = _clearness(band)
    is_rising = seen.sum() >= 0
    signed = seen if is_rising else -seen[::-1]
    found = _best_comb(signed, steps)
    if found is None:
        return None
    places = _refined(found, band.edge if is_rising else -band.edge[::-1], signed)
    return Comb(places if is_rising else band.edge.size - 1 - places, _score(signed, places))


def moved(band: Band, comb: Comb, steps_on: int) -> Comb:
    """The comb moved on by whole steps towards the dense side and settled on the edges there.

    Parameters
    ----------
    band : Band
    comb : Comb
    steps_on : int

    Returns
    -------
    Comb
    """
    is_rising = comb.places[-1] > comb.places[0]
    last = band.edge.size - 1
    seen = _clearness(band)
    signed = seen if is_rising else -seen[::-1]
    edge = band.edge if is_rising else -band.edge[::-1]
    places = comb.places if is_rising else last - comb.places
    for _ in range(abs(steps_on)):
        if steps_on > 0:
            places = np.append(places[1:], 2 * places[-1] - places[-2])
        else:
            places = np.append(2 * places[0] - places[1], places[:-1])
    places = _refined(places, edge, signed)
    return Comb(places if is_rising else last - places, _score(signed, places))


def _clearness(band: Band) -> np.ndarray:
    """Slope pressed into -1 to 1 by what half of the steps' edges are likely to have."""
    size = np.abs(band.edge)
    strong = size[size > 4 * band.noise + 1e-4]
    typical = np.median(strong) if strong.size else 1.0
    return np.tanh(2 * np.where(size > 3 * band.noise, band.edge, 0) / max(typical, 1e-4))


def _best_comb(signed: np.ndarray, steps: int) -> np.ndarray | None:
    """Places of the edges, from a search over pitch and start; shape (steps + 1,)."""
    width = signed.size
    against = ndimage.minimum_filter1d(np.minimum(signed, 0), 3)
    gaps = ndimage.uniform_filter1d(np.abs(signed), 3)
    best, best_places = -np.inf, None
    pitch = max(SMALLEST_PITCH_PX, SHORTEST * width / steps)
    while pitch <= (width + 2) / steps:
        # Teeth wide enough for the perspective that is not searched, and for the next pitch tried.
        pull = ndimage.maximum_filter1d(np.maximum(signed, 0), 2 * int(pitch / 8) + 3) + against
        places = pitch * np.arange(steps + 1)
        starts = np.arange(-int(0.2 * pitch), int(width + 0.4 * pitch - places[-1]), 2)
        if starts.size:
            inner = np.clip(np.rint(places[1:-1, None] + starts).astype(np.int32), 0, width - 1)
            between = np.clip(inner[:-1] + int(pitch / 2), 0, width - 1)
            score = pull[inner].mean(axis=0) - gaps[between].mean(axis=0)
            at = int(np.argmax(score))
            if score[at] > best:
                best, best_places = float(score[at]), places + starts[at]
        pitch += 3.0 / steps
    return best_places


def _refined(places: np.ndarray, edge: np.ndarray, signed: np.ndarray) -> np.ndarray:
    """Each clear inner edge to its steepest point; a smooth curve of them over the step numbers."""
    index = np.arange(places.size)
    for degree, reach_share in ((2, 0.4), (2 if places.size < MANY_EDGES else 3, 0.3)):
        found = np.full(places.size, np.nan)
        for k in range(1, places.size - 1):
            reach = reach_share * abs(places[k + 1] - places[k - 1]) / 2
            found[k] = _steepest(edge, signed, places[k], reach)
        good = np.isfinite(found)
        if good.sum() < FEWEST_EDGES:
            return places
        heights = np.abs(edge[np.clip(np.rint(np.where(good, found, 0)).astype(int), 0, edge.size - 1)])
        good &= heights < TALLEST * np.median(heights[good])
        found[~good] = np.nan
        for _ in range(2):
            fit = np.polynomial.Polynomial.fit(index[good], found[good], min(degree, good.sum() - 3))
            off = np.abs(found - fit(index))
            limit = max(3 * 1.4826 * np.median(off[good]), 0.6)
            good = np.isfinite(found) & (off < limit)
            if good.sum() < FEWEST_EDGES:
                return places
        places = fit(index)
    return places


def _steepest(edge: np.ndarray, signed: np.ndarray, place: float, reach: float) -> float:
    low, high = int(np.ceil(place - reach)), int(np.floor(place + reach)) + 1
    low, high = max(low, 1), min(high, edge.size - 1)
    if high <= low:
        return np.nan
    at = low + int(np.argmax(edge[low:high]))
    if signed[at] < 0.2:
        return np.nan
    before, here, after = edge[at - 1], edge[at], edge[at + 1]
    curvature = before - 2 * here + after
    return at + (0.5 * (before - after) / curvature if curvature < 0 else 0.0)


def _score(signed: np.ndarray, places: np.ndarray) -> float:
    near = ndimage.maximum_filter1d(np.maximum(signed, 0), 5) + ndimage.minimum_filter1d(
        np.minimum(signed, 0), 3
    )
    inner = np.clip(np.rint(places[1:-1]).astype(int), 0, signed.size - 1)
    between = np.clip(np.rint((places[1:-2] + places[2:-1]) / 2).astype(int), 0, signed.size - 1)
    return float(near[inner].mean() - np.abs(signed)[between].mean())
