"""Reading areas of a scan: mean transmittance robust to dust and scratches, density, spread, flags."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from scans.imaging.calibrate import Calibration, StepLevels
from scans.imaging.measures import Flag, ImagingError, Measure, withheld
from scans.imaging.picture import Picture

FEWEST_PIXELS = 100
MOST_PIXELS = 40_000
"""Of a larger area every second, third … pixel each way is read: more would not narrow the result."""
PIXEL_LIMIT, BLOCK_LIMIT = 4.5, 4.0
"""Robust standard deviations beyond which a pixel, or the mean of a block, is dust or a scratch."""
BLOCK = 6
MUCH_LEFT_OUT = 0.02
SATURATED_SHARE = 0.001
NEARLY_WHITE = 0.998
UNEVEN_SIGMAS, UNEVEN_FLOOR = 6.0, 0.02
HALF_WIDTH = 1.959964
AT_THE_END = 0.005
"""How far beyond the first or last step still counts as that step: less than its own error [density]."""


@dataclass(frozen=True, eq=False)
class Area:
    """A four-cornered part of a scan.

    Parameters
    ----------
    label : str
    corners : ndarray, shape (4, 2) [pixels]
        (x, y) in order around it.
    """

    label: str
    corners: np.ndarray

    def __post_init__(self):
        corners = np.asarray(self.corners, float)
        if corners.shape != (4, 2) or not np.isfinite(corners).all():
            raise ImagingError("BAD_AREA", "An area has four corners with finite x and y.")
        object.__setattr__(self, "corners", corners)

    @property
    def centre(self) -> tuple[float, float]:
        """Mean of the corners (x, y) [pixels]."""
        x, y = self.corners.mean(axis=0)
        return float(x), float(y)


@dataclass(frozen=True)
class AreaReading:
    """What was read of an area.

    Parameters
    ----------
    area : Area
    level : float
        Mean level of the usable pixels [level]; NaN when there are too few.
    level_error : float
        Its standard error, from the spread of blocks [level].
    level_spread : float
        Standard deviation of single pixels [level].
    usable_pixels : int
    left_out : float
        Share of pixels that were left out as dust or scratches [fraction].
    transmittance, density : Measure
    density_spread : Measure
        Standard deviation of one pixel's density, the scanner's noise in it.
    flags : tuple of Flag
    """

    area: Area
    level: float
    level_error: float
    level_spread: float
    usable_pixels: int
    left_out: float
    transmittance: Measure
    density: Measure
    density_spread: Measure
    flags: tuple[Flag, ...]

    def to_dict(self) -> dict:
        """The reading as plain JSON values."""
        return {
            "label": self.area.label,
            "location": [[round(float(x), 2), round(float(y), 2)] for x, y in self.area.corners],
            "level": None if math.isnan(self.level) else round(self.level, 2),
            "usable_pixels": self.usable_pixels,
            "left_out": round(self.left_out, 5),
            "transmittance": self.transmittance.to_dict(),
            "density": self.density.to_dict(),
            "density_spread": self.density_spread.to_dict(),
            "flags": [flag.to_dict() for flag in self.flags],
        }


def read_areas(picture: Picture, areas, calibration: Calibration | None = None) -> list[AreaReading]:
    """Read areas of a scan.

    The caller has checked that the calibration is valid for the scan (`Calibration.refusal_for`).

    Parameters
    ----------
    picture : Picture
        A measurable one.
    areas : sequence of Area
    calibration : Calibration, optional
        Without one the levels are read and every transmittance and density is withheld.

    Returns
    -------
    list of AreaReading
    """
    if picture.refusal is not None:
        raise ImagingError("NOT_MEASURABLE", picture.refusal.text)
    table = None if calibration is None else calibration.response.transmittance_table(picture.white_level)
    return [_read(picture, area, calibration, table) for area in areas]


def step_levels(readings) -> StepLevels:
    """The levels of the steps of a tablet, for a calibration.

    Parameters
    ----------
    readings : sequence of AreaReading

    Returns
    -------
    StepLevels
    """
    return StepLevels(
        level=[reading.level for reading in readings],
        standard_error=[reading.level_error for reading in readings],
        spread=[reading.level_spread for reading in readings],
    )


def _read(picture: Picture, area: Area, calibration: Calibration | None, table) -> AreaReading:
    levels, inside = _cut_out(picture.plane, area.corners)
    usable = inside & ~_dirt(levels, inside)
    total, count = int(inside.sum()), int(usable.sum())
    if count < FEWEST_PIXELS:
        return _without(area, count)
    mean, error, spread = _statistics(levels, usable)
    flags = _flags(levels, usable, total, count, picture.white_level)
    transmittance, density, density_spread = _all_withheld("UNCALIBRATED")
    if any(flag.code == "SATURATED" for flag in flags):
        transmittance, density, density_spread = _all_withheld("SATURATED")
    elif calibration is not None:
        transmittance, density, density_spread = _calibrated(
            table[levels], usable, mean, error, spread, calibration
        )
        high = calibration.usable_high
        if density.value is not None and high.high is not None and density.value > high.value:
            text = f"Density {density.value:.2f} is beyond {high.value:.2f}, where noise takes over."
            flags.append(Flag("ABOVE_USABLE_RANGE", text))
    return AreaReading(
        area=area,
        level=mean,
        level_error=error,
        level_spread=spread,
        usable_pixels=count,
        left_out=1 - count / total,
        transmittance=transmittance,
        density=density,
        density_spread=density_spread,
        flags=tuple(flags),
    )


def _all_withheld(reason: str) -> tuple[Measure, Measure, Measure]:
    return (
        withheld("transmittance", reason, "fraction"),
        withheld("density", reason, "density"),
        withheld("density_spread", reason, "density"),
    )


def _without(area: Area, count: int) -> AreaReading:
    nan = float("nan")
    return AreaReading(area, nan, nan, nan, count, 0.0, *_all_withheld("TOO_FEW_PIXELS"), ())


def _cut_out(plane: np.ndarray, corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Levels of the box around an area, thinned when large, and which of them lie inside the corners."""
    height, width = plane.shape
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 1, (width, height))
    if np.any(high <= low):
        return np.empty((0, 0), np.uint16), np.zeros((0, 0), bool)
    every = math.ceil(math.sqrt(np.prod(high - low) / MOST_PIXELS))
    levels = np.ascontiguousarray(plane[low[1] : high[1] : every, low[0] : high[0] : every])
    levels = levels.astype(levels.dtype.newbyteorder("="), copy=False)
    y = (low[1] + every * np.arange(levels.shape[0]))[:, None]
    x = (low[0] + every * np.arange(levels.shape[1]))[None, :]
    sides = []
    for (x0, y0), (x1, y1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        sides.append((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0))
    sides = np.array(sides)
    return levels, np.all(sides >= 0, axis=0) | np.all(sides <= 0, axis=0)


def _dirt(levels: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """Pixels, and blocks of pixels, too far from the rest; the blocks find what is faint and wide."""
    if inside.sum() < FEWEST_PIXELS:
        return np.zeros_like(inside)
    centre = float(np.median(levels[inside]))
    # Outlying both as level and as density: grain is lopsided in the one, noise in the dark in the other.
    dirty = _outlying(levels - centre, inside, 1.0)
    if dirty.any():
        ratio = np.log(np.maximum(levels, 0.5) / max(centre, 0.5))
        dirty &= _outlying(ratio, inside, 1.0 / max(centre, 1.0))
    means, whole = _block_means(levels, inside & ~dirty)
    known = np.isfinite(means)
    if known.sum() >= 12:
        middle = np.median(means[known])
        block_sigma = max(float(np.median(np.abs(means[known] - middle))) * 1.4826, 0.5)
        bad = known & (np.abs(means - middle) > BLOCK_LIMIT * block_sigma + 0.002 * centre)
        dirty[: whole[0], : whole[1]] |= np.kron(bad, np.ones((BLOCK, BLOCK), bool))
    return dirty


def _outlying(departure: np.ndarray, inside: np.ndarray, least: float) -> np.ndarray:
    size = np.abs(departure)
    return size > PIXEL_LIMIT * max(float(np.median(size[inside])) * 1.4826, least)


def _block_means(levels, usable):
    """Mean of each block, NaN where less than half is usable; and the rows and columns covered."""
    rows, columns = levels.shape[0] // BLOCK, levels.shape[1] // BLOCK
    cut = (slice(0, rows * BLOCK), slice(0, columns * BLOCK))
    shape = (rows, BLOCK, columns, BLOCK)
    counts = usable[cut].reshape(shape).sum(axis=(1, 3))
    sums = np.where(usable[cut], levels[cut], 0).reshape(shape).sum(axis=(1, 3), dtype=float)
    means = np.divide(sums, counts, out=np.full(counts.shape, np.nan), where=counts > BLOCK * BLOCK / 2)
    return means, (rows * BLOCK, columns * BLOCK)


def _statistics(levels, usable) -> tuple[float, float, float]:
    """Mean, its standard error and the pixels' standard deviation [level].

    The error comes from the scatter of blocks, since neighbouring pixels share grain and optics.
    """
    values = levels[usable].astype(float)
    means, _ = _block_means(levels, usable)
    means = means[np.isfinite(means)]
    spread = float(values.std(ddof=1))
    if means.size >= 12:
        error = float(means.std(ddof=1) / math.sqrt(means.size))
    else:
        error = spread / math.sqrt(values.size) * BLOCK
    return float(values.mean()), max(error, 0.3 / math.sqrt(values.size)), spread


def _flags(levels, usable, total: int, count: int, white_level: int) -> list[Flag]:
    flags = []
    white = int((levels[usable] >= NEARLY_WHITE * white_level).sum())
    if white > SATURATED_SHARE * count:
        flags.append(Flag("SATURATED", f"{white / count:.1%} of the pixels stand at the scanner's limit."))
    left_out = 1 - count / total
    if left_out > MUCH_LEFT_OUT:
        flags.append(Flag("DUST_LEFT_OUT", f"{left_out:.1%} of the pixels were left out as dust."))
    means, _ = _block_means(levels, usable)
    difference = _largest_half_difference(means)
    if difference is not None:
        flags.append(Flag("UNEVEN", f"The halves' levels differ by {difference:.1%}."))
    return flags


def _largest_half_difference(means: np.ndarray) -> float | None:
    """Difference between halves of an area relative to its level, where it is more than grain explains."""
    rows, columns = means.shape[0] // 2, means.shape[1] // 2
    if rows < 2 or columns < 2:
        return None
    middle = float(np.nanmean(means))
    halves = ((means[:rows], means[-rows:]), (means[:, :columns], means[:, -columns:]))
    differences = [abs(float(np.nanmean(one) - np.nanmean(other))) for one, other in halves]
    scatter = float(np.nanstd(means)) * math.sqrt(4 / np.isfinite(means).sum())
    largest = max(differences)
    limit = max(UNEVEN_SIGMAS * scatter, UNEVEN_FLOOR * math.log(10) * middle)
    return largest / middle if largest > limit else None


def _calibrated(light, usable, mean, error, spread, calibration: Calibration):
    """Transmittance, density and spread by the calibration, or why not."""
    response = calibration.response
    transmittance = float(light[usable].mean())
    # The table goes on beyond the steps for the sake of noise; a mean out there is not read.
    lightest, densest = calibration.lowest_density, calibration.highest_density
    if transmittance > 10.0 ** -(lightest - AT_THE_END):
        return _all_withheld("BELOW_RANGE")
    if transmittance < 10.0 ** -(densest + AT_THE_END):
        return _all_withheld("EXTRAPOLATED")
    density = -math.log10(transmittance)
    at = float(response.level_at(min(max(density, lightest), densest)))
    _, curve_error = response.density_at(at)
    slope = abs(float(np.interp(at, response.level, np.gradient(response.density, response.level))))
    half = HALF_WIDTH * math.hypot(float(curve_error), slope * error)
    note = "mean of transmittance; specular-like, of this scanner"
    return (
        Measure(
            "transmittance",
            transmittance,
            low=transmittance * 10.0**-half,
            high=transmittance * 10.0**half,
            unit="fraction",
            note=note,
        ),
        Measure("density", density, low=density - half, high=density + half, unit="density", note=note),
        Measure(
            "density_spread",
            slope * spread,
            unit="density",
            note="of one pixel, the scanner's noise in it; no granularity",
        ),
    )
