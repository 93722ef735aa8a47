"""The parts of a published sheet as its page shows them, out of what the version keeps and nothing else."""

from dataclasses import dataclass

from curves.figures.sheet_figure import sheet_figure
from curves.models import SheetVersion
from curves.sensitometry import MEASURES, MeasureDefinition

#: What the sheet's one page has room for; every measure is below it, and in the files.
SHEET_MEASURES = (
    "iso_speed",
    "exposure_index",
    "box_difference_stops",
    "average_gradient_150",
    "contrast_index",
    "gamma",
    "toe_length",
    "straight_extent",
    "shoulder_onset",
    "highlight_gradient",
    "useful_range",
    "latitude",
    "base_plus_fog",
    "d_max",
)
#: Shown large, the first of each group that has a value.
KEY_MEASURES = (
    ("iso_speed", "exposure_index", "speed_point_log_exposure"),
    ("average_gradient_150",),
    ("contrast_index",),
    ("base_plus_fog",),
    ("d_max",),
)
#: Rolls that fit on the page, the newest; the rest are in the list below it.
MOST_ROLLS = 5
MOST_FLAGS = 2
MOST_PRICES = 3
MOST_OTHERS = 2
#: Narrow enough for labels of seven points where the figure takes more than half a page's width.
FIGURE_SIZE = {"width": 560.0, "height": 300.0}
CURVE_ROWS = 24


@dataclass(frozen=True)
class ShownMeasure:
    """One measure of the stock, the reference's beside it, as they were kept."""

    definition: MeasureDefinition
    measure: dict
    reference: dict | None


@dataclass(frozen=True)
class ShownDifference:
    """One difference from the reference with its verdict."""

    definition: MeasureDefinition
    measure: dict


def key_rows(content: dict) -> list[ShownMeasure]:
    """Return the measures that are looked at first; a withheld one only where no other can stand in."""
    chosen = []
    for names in KEY_MEASURES:
        known = [name for name in names if name in content["measures"]]
        valued = [name for name in known if content["measures"][name]["value"] is not None]
        chosen += (valued or known)[:1]
    return _measures(content, tuple(chosen))


def sheet_rows(content: dict) -> list[ShownMeasure]:
    """Return the measures of the printed page."""
    return _measures(content, SHEET_MEASURES)


def all_rows(content: dict) -> list[ShownMeasure]:
    """Return every measure, in the order of the registry."""
    return _measures(content, tuple(MEASURES))


def difference_rows(content: dict) -> list[ShownDifference]:
    """Return every difference, in the order of the registry."""
    found = content["differences"]
    return [ShownDifference(MEASURES[name], found[name]) for name in MEASURES if name in found]


def roll_rows(version: SheetVersion, credits: dict[int, str]) -> list[dict]:
    """Return the rolls, newest first, each with how its member is named now."""
    rolls = sorted(version.content["rolls"], key=lambda roll: -roll["id"])
    return [roll | {"by": credits.get(roll["id"], "")} for roll in rolls]


def curve_rows(content: dict) -> list[tuple[float, ...]]:
    """Return points along the curve for the table below the sheet, both ends among them."""
    curve = content["curve"]
    columns = (curve[name] for name in ("log_exposure", "density", "low", "high", "gradient"))
    rows = list(zip(*columns, strict=True))
    stride = max(1, round((len(rows) - 1) / CURVE_ROWS))
    chosen = rows[::stride]
    return chosen if not rows or chosen[-1] == rows[-1] else [*chosen, rows[-1]]


def drawn_sheet(content: dict) -> dict:
    """Return the figure of a version, as a dictionary that `figure_svg` draws."""
    reference = content["reference"]
    beside = (reference["stock"], reference["curve"]) if reference else None
    figure = sheet_figure(
        (content["stock"]["name"], content["curve"]),
        beside,
        exposure=content["result"]["exposure"],
        is_reference=content["is_reference"],
    )
    figure["meta"]["title"] = f"Characteristic curve of {content['stock']['name']}"
    return figure


def other_processing(content: dict) -> list[dict]:
    """Return the stock's results by other processes, the newest."""
    return [row for row in content["development"] if not row["is_this"]][-MOST_OTHERS:]


def process_words(content: dict) -> str:
    """Return the processing in one line: developer, temperature, time, agitation."""
    process = content["process"]
    developer = " ".join(part for part in (process["developer"], process["dilution"]) if part)
    temperature = f"{process['temperature_c']:g} ± {process['temperature_tolerance_c']:g} °C"
    seconds = process["development_time_s"]
    time = f"{seconds // 60}:{seconds % 60:02d} min" if seconds else process["time_rule"]
    if process["aim_contrast"]:
        time += f", aim contrast {process['aim_contrast']:g}"
    baths = [f"{name} {process[key]}" for name, key in BATHS if process[key]]
    return "; ".join([developer, temperature, time, process["agitation"], *baths])


BATHS = (("stop", "stop_bath"), ("fix", "fixer"), ("wash", "wash"))


def exposure_words(content: dict) -> str:
    """Return the exposure in one line."""
    exposure = content["exposure"]
    kind = "lux·s known" if exposure["is_absolute"] else "relative exposures only"
    return (
        f"{exposure['method']}; {exposure['light']}, {exposure['colour_temperature_k']} K; "
        f"{exposure['exposure_time_s']:g} s; {kind}"
    )


def citation(lab_name: str, version: SheetVersion, named: list[str]) -> str:
    """Return one line that names the sheet, its conditions and those who want to be named."""
    content = version.content
    stock, result = content["stock"], content["result"]
    given = result["roll_count"] + result["left_out_count"]
    count = f"{result['roll_count']} of {given}" if result["left_out_count"] else f"{given}"
    tested_by = f" Tested by {', '.join(named)}." if named else ""
    return (
        f"{lab_name}: {stock['name']} ({stock['maker']}), stock sheet, version {version.number} of "
        f"{version.published_at:%Y-%m-%d}; {content['process']['label']}; {content['exposure']['label']}; "
        f"result {result['id']} from {count} roll{'' if count == '1' else 's'}, "
        f"engine {result['engine_version']}.{tested_by}"
    )


def _measures(content: dict, names: tuple[str, ...]) -> list[ShownMeasure]:
    own = content["measures"]
    beside = content["reference"]["measures"] if content["reference"] else {}
    return [ShownMeasure(MEASURES[name], own[name], beside.get(name)) for name in names if name in own]
