"""A stock's near relatives: how each of the nearest stocks stands to it, measure by measure."""

from django.shortcuts import render
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.compare.relatives_table import kin_cells, kin_headings, kin_sentence, kind_words
from curves.pages.compare.selection import Selection
from curves.queries.relatives import RelativesView, relatives_of

# With the stock itself as many as Compare draws in colour.
BESIDE = 5


@require_safe
@readers_only
def relatives(request, stock_id: int):
    """Show the nearest stocks, and whether each could be the same emulsion or stand in."""
    view = relatives_of(request.user, stock_id, pair_key=request.GET.get("standards", "")[:40])
    rows = [
        {
            "result": relative.result,
            "kind": relative.kinship.kind,
            "kind_words": kind_words(relative.kinship),
            "sentence": kin_sentence(relative.kinship),
            "cells": kin_cells(relative.kinship),
        }
        for relative in view.relatives
    ]
    context = {
        "view": view,
        "rows": rows,
        "compare_query": _compare_query(view),
        "headings": kin_headings(view.margins),
        "pair_tabs": [
            {"title": pair.label, "url": f"?standards={pair.key}", "is_current": pair == view.pair}
            for pair in view.pairs
        ],
    }
    return render(request, "curves/stocks/relatives.html", context)


def _compare_query(view: RelativesView) -> str:
    """The stock and those that stand first, as Compare's address gives them."""
    nearest = [relative.result.stock_id for relative in view.relatives[:BESIDE]]
    standards = view.pair.key if view.pair else ""
    return Selection(standards=standards, stocks=(view.stock.pk, *nearest)).query()
