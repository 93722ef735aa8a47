"""Compare, as a page and as a file; both read the same address."""

import csv

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.importers import escape_text
from curves.pages.access import readers_only
from curves.pages.compare.drawing import comparison_plot, listed_curves
from curves.pages.compare.forms import CompareForm
from curves.pages.compare.selection import ALIGNMENTS, VIEWS, Selection
from curves.pages.compare.tables import DIFFERENCE_COLUMNS, OWN_COLUMNS, columns, csv_rows, table_rows
from curves.queries.comparison import comparison_view
from curves.sensitometry import REASONS


@require_safe
@readers_only
def compare(request):
    """Show the chosen stocks over the house reference, with their measures and differences."""
    selection = Selection.from_query(request.GET)
    if "order" in request.GET:
        return redirect(f"{reverse('compare')}?{selection.query()}")
    view = comparison_view(request.user, pair_key=selection.standards, wanted_stock_ids=selection.stocks)
    rows = table_rows(view, selection)
    figure = comparison_plot(view, selection)
    return render(
        request,
        "curves/compare/compare.html",
        {
            "view": view,
            "selection": selection,
            "form": CompareForm(view, selection),
            "figure": figure,
            "figure_title": f"{VIEWS[selection.view]}, {ALIGNMENTS[selection.align]}",
            "left_out": [_left_out(left) for left in (figure or {}).get("meta", {}).get("left_out", [])],
            "curves": listed_curves(view, selection),
            "rows": rows,
            "chosen": [row for row in rows if row.is_chosen],
            "own_columns": columns(OWN_COLUMNS),
            "difference_columns": columns(DIFFERENCE_COLUMNS),
            "measures_url": "/measures/",
            "engine_versions": sorted({stock.result.pooled.engine_version for stock in view.stocks}),
            "order": ",".join(str(pk) for pk in selection.stocks),
            "permalink": request.build_absolute_uri(f"{reverse('compare')}?{selection.query()}"),
            "data_url": f"{reverse('compare_data')}?{selection.query()}",
        },
    )


@require_safe
@readers_only
def compare_data(request):
    """Send the same comparison as CSV."""
    selection = Selection.from_query(request.GET)
    view = comparison_view(request.user, pair_key=selection.standards, wanted_stock_ids=selection.stocks)
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="comparison.csv"'
    writer = csv.writer(response)
    for line in csv_rows(view, selection):
        writer.writerow([escape_text(cell) if isinstance(cell, str) else cell for cell in line])
    return response


def _left_out(left: dict) -> str:
    """Say why a curve is not drawn."""
    return f"{left['label']}: {REASONS.get(left['reason'], left['reason'])}"
