"""A comparison as a document: every number with its interval, reason and verdict, and as lines of a table.

The page's files, the frozen comparison and its files are all made from this one document.
"""

import csv
import io
from collections.abc import Iterable

from curves.importers import escape_text
from curves.queries.comparison import ComparedStock, ComparisonView
from curves.sensitometry import MEASURES

FORMAT = 2
#: Measures of a stock's own curve.
OWN_COLUMNS = (
    "iso_speed",
    "exposure_index",
    "box_difference_stops",
    "delta_d_130",
    "average_gradient_150",
    "contrast_index",
    "gamma",
    "toe_length",
    "straight_part_end",
    "shoulder_onset",
    "highlight_gradient",
    "useful_range",
    "d_max",
    "base_plus_fog",
    "rms_granularity",
    "film_mtf50",
)
#: Differences from the reference.
DIFFERENCE_COLUMNS = (
    "speed_shift_stops",
    "contrast_ratio",
    "shape_difference",
    "toe_difference",
    "middle_difference",
    "highlight_difference",
    "base_difference",
)
COLUMNS = (*OWN_COLUMNS, *DIFFERENCE_COLUMNS)
#: Documents of the first format know nothing of pictures; their files stay what they were.
NEW_IN_2 = ("rms_granularity", "film_mtf50")
FACTS = (
    "stock",
    "maker",
    "box_speed",
    "is_reference",
    "rolls",
    "rolls_left_out",
    "result",
    "engine_version",
    "standards",
    "is_mixed_in",
)


def comparison_document(view: ComparisonView, stocks: Iterable[ComparedStock]) -> dict:
    """Return the numbers of these stocks, in their order, JSON-safe."""
    lines = [_stock_document(stock, view) for stock in stocks]
    return {
        "format": FORMAT,
        "standards": view.pair.label if view.pair else "",
        "reference": view.reference.stock.name if view.reference else None,
        "is_mixed": any(line["is_mixed_in"] for line in lines),
        "lab_spread": view.lab_spread or None,
        "stocks": lines,
    }


def _stock_document(stock: ComparedStock, view: ComparisonView) -> dict:
    pooled, comparison = stock.result.pooled, stock.comparison
    differences = {}
    for name in DIFFERENCE_COLUMNS if comparison else ():
        verdict = comparison.verdicts[name]
        differences[name] = comparison.measures[name].to_dict() | {"verdict": verdict}
    return {
        "stock_id": stock.stock.pk,
        "stock": stock.stock.name,
        "maker": stock.stock.maker,
        "box_speed": stock.stock.box_speed,
        "is_reference": stock.is_reference,
        "rolls": pooled.roll_count,
        "rolls_left_out": pooled.left_out_count,
        "result": pooled.pk,
        "engine_version": pooled.engine_version,
        "standards": stock.other_standards or view.pair.label,
        "is_mixed_in": bool(stock.other_standards),
        "overrides": list(stock.overrides),
        "measures": {name: stock.measures[name].to_dict() for name in OWN_COLUMNS if name in stock.measures},
        "differences": differences,
        "sentences": [sentence.text for sentence in comparison.sentences] if comparison else [],
    }


def document_columns(document: dict) -> tuple[str, ...]:
    """Return the measures that a document of its format has."""
    is_first = document["format"] == 1
    return tuple(name for name in COLUMNS if not (is_first and name in NEW_IN_2))


def document_lines(document: dict) -> list[list]:
    """Return the table of a document: a heading and a line a stock; value, low, high, reason a measure."""
    header, columns = list(FACTS), document_columns(document)
    for name in columns:
        unit = MEASURES[name].unit
        header += [f"{name} [{unit}]" if unit else name, f"{name} low", f"{name} high", f"{name} withheld"]
    header += [f"verdict {name}" for name in DIFFERENCE_COLUMNS]
    lines = [header]
    for stock in document["stocks"]:
        line = [stock[name] for name in FACTS]
        line = [int(cell) if isinstance(cell, bool) else cell for cell in line]
        for name in columns:
            measure = stock["measures"].get(name) or stock["differences"].get(name) or {}
            line += [measure.get(part) for part in ("value", "low", "high", "reason")]
        line += [stock["differences"].get(name, {}).get("verdict") for name in DIFFERENCE_COLUMNS]
        lines.append(["" if cell is None else cell for cell in line])
    return lines


def document_csv(document: dict) -> str:
    """Return the table as CSV in which no text is taken for a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    for line in document_lines(document):
        writer.writerow([escape_text(cell) if isinstance(cell, str) else cell for cell in line])
    return text.getvalue()
