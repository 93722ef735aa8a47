"""Compare, as a page and as files; all read the same address."""

from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.compare.drawing import comparison_plot, figure_title, listed_curves
from curves.pages.compare.files import document_file
from curves.pages.compare.forms import CompareForm
from curves.pages.compare.limits import AxisLimits
from curves.pages.compare.panels import panel_sheet
from curves.pages.compare.selection import RANGES, Selection
from curves.pages.compare.tables import columns, ordered_stocks, table_rows
from curves.pages.compare_tabs import compare_tabs
from curves.pages.fields import said_filters
from curves.queries.colour_response import colours_beside
from curves.queries.comparison import ComparisonView, comparison_view, standard_pairs
from curves.queries.comparison_document import comparison_document
from curves.queries.comparison_rows import ANY, COST, DIFFERENCE_ORDERS
from curves.queries.stocks import visible_stocks
from curves.sensitometry import MEASURES, REASONS
from labsite.common.errors import NotFound

PLAIN_HEADINGS = (
    ("name", "Stock", False),
    ("box", "Box", True),
    ("rolls", "Rolls", True),
    (COST, "Cost per frame", True),
)
NO_WORDS = "This stock has no result under these standards, or it is not open to you."


@require_safe
@readers_only
def compare(request):
    """Show the chosen stocks over the house reference, with their measures and differences."""
    selection = Selection.from_query(request.GET)
    if "order" in request.GET:
        return redirect(f"{reverse('compare')}?{selection.query()}")
    try:
        view = asked_view(request.user, selection)
    except NotFound as refusal:
        return _unknown_standards(request, selection, refusal)
    figure = comparison_plot(view, selection)
    selection = selection.changed(limits=selection.limits.over(figure))
    rows = table_rows(view, selection)
    query = selection.query()
    form = CompareForm(view, selection)
    return render(
        request,
        "curves/compare/compare.html",
        {
            "view": view,
            "selection": selection,
            "form": form,
            "said_filters": said_filters(form.filters),
            "figure": figure,
            "figure_title": figure_title(view, selection),
            "left_out": [_left_out(left) for left in figure["meta"]["left_out"]] if figure else [],
            "curves": listed_curves(view, selection, figure),
            "rows": rows,
            "chosen": [row for row in rows if row.is_chosen],
            "columns": columns(selection),
            "plain_headings": _plain_headings(selection),
            "unseen_order": _unseen_order(selection),
            "known_query": _known_query(view, selection),
            "measures_url": "/measures/",
            "engine_versions": sorted({stock.result.pooled.engine_version for stock in view.stocks}),
            "order": ".".join(str(pk) for pk in selection.stocks),
            "query": query,
            "trade_query": selection.changed(limits=AxisLimits()).query(),
            "tabs": compare_tabs(
                "compare", view.pair.key if view.pair else "", selection.stocks, {"compare": query}
            ),
            "permalink": request.build_absolute_uri(f"{reverse('compare')}?{query}"),
            **_sheet_context(view, selection),
            **_panel_context(view, selection),
        },
    )


@require_safe
@readers_only
def compare_words(request, stock_id: int):
    """Send what is said of one stock of the comparison, as a part of its page."""
    if not visible_stocks(request.user).filter(pk=stock_id).exists():
        raise NotFound(NO_WORDS)
    selection = Selection.from_query(request.GET).changed(stocks=(stock_id,), hidden=())
    view = comparison_view(
        request.user,
        pair_key=selection.standards,
        wanted_stock_ids=(stock_id,),
        is_mixing=selection.mixed,
        with_curves=False,
        is_only_wanted=True,
    )
    row = next((row for row in table_rows(view, selection) if row.stock.stock.pk == stock_id), None)
    if row is None:
        raise NotFound(NO_WORDS)
    # What was mixed in is told under its own standards: its colours are never set against the reference's.
    result, is_stranger = row.stock.result, bool(row.stock.other_standards)
    own_pair = {name: getattr(result, name) for name in view.pair.ids}
    colours = colours_beside(stock_id, None if is_stranger else view.pair.reference_stock_id, own_pair)
    said = {"own_words": row.own_words(colours), "colour_words": row.colour_words(colours)}
    return render(request, "curves/compare/_row_words.html", {"row": row, **said})


@require_safe
@readers_only
def compare_data(request, kind: str):
    """Send the same comparison as a file; only the chosen stocks, where some are."""
    selection = Selection.from_query(request.GET)
    view = comparison_view(
        request.user,
        pair_key=selection.standards,
        wanted_stock_ids=selection.stocks,
        choice=selection.choice() if selection.stocks else None,
        is_mixing=selection.mixed,
        with_curves=False,
    )
    return document_file(asked_document(view, selection), kind, "comparison")


def asked_view(user, selection: Selection) -> ComparisonView:
    """Return the comparison that an address asks for."""
    return comparison_view(
        user,
        pair_key=selection.standards,
        wanted_stock_ids=selection.stocks,
        choice=selection.choice(),
        is_mixing=selection.mixed,
        with_curves=False,
    )


def asked_document(view: ComparisonView, selection: Selection) -> dict:
    """Return the numbers that an address asks for: of the reference and the chosen stocks, or of all."""
    stocks = ordered_stocks(view, selection)
    if selection.stocks:
        stocks = [stock for stock in stocks if stock.is_reference or stock.stock.pk in selection.stocks]
    return comparison_document(view, stocks)


def _plain_headings(selection: Selection) -> list[dict]:
    return [
        {
            "title": title,
            "is_number": is_number,
            "query": selection.sorted_by(name).query(),
            "direction": {name: "ascending", f"-{name}": "descending"}.get(selection.sort, ""),
        }
        for name, title, is_number in _shown_headings(selection)
    ]


def _shown_headings(selection: Selection) -> list[tuple[str, str, bool]]:
    return [heading for heading in PLAIN_HEADINGS if selection.cost or heading[0] != COST]


def _unknown_standards(request, selection: Selection, refusal: NotFound):
    """Say which standards nobody knows, and lead to the same comparison under others."""
    pairs = [(pair, selection.changed(standards=pair.key).query()) for pair in standard_pairs(request.user)]
    context = {"message": refusal.message, "pairs": pairs}
    return render(request, "curves/compare/unknown_standards.html", context, status=404)


def _known_query(view: ComparisonView, selection: Selection) -> str:
    """The address without the stocks that nobody knows."""
    return selection.changed(stocks=tuple(pk for pk in selection.stocks if pk not in view.unknown)).query()


def _unseen_order(selection: Selection) -> dict | None:
    """By what the table is in order, where none of its headings can say so."""
    name = selection.sort.lstrip("-")
    if name in (*selection.columns, *(plain for plain, *_ in _shown_headings(selection))):
        return None
    titles = {name: title for name, title, _ in PLAIN_HEADINGS} | {"maker": "Maker"}
    return {
        "title": titles.get(name) or MEASURES[name].title,
        "is_down": selection.sort.startswith("-"),
        "show_query": "" if name == "maker" else selection.with_column(name).query(),
        "name_query": selection.changed(sort="name", sheet=1).query(),
    }


def _sheet_context(view: ComparisonView, selection: Selection) -> dict:
    """Where in the lab this sheet of stocks is, and the ways to the others."""
    listed = view.catalogue
    if listed is None:
        return {}
    sheets = {"previous_query": listed.sheet - 1, "next_query": listed.sheet + 1}
    return {
        "is_filtered": selection.choice().wanted != ANY,
        "has_ranges": any(getattr(selection, name) is not None for name in RANGES),
        "has_sheets": listed.sheet_count > 1,
        "is_order_of_sheet": listed.sheet_count > 1 and selection.sort.lstrip("-") in DIFFERENCE_ORDERS,
        "unhide_query": selection.changed(hidden=()).query(),
        "all_query": selection.unfiltered().query(),
        "mixed_query": selection.changed(mixed=True).query(),
        **{
            name: selection.changed(sheet=number).query() if 1 <= number <= listed.sheet_count else ""
            for name, number in sheets.items()
        },
    }


def _panel_context(view: ComparisonView, selection: Selection) -> dict:
    if selection.view != "panels" or view.pair is None:
        return {}
    sheet, panels = panel_sheet(view, selection, ordered_stocks(view, selection))
    return {"panel_sheet": sheet, "panels": panels}


def _left_out(left: dict) -> str:
    """Say why a curve is not drawn."""
    return f"{left['label']}: {REASONS.get(left['reason'], left['reason'])}"
