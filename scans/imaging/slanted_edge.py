"""Where a slanted edge lies in a picture: its line, its light, and each pixel's distance from it.

The edge is nearly upright here (the caller turns the picture). Light that falls off over the picture is
taken off first: a slope common to both sides, from the pixels far from the edge.

References
----------
ISO 12233:2014, 6.2: centroid of the derivative row by row, straight line, repeated with the window centred.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

COARSE_ROWS = 96
SMOOTH = 5  # pixels, for the first look
CENTROID_REACH = 10  # pixels on either side of the line, for the second
PLATEAU = 16  # pixels from the edge that even halation hardly reaches
SAMPLES = 20_000  # pixels that are enough for the light


@dataclass(frozen=True, slots=True)
class EdgeLine:
    """The edge as a straight line ``x = start + slope * row``.

    Parameters
    ----------
    start, slope : float, scalar [pixels], [pixels per row]
    bow_px : float, scalar [pixels]
        How far its middle stands off the line through its ends, by a parabola.
    bow_error_px : float, scalar [pixels]
        Standard error of that.
    rows : slice
        Rows on which the edge and some of both its sides lie in the picture.
    """

    start: float
    slope: float
    bow_px: float
    bow_error_px: float
    rows: slice

    def at(self, rows: np.ndarray) -> np.ndarray:
        """Place of the edge, shape of ``rows`` [pixels]."""
        return self.start + self.slope * rows


@dataclass(frozen=True, slots=True)
class EdgeLight:
    """The two levels beside the edge and how the light falls off.

    Parameters
    ----------
    dark, bright : float, scalar [transmittance]
        Levels far from the edge, left to right reversed where need be.
    noise : float, scalar [transmittance]
        Standard deviation of a pixel there.
    slope_x, slope_y : float, scalar [1/pixel]
        Relative change of light; zero where too little of the picture lies beyond the edge.
    is_rising : bool
        Whether the bright side is on the right.
    """

    dark: float
    bright: float
    noise: float
    slope_x: float
    slope_y: float
    is_rising: bool

    @property
    def contrast_to_noise(self) -> float:
        """Difference of the levels over a pixel's noise, scalar [1]."""
        return (self.bright - self.dark) / max(self.noise, 1e-12)


def is_nearly_level(picture: np.ndarray) -> bool:
    """Whether the edge lies nearer to level than upright, by the profiles across, shape (h, w) [any unit]."""
    small = picture[:: max(1, picture.shape[0] // 256), :: max(1, picture.shape[1] // 256)]
    return float(np.ptp(small.mean(axis=1))) > float(np.ptp(small.mean(axis=0)))


def locate_edge(picture: np.ndarray) -> EdgeLine | None:
    """The line of a nearly upright edge in a picture of shape (h, w) [transmittance]; None without one."""
    sign = 1.0 if _rises(picture) else -1.0
    found = _coarse_line(picture, sign)
    if found is None:
        return None
    for _ in range(3):
        rows = _rows_inside(found, picture.shape)
        if rows.stop - rows.start < 8:
            return None
        centroid, usable = _centroids(picture, found, rows, sign)
        if np.count_nonzero(usable) < 0.5 * usable.size:
            return None
        at = np.arange(rows.start, rows.stop)[usable]
        found = _fitted(at, centroid[usable], rows)
    return found


def read_light(picture: np.ndarray, line: EdgeLine) -> EdgeLight | None:
    """Levels, noise and fall of the light from the pixels far from the edge.

    Parameters
    ----------
    picture : ndarray, shape (rows, columns) [transmittance]
    line : EdgeLine

    Returns
    -------
    EdgeLight or None
        None where fewer than 50 pixels lie far from the edge on a side.
    """
    height, width = picture.shape
    step = max(1, round(height * width / SAMPLES))
    rows = np.arange(line.rows.start, line.rows.stop, max(1, min(step, height // 40)))
    columns = np.arange(0, width, max(1, step // max(1, height // 40)))
    distance = columns - line.at(rows)[:, None]
    # Half the way to each border, so that a long tail is not taken for a slope, but 16 pixels if there are.
    left, right = (max(8.0, min(PLATEAU, room - 4), room / 2) for room in (-distance.min(), distance.max()))
    sides = [distance < -left, distance > right]
    if min(np.count_nonzero(side) for side in sides) < 50:
        return None
    values = picture[rows[:, None], columns].astype(float)
    levels = [float(np.median(values[side])) for side in sides]
    if min(levels) <= 0 and max(levels) <= 0:
        return None
    return _fit_light(values, sides, levels, distance, (rows - rows.mean())[:, None])


def flattened(values: np.ndarray, light: EdgeLight, from_edge: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Values with the fall of light taken off and the levels at 0 and 1.

    Parameters
    ----------
    values : ndarray, shape (rows, n) [transmittance]
    light : EdgeLight
    from_edge : ndarray, shape (rows, n) [pixels]
        Distance along the row.
    rows : ndarray, shape (rows, 1) [pixels]
        Distance from the middle row.

    Returns
    -------
    ndarray, shape (rows, n) [1]
        0 on the dark, 1 on the bright side.
    """
    even = values / (1 + light.slope_x * from_edge + light.slope_y * rows)
    return (even - light.dark) / (light.bright - light.dark)


def _rises(picture: np.ndarray) -> bool:
    quarter = max(1, picture.shape[1] // 4)
    step = max(1, picture.shape[0] // 256)
    return float(picture[::step, -quarter:].mean()) > float(picture[::step, :quarter].mean())


def _coarse_line(picture: np.ndarray, sign: float) -> EdgeLine | None:
    step = max(1, picture.shape[0] // COARSE_ROWS)
    rows = np.arange(step // 2, picture.shape[0], step)
    smooth = ndimage.uniform_filter1d(picture[rows].astype(float), SMOOTH, axis=1)
    # The steepest place of each row, over as many pixels as are smoothed.
    rise = sign * (smooth[:, SMOOTH:] - smooth[:, :-SMOOTH])
    place = rise.argmax(axis=1) + SMOOTH / 2
    slopes = _pairwise_slopes(rows, place)
    slope = float(np.median(slopes))
    start = float(np.median(place - slope * rows))
    near = np.abs(place - start - slope * rows) < 3
    if np.count_nonzero(near) < max(6, 0.4 * rows.size):
        return None
    fit = np.polynomial.polynomial.polyfit(rows[near], place[near], 1)
    return EdgeLine(float(fit[0]), float(fit[1]), 0.0, 0.0, slice(0, picture.shape[0]))


def _pairwise_slopes(rows: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Slopes of all pairs at least a quarter of the height apart (Theil and Sen)."""
    apart = rows[None, :] - rows[:, None]
    far = apart > np.ptp(rows) / 4
    return ((place[None, :] - place[:, None])[far]) / apart[far]


def _rows_inside(line: EdgeLine, shape: tuple[int, int]) -> slice:
    rows = np.arange(shape[0])
    at = line.at(rows)
    inside = np.flatnonzero((at > CENTROID_REACH + 2) & (at < shape[1] - CENTROID_REACH - 3))
    return slice(int(inside[0]), int(inside[-1]) + 1) if inside.size else slice(0, 0)


def _centroids(picture: np.ndarray, line: EdgeLine, rows: slice, sign: float):
    """Centroid of each row's derivative in a window that fades to its ends, on the line so far."""
    at = line.at(np.arange(rows.start, rows.stop))
    first = np.floor(at).astype(int) - CENTROID_REACH
    columns = first[:, None] + np.arange(2 * CENTROID_REACH + 2)
    values = picture[np.arange(rows.start, rows.stop)[:, None], columns].astype(float)
    between = columns[:, :-1] + 0.5 - at[:, None]
    weight = np.cos(np.clip(between / CENTROID_REACH, -1, 1) * math.pi / 2) ** 2
    rise = sign * np.diff(values, axis=1) * weight
    total = rise.sum(axis=1)
    usable = total > 0.3 * np.median(total) if np.median(total) > 0 else np.zeros(total.shape, dtype=bool)
    shift = (rise * between).sum(axis=1) / np.where(usable, total, 1)
    # A window that fades pulls the centroid to its middle; the passes that follow make up for it.
    return at + np.clip(shift, -CENTROID_REACH / 2, CENTROID_REACH / 2), usable


def _fitted(rows: np.ndarray, place: np.ndarray, inside: slice) -> EdgeLine:
    """Least squares, rows off by more than four robust deviations left out; and a parabola beside it."""
    kept = np.ones(rows.shape, dtype=bool)
    for _ in range(3):
        line = np.polynomial.polynomial.polyfit(rows[kept], place[kept], 1)
        off = place - line[0] - line[1] * rows
        kept = np.abs(off) <= 4 * 1.4826 * np.median(np.abs(off)) + 1e-3
    half = max(np.ptp(rows) / 2, 1)
    u = (rows[kept] - rows.mean()) / half
    bend = u**2 - np.mean(u**2)
    bow = float(bend @ off[kept] / (bend @ bend))
    error = float(np.std(off[kept]) / math.sqrt(bend @ bend))
    return EdgeLine(float(line[0]), float(line[1]), bow, error, inside)


def _fit_light(values, sides, levels, distance, rows) -> EdgeLight:
    """Levels and one relative slope for both sides, by least squares weighted with the level squared."""
    columns, right = [], []
    for index, (side, level) in enumerate(zip(sides, levels, strict=True)):
        count = np.count_nonzero(side)
        own = np.zeros((count, 4))
        own[:, index] = level
        own[:, 2] = level * distance[side]
        own[:, 3] = level * np.broadcast_to(rows, values.shape)[side]
        columns.append(own)
        right.append(values[side] - level)
    design, target = np.vstack(columns), np.concatenate(right)
    scale = np.abs(design).max(axis=0) + 1e-30
    found = np.linalg.lstsq(design / scale, target, rcond=None)[0] / scale
    off = target - design @ found
    noise = float(np.sqrt(np.mean(off**2)))
    left, on_right = (level * (1 + found[i]) for i, level in enumerate(levels))
    dark, bright = sorted((left, on_right))
    slopes = float(found[2]), float(found[3])
    return EdgeLight(float(dark), float(bright), noise, *slopes, bool(on_right > left))
