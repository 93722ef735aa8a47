"""What the pages of scans draw: figures with the table of the same numbers beside each."""

from dataclasses import dataclass, field

from labsite.templatetags.measures import interval_text, number_text
from scans.figures.edge import mtf_figure, profile_figure
from scans.figures.grain import granularity_figure, noise_power_figure
from scans.imaging.flags import REASONS

UNITS = {"1000 D": ""}  # the heading says × 1000

EDGE_TITLES = {
    "mtf50_cycles_per_mm": "Half modulation (MTF50), everything together",
    "mtf10_cycles_per_mm": "A tenth of it (MTF10), everything together",
    "film_mtf50_cycles_per_mm": "MTF50 without the scanner",
    "film_mtf10_cycles_per_mm": "MTF10 without the scanner",
}
MOST_ROWS = 24
CELLS_2D = 8
NO_PROFILE = {"place_um": [], "level": [], "error": []}
"""Of edges that were measured before their profile was kept."""
ON_THE_RISE = 0.005


@dataclass(frozen=True)
class Said:
    """A stored measure in words: value with interval, or the reason why there is none."""

    title: str
    text: str
    unit: str
    interval: str
    reason: str
    note: str


def said(title: str, measure: dict, decimals: int = 1) -> Said:
    """A measure as people read it; a bound says so before its number."""
    value, low, high = measure["value"], measure["low"], measure["high"]
    if value is None:
        return Said(title, "", "", "", REASONS.get(measure["reason"], "withheld"), measure["note"])
    bound = "≥ " if high is None and low is not None else "≤ " if low is None and high is not None else ""
    return Said(
        title,
        bound + number_text(value, decimals),
        UNITS.get(measure["unit"], measure["unit"]),
        interval_text(value, low, high, decimals),
        "",
        measure["note"],
    )


@dataclass(frozen=True)
class GrainShown:
    """Grain of a scan's fields, drawn and as tables."""

    stated: Said
    stated_density: float
    series: list[tuple[dict, Said]]
    granularity: dict | None
    patch: dict | None
    power: dict | None
    power_rows: list[tuple]
    power_2d: dict | None


@dataclass(frozen=True)
class EdgeShown:
    """Sharpness of a scan's edge, drawn and as tables."""

    measures: list[Said]
    figure: dict | None = None
    rows: list[tuple] = field(default_factory=list)
    nyquist: float | None = None
    profile: dict | None = None
    profile_rows: list[tuple] = field(default_factory=list)


def grain_shown(document: dict) -> GrainShown:
    """Everything about grain that a page shows out of a document."""
    read = [patch for patch in document["patches"] if patch["noise_power"]]
    patch = read[0] if read else None
    power = patch and patch["noise_power"]
    has_series = any(each["rms_granularity"]["value"] is not None for each in document["series"])
    figure = None
    if has_series:
        stated, at = document["rms_granularity"], document["stated_density"]
        figure = granularity_figure(document["series"], stated, at)
    return GrainShown(
        stated=said("RMS granularity", document["rms_granularity"]),
        stated_density=document["stated_density"],
        series=[(each, said(each["label"], each["rms_granularity"])) for each in document["series"]],
        granularity=figure,
        patch=patch,
        power=noise_power_figure(power, patch["density"]) if power else None,
        power_rows=_power_rows(power) if power else [],
        power_2d=coarse_2d(patch["noise_power_2d"]) if power else None,
    )


def edge_shown(document: dict) -> EdgeShown:
    """Everything about an edge that a page shows out of a document."""
    edge = document["edge"]
    measures = [said(title, edge[name]) for name, title in EDGE_TITLES.items()]
    stored = edge["mtf"]
    frequency = stored["frequency_cycles_per_mm"]
    if not frequency:
        return EdgeShown(measures)
    keys = ("frequency_cycles_per_mm", "mtf", "error", "film_mtf")
    rows = list(zip(*(stored[key] for key in keys), strict=True))
    profile = edge.get("profile", NO_PROFILE)
    return EdgeShown(
        measures=measures,
        figure=mtf_figure(edge),
        rows=_thinned(rows),
        nyquist=frequency[-1],
        profile=profile_figure(profile),
        profile_rows=_rise(profile),
    )


def coarse_2d(stored: dict) -> dict:
    """The two-dimensional spectrum as a table: means over squares of cells, the upper half of the plane.

    The lower half is its mirror image. Where grain has no direction a row and a column read alike. Each mean
    comes with its shade, from 0 to 9 in proportion to the largest, so that the table is its own picture.
    """
    power = stored["power_um2"]
    count = len(power)
    along = [_middle(stored["frequency_x"], at) for at in range(0, count, CELLS_2D)]
    rows = []
    for top in range(count // 2, count, CELLS_2D):
        means = [_mean(power, top, left) for left in range(0, count, CELLS_2D)]
        rows.append((_middle(stored["frequency_y"], top), means))
    largest = max(max(means) for _, means in rows)
    rows = [(down, [(mean, _shade(mean, largest)) for mean in means]) for down, means in rows]
    return {"along": along, "rows": rows}


def _shade(mean: float, largest: float) -> int:
    return min(9, max(0, int(10 * mean / largest))) if largest > 0 else 0


def _mean(power: list, top: int, left: int) -> float:
    cells = [each for row in power[top : top + CELLS_2D] for each in row[left : left + CELLS_2D]]
    return sum(cells) / len(cells)


def _middle(frequency: list, at: int) -> float:
    part = frequency[at : at + CELLS_2D]
    return sum(part) / len(part)


def _rise(profile: dict) -> list[tuple]:
    """Place, level and error where the light changes, which is a small part of what is kept."""
    rows = list(zip(*(profile[key] for key in ("place_um", "level", "error")), strict=True))
    on_it = [index for index, row in enumerate(rows) if ON_THE_RISE < row[1] < 1 - ON_THE_RISE]
    return _thinned(rows[on_it[0] : on_it[-1] + 1]) if on_it else []


def _power_rows(power: dict) -> list[tuple]:
    keys = ("frequency_cycles_per_mm", "power_um2", "power_error_um2")
    return _thinned(list(zip(*(power[key] for key in keys), strict=True)))


def _thinned(rows: list[tuple]) -> list[tuple]:
    """At most so many rows, evenly, the last among them; the stored document has every one."""
    every = max(1, -(-len(rows) // MOST_ROWS))
    kept = rows[::every]
    return kept if kept and kept[-1] == rows[-1] else [*kept, rows[-1]]
