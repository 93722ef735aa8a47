"""Small multiples: each stock's panel with its curve over the reference and one line that sums it up."""

from dataclasses import dataclass

from curves.figures import PanelSheet
from curves.pages.compare.drawing import sheet_url, stock_key, stock_label, stock_panels
from curves.pages.compare.selection import Selection
from curves.queries.comparison import ComparedStock, ComparisonView
from curves.sensitometry import REASONS
from curves.sensitometry.comparing.wording import listed
from curves.sensitometry.number_text import plain_number, signed_number
from labsite.templatetags.measures import SHORT_REASONS


@dataclass(frozen=True)
class StockPanel:
    """What one panel shows; ``reason`` says why it is empty."""

    key: str
    label: str
    path: str
    reason: str
    summary: str
    url: str
    is_real: bool


def panel_sheet(
    view: ComparisonView, selection: Selection, stocks: list[ComparedStock]
) -> tuple[PanelSheet, list[StockPanel]]:
    """Return the scales and the panels of these stocks, in their order."""
    sheet = stock_panels(view, selection, stocks)
    drawn = {panel.key: panel for panel in sheet.panels}
    panels = []
    for stock in stocks:
        if stock.is_reference:
            continue
        panel = drawn[stock_key(stock)]
        panels.append(
            StockPanel(
                key=panel.key,
                label=stock_label(stock),
                path=panel.path,
                reason=REASONS.get(panel.reason, "") if panel.reason else "",
                summary=summary_line(stock),
                url=sheet_url(stock),
                is_real=bool(stock.comparison) and "real" in stock.comparison.verdicts.values(),
            )
        )
    return sheet, panels


def summary_line(stock: ComparedStock) -> str:
    """Return the difference in one line, each part with what may be said of it."""
    compared = stock.comparison
    if compared is None:
        return ""
    if stock.other_standards:
        return f"under {stock.other_standards}"
    speed, contrast, shape = (
        compared.measures[name] for name in ("speed_shift_stops", "contrast_ratio", "shape_difference")
    )
    if {speed.reason, contrast.reason, shape.reason} == {speed.reason} and speed.value is None:
        return f"not comparable: {SHORT_REASONS.get(speed.reason, speed.reason.replace('_', ' ').lower())}"
    parts = [
        ("speed", speed, 1.0, 0.0, 2, " stops"),
        ("contrast", contrast, 100.0, 1.0, 0, " %"),
        ("shape", shape, 1.0, 0.0, 3, " D"),
    ]
    told = [part for part in parts if compared.verdicts[part[1].name] != "not distinguishable"]
    alike = [word for word, *_ in parts if word not in [part[0] for part in told]]
    said = [_part(word, measure, compared.verdicts[measure.name], *rest) for word, measure, *rest in told]
    return "; ".join(said + ([f"{listed(alike)} not told apart"] if alike else []))


def _part(word, measure, verdict, factor, shift, decimals, unit) -> str:
    if measure.value is None:
        return f"{word} not known"
    number = plain_number if word == "shape" else signed_number
    value = number(factor * (measure.value - shift), decimals)
    return f"{word} {value}{unit} ({'open' if verdict == 'unknown' else verdict})"
