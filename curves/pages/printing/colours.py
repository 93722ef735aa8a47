"""Colour response of the chosen stocks beside the reference's, and its file."""

from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.figures.colour_response import colour_figure
from curves.figures.styles import line_style
from curves.pages.access import readers_only
from curves.pages.compare_tabs import carried, carried_query, compare_tabs
from curves.pages.listing import csv_file
from curves.queries.colour_response import ColourResponse, ColourStock, colour_response


@require_safe
@readers_only
def colour_page(request):
    """Show by how many stops each patch is shifted from grey on each stock, beside the reference."""
    pair_key, chosen = carried(request.GET)
    view = colour_response(request.user, pair_key=pair_key, stock_ids=chosen)
    labels = [patch.label for patch in view.patches]
    reference = next((each for each in view.stocks if each.is_reference), None)
    others = [each for each in view.stocks if not each.is_reference]
    own = [(each.stock.name, each.shifts, _style(view, each)) for each in view.stocks]
    differences = [(each.stock.name, each.differences, _style(view, each)) for each in others]
    pair = view.beside.pair
    key = pair.key if pair else ""
    query = carried_query(key, chosen)
    context = {
        "view": view,
        "chosen": set(chosen),
        "lights": [(each, carried_query(each.key, chosen)) for each in view.lights],
        "tabs": compare_tabs("colour_response", key, chosen),
        "figure": colour_figure(labels, own) if own else None,
        "against_figure": _against(labels, differences, reference),
        "curves": [_listed(view, each) for each in view.stocks],
        "rows": [(each, [each.shifts.get(label) for label in labels]) for each in view.stocks],
        "difference_rows": [(each, _cells(each, labels)) for each in others] if reference else [],
        "reference": reference,
        "has_filters": any(each.filters for each in view.stocks),
        "data_url": f"{reverse('colour_response_data')}?{query}",
        "permalink": request.build_absolute_uri(f"{request.path}?{query}"),
    }
    return render(request, "curves/printing/colours.html", context)


@require_safe
@readers_only
def colour_data(request):
    """Send the shifts as CSV, a line a stock and patch."""
    pair_key, chosen = carried(request.GET)
    view = colour_response(request.user, pair_key=pair_key, stock_ids=chosen)
    lines = [(view, each, patch) for each in view.stocks for patch in view.patches]
    columns = [
        *_COLUMNS,
        *_measure_columns("shifts", "shift from grey"),
        *_measure_columns("differences", "shift against the reference"),
        ("verdict", lambda line: line[1].verdicts.get(line[2].label)),
    ]
    return csv_file("colour-response.csv", lines, columns)


def _against(labels: list[str], differences: list, reference: ColourStock | None) -> dict | None:
    if reference is None or not differences:
        return None
    return colour_figure(labels, differences, against=reference.stock.name)


def _cells(shown: ColourStock, labels: list[str]) -> list[tuple]:
    """Each patch's difference from the reference with the verdict on it; None where it is withheld."""
    found = [(shown.differences.get(label), shown.verdicts.get(label)) for label in labels]
    return [(cell, verdict if cell and cell.value is not None else None) for cell, verdict in found]


def _style(view: ColourResponse, shown: ColourStock):
    if shown.is_reference:
        return None
    others = [each for each in view.stocks if not each.is_reference]
    return line_style(others.index(shown), f"stock-{shown.stock.pk}")


def _listed(view: ColourResponse, shown: ColourStock) -> dict:
    style = _style(view, shown)
    if style is None:
        note = "house reference"
        return {"key": "reference", "label": shown.stock.name, "ink": "reference", "note": note}
    return {"key": style.key, "label": shown.stock.name, "ink": style.ink, "note": ""}


_COLUMNS = [
    ("stock", lambda line: line[1].stock.name),
    ("maker", lambda line: line[1].stock.maker),
    ("is_reference", lambda line: int(line[1].is_reference)),
    ("rolls", lambda line: line[1].roll_count),
    ("light", lambda line: line[0].series),
    ("colour_temperature [K]", lambda line: line[0].exposure.colour_temperature_k),
    ("patch", lambda line: line[2].label),
    ("luminance_factor", lambda line: line[2].luminance_factor),
]


def _measure_columns(which: str, title: str) -> list:
    """Value, ends of the interval and the reason of a patch's measure."""

    def part(name: str):
        def read(line):
            found = getattr(line[1], which).get(line[2].label)
            return None if found is None else getattr(found, name)

        return read

    return [
        (f"{title} [stop]", part("value")),
        (f"{title} low", part("low")),
        (f"{title} high", part("high")),
        (f"{title} withheld", part("reason")),
    ]
