"""Sharpness from a slanted edge: the MTF, and the frequencies where it falls to 50 % and 10 %.

    report = measure_edge(transmittance, (4000, 4000), limits)
    report.mtf50, report.film_mtf50     # Measures [cycles/mm on the film]

What is measured is the whole rig: target, taking lens, film and scanner. Where the scanner's MTF (and the
lens's) is known and above 0.3 it is divided out; compare like rigs only.

References
----------
ISO 12233:2014, slanted edge. MTF of a cascade is the product of its parts.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from scans.imaging.edge_report import EdgeCurve, EdgeProfile, EdgeReport, film_measures, stated_crossing
from scans.imaging.edge_spread import BINS_PER_PIXEL, FADE, BinSums, bin_pixels, edge_spread, modulation
from scans.imaging.grain import pitch_of
from scans.imaging.measures import Flag, ImagingError
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.slanted_edge import (
    EdgeLight,
    EdgeLine,
    flattened,
    is_nearly_level,
    locate_edge,
    read_light,
)

FREQUENCIES = np.linspace(0, 0.5, 129)  # cycles a pixel, to Nyquist
HALF_WINDOWS = (16, 24, 48, 96)  # pixels; 16 unless tails reach farther
TAIL_TO_TELL = 0.001  # of the contrast missing where the window begins to fade
LEAST_CONTRAST = 5.0  # times the noise of a pixel
WIDEST_GAP = 0.75  # pixels between samples of the spread; beyond, it is not known well enough
COARSE_GAP = 0.4  # pixels; a flag
BOW_TO_TELL = 0.15  # pixels
SLOPE_TO_TELL = 0.05  # relative change of light over the picture
SMALLEST = 24  # pixels along a side
RISE_TO_TELL = 1.05


@dataclass(frozen=True, slots=True)
class _Edge:
    """An upright edge, found and lit evenly."""

    picture: np.ndarray
    line: EdgeLine
    light: EdgeLight
    row_pitch: float  # over the column pitch

    @property
    def cosine(self) -> float:
        return 1 / math.hypot(1, self.line.slope / self.row_pitch)

    @property
    def room(self) -> float:
        """Distance from the edge to the nearer border, at right angles, for the middle half of the rows."""
        rows = np.linspace(self.line.rows.start, self.line.rows.stop - 1, 5)[1:4]
        at = self.line.at(rows)
        return float(min(at.min(), self.picture.shape[1] - 1 - at.max())) * self.cosine

    def sums(self, reach: float) -> BinSums:
        """Pixels within a reach of the edge, by band of rows and distance."""
        rows = np.arange(self.line.rows.start, self.line.rows.stop)
        at = self.line.at(rows)
        half = math.ceil((reach + 1) / self.cosine)
        columns = np.floor(at).astype(int)[:, None] + np.arange(-half, half + 2)
        inside = (columns >= 0) & (columns < self.picture.shape[1])
        values = self.picture[rows[:, None], np.clip(columns, 0, self.picture.shape[1] - 1)].astype(float)
        from_edge = columns - at[:, None]
        values = flattened(values, self.light, from_edge, (rows - rows.mean())[:, None])
        sign = 1 if self.light.is_rising else -1
        return bin_pixels(np.where(inside, sign * from_edge * self.cosine, 1e6), values, reach)


def measure_edge(
    transmittance,
    resolution_ppi: tuple[float, float] | None,
    limits: ScannerLimits | None = None,
    target_lens: ScannerLimits | None = None,
) -> EdgeReport:
    """MTF across a slanted edge between two even areas.

    Parameters
    ----------
    transmittance : array_like, shape (rows, columns) [1]
        Linear, around one edge, upright or level within 45 degrees.
    resolution_ppi : tuple of float, scalar (x, y) [pixels/inch]
        None when not known, which withholds the values.
    limits : ScannerLimits, optional
        With the scanner's MTF.
    target_lens : ScannerLimits, optional
        With the MTF of the lens (and target) that the edge was exposed through, on the film's scale.

    Returns
    -------
    EdgeReport
        Values withheld with ``RESOLUTION_UNKNOWN``, ``TOO_FEW_PIXELS``, ``EDGE_NOT_FOUND``,
        ``NOISE_DOMINATES``, ``ANGLE_UNSUITABLE``, or ``NOT_REACHED`` where the curve does not fall so far
        before Nyquist (the note gives the frequency that it reaches).

    Raises
    ------
    ImagingError
        When the array is not two-dimensional or the resolution is impossible.

    Notes
    -----
    The interval is Student's, from leaving out each of ten bands of rows in turn, so that grain, which is
    not independent from pixel to pixel, counts as it is; 0.3 % of systematic error is added in squares.
    """
    picture = np.asarray(transmittance)
    if picture.ndim != 2 or picture.dtype.kind not in "fiu":
        raise ImagingError("BAD_SHAPE", "An edge is a two-dimensional array of linear transmittances.")
    pitch = pitch_of(resolution_ppi)
    if pitch is None:
        return EdgeReport.withheld("RESOLUTION_UNKNOWN")
    if min(picture.shape) < SMALLEST or not np.isfinite(picture).all():
        return EdgeReport.withheld("TOO_FEW_PIXELS", f"an edge needs {SMALLEST} finite pixels each way")
    if is_nearly_level(picture):
        picture, pitch = picture.T, pitch[::-1]
    edge = _found(picture, pitch)
    if isinstance(edge, EdgeReport):
        return edge
    return _measured(edge, pitch[1], limits, target_lens)


def _found(picture: np.ndarray, pitch: tuple[float, float]) -> _Edge | EdgeReport:
    """The edge, or the report that says why there is none."""
    line = locate_edge(picture)
    light = read_light(picture, line) if line else None
    if light is None or light.dark >= light.bright or light.bright <= 0:
        return EdgeReport.withheld("EDGE_NOT_FOUND")
    if light.contrast_to_noise < LEAST_CONTRAST:
        note = f"the contrast is {light.contrast_to_noise:.1f} times the noise of a pixel"
        return EdgeReport.withheld("NOISE_DOMINATES", note)
    # Less than one pixel from the first row to the last: every row samples the edge at the same places.
    if abs(line.slope) * (line.rows.stop - line.rows.start) < 1:
        return EdgeReport.withheld("ANGLE_UNSUITABLE")
    edge = _Edge(picture, line, light, pitch[0] / pitch[1])
    if edge.room < 8:
        return EdgeReport.withheld("TOO_FEW_PIXELS", "the edge is nearer than 8 pixels to a border")
    return edge


def _measured(edge: _Edge, pitch_um: float, limits, target_lens) -> EdgeReport:
    half, sums, is_cut = _window(edge)
    bands = sums.count.shape[0]
    each = [edge_spread(sums.without(band)) for band in (None, *range(bands))]
    gap = each[0][2]
    if gap > WIDEST_GAP:
        return EdgeReport.withheld("ANGLE_UNSUITABLE", f"samples of the edge lie {gap:.2f} pixels apart")
    spreads, scatters = (np.array([found[i] for found in each]) for i in (0, 1))
    mtf, *others = modulation(spreads, scatters, half, FREQUENCIES)
    frequency = FREQUENCIES * 1000 / pitch_um
    # Between 95 % of Student's and of the normal distribution, as a factor on the standard error.
    widen = float(stdtrit(bands - 1, 0.975)) / 1.959964
    curve = EdgeCurve(frequency, mtf, np.array(others), widen)
    film50, film10, film = film_measures(curve, limits, target_lens, is_cut)
    return EdgeReport(
        stated_crossing("mtf50_cycles_per_mm", curve, 0.5, is_cut),
        stated_crossing("mtf10_cycles_per_mm", curve, 0.1, is_cut),
        film50,
        film10,
        frequency,
        mtf,
        curve.error,
        film,
        math.degrees(math.atan(edge.line.slope / edge.row_pitch)),
        edge.light.contrast_to_noise,
        _flags(edge, half, gap, is_cut, mtf),
        EdgeProfile.of_bands(spreads, BINS_PER_PIXEL / pitch_um, half * pitch_um),
    )


def _window(edge: _Edge) -> tuple[int | float, BinSums, bool]:
    """The narrowest window that holds the edge's tails: half width [pixels], sums, whether tails are cut."""
    widest = max(edge.room - 3, 8)
    for half in [h for h in HALF_WINDOWS if h < widest] or [widest]:
        sums = edge.sums(half + 2)
        if not _has_tails(edge, sums, half):
            return half, sums, False
    return half, sums, True


def _has_tails(edge: _Edge, sums: BinSums, half: float) -> bool:
    """Whether contrast is missing where the window begins to fade, by more than the bands' scatter."""
    middle = sums.count.shape[1] // 2
    inner, outer = (int((half * (1 - FADE) + side) * BINS_PER_PIXEL) for side in (-1, 1))
    dark, bright = slice(middle - outer, middle - inner), slice(middle + inner, middle + outer)
    levels = [
        sums.value[:, part].sum(axis=1) / np.maximum(sums.count[:, part].sum(axis=1), 1)
        for part in (dark, bright)
    ]
    missing = 1 + levels[0] - levels[1]
    # Grain is alike from pixel to pixel, so that bands of rows scatter more than white noise would.
    white = math.sqrt(2 / sums.count[:, dark].sum()) / edge.light.contrast_to_noise
    error = max(float(missing.std(ddof=1)) / math.sqrt(missing.size), white)
    return abs(float(missing.mean())) > max(TAIL_TO_TELL, 5 * error)


def _flags(edge: _Edge, half: float, gap: float, is_cut: bool, mtf: np.ndarray) -> tuple[Flag, ...]:
    light, line = edge.light, edge.line
    change = abs(light.slope_x) * edge.picture.shape[1] + abs(light.slope_y) * edge.picture.shape[0]
    bent = abs(line.bow_px)
    found = (
        (change > SLOPE_TO_TELL, "LIGHT_TAKEN_OFF", f"The light changed by {change:.0%} over the picture."),
        (is_cut, "TAILS_CUT", f"Tails reach beyond {half:.0f} pixels, as far as the picture allows."),
        (half > HALF_WINDOWS[0] and not is_cut, "LONG_TAILS", f"Tails reach {half:.0f} pixels."),
        (gap > COARSE_GAP, "RATIONAL_ANGLE", f"Samples of the edge lie {gap:.2f} pixels apart."),
        (bent > max(BOW_TO_TELL, 4 * line.bow_error_px), "EDGE_BENT", f"It bows by {bent:.2f} pixels."),
        (float(mtf.max()) > RISE_TO_TELL, "EDGE_EFFECT", f"The curve rises to {float(mtf.max()):.2f}."),
    )
    return tuple(Flag(code, text) for holds, code, text in found if holds)
