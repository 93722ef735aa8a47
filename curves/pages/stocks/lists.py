"""The list of stocks with what stands for each of them, as a page and as a file."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.fields import said_filters
from curves.pages.listing import (
    Columns,
    csv_file,
    export_url,
    is_export,
    kept_parameters,
    page_of,
    sorted_rows,
)
from curves.pages.stocks.forms import StockFilterForm
from curves.queries.comparison import StandardPair, standard_pairs
from curves.queries.frame_costs import frame_costs
from curves.queries.stock_list import listed_stocks, stock_rows, stocks_by_format
from curves.sensitometry import MEASURES

SORT_KEYS = {
    "name": "name",
    "maker": "maker",
    "box": "box_speed",
    "iso": "iso_speed_value",
    "index": "exposure_index_value",
    "contrast": "contrast_index_value",
    "rolls": "roll_count",
    "newest": "newest_on",
    "cost": "frame_cost",
}
EXPORTED = ("iso_speed", "exposure_index", "box_difference_stops", "average_gradient_150", "contrast_index")


@require_safe
@readers_only
def stock_list(request):
    """List the stocks."""
    by_format = stocks_by_format(request.user)
    form = StockFilterForm(request.GET, pairs=standard_pairs(request.user), formats=by_format)
    pair = form.pair()
    wanted = form.wanted()
    film_format = wanted.format if wanted else ""
    is_by_cost = request.GET.get("sort", "").lstrip("-") == "cost"
    costs = None
    if is_by_cost or is_export(request) or (wanted and wanted.dearest_frame is not None):
        costs = frame_costs(film_format=film_format)
    stocks = listed_stocks(request.user, wanted, pair, by_format, costs.comparable if costs else None)
    stocks = sorted_rows(request, stocks, SORT_KEYS, default="name")
    if is_export(request):
        return csv_file("stocks.csv", stock_rows(request.user, stocks, pair, costs), _columns(pair))
    page = page_of(request, stocks)
    shown = list(page.object_list)
    costs = costs or frame_costs([stock.pk for stock in shown], film_format=film_format)
    rows = stock_rows(request.user, shown, pair, costs)
    context = {
        "form": form,
        "page": page,
        "rows": rows,
        "costs": costs,
        "pair": pair,
        "is_filtered": any(value for name, value in request.GET.items() if name in form.fields),
        "said_filters": said_filters(form),
        "export_url": export_url(request),
        "keep": kept_parameters(request, "sort"),
    }
    return render(request, "curves/stocks/list.html", context)


def _columns(pair: StandardPair | None) -> Columns:
    columns: Columns = [
        ("stock", lambda row: row.stock.name),
        ("maker", lambda row: row.stock.maker),
        ("box_speed", lambda row: row.stock.box_speed),
        ("formats", lambda row: ", ".join(row.stock.formats)),
        ("sensitisation", lambda row: row.stock.get_sensitisation_display()),
        ("in_production", lambda row: int(row.stock.is_in_production)),
        ("standards", lambda row: pair.label if row.result else ""),
        ("result", lambda row: row.result.pooled_id if row.result else None),
        ("rolls", lambda row: row.result.pooled.roll_count if row.result else None),
        ("rolls_left_out", lambda row: row.result.pooled.left_out_count if row.result else None),
        ("newest_roll_developed", lambda row: row.newest_on),
        ("in_by_override", lambda row: "; ".join(row.overrides)),
        ("cost_per_frame", lambda row: float(row.cost.value) if row.cost else None),
        ("cost_currency", lambda row: row.cost.currency if row.cost else None),
        ("cost_of", lambda row: row.cost.cheapest.content_words if row.cost else None),
        ("cost_priced_on", lambda row: row.cost.cheapest.priced_on.isoformat() if row.cost else None),
    ]
    for name in EXPORTED:
        unit = MEASURES[name].unit
        columns.append((f"{name} [{unit}]" if unit else name, _part(name, "value")))
        columns += [
            (f"{name} {title}", _part(name, part))
            for title, part in (("low", "low"), ("high", "high"), ("withheld", "reason"))
        ]
    return columns


def _part(name: str, part: str):
    return lambda row: row.measures.get(name, {}).get(part)
