"""The map of all stocks by similarity, the pairs that are near relatives, and the margins that decide it."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.figures.relatives_map import relatives_map_figure
from curves.pages.access import GET_OR_POST, admins_only, readers_only
from curves.pages.compare.kept_forms import MarginsForm
from curves.pages.compare.relatives_table import kin_cells, kin_headings, kin_sentence
from curves.queries.comparisons_kept import margins_history, margins_in_force
from curves.queries.relatives import MapView, lab_margins, map_of_stocks
from curves.sensitometry.comparing.near_relatives import SAME
from curves.services.comparisons import set_margins


@require_safe
@readers_only
def relatives(request):
    """Show the map of stocks and the pairs that are near relatives."""
    view = map_of_stocks(request.user, pair_key=request.GET.get("standards", "")[:40])
    kin = [
        {
            "pair": pair,
            "sentence": kin_sentence(
                pair.kinship, first=pair.first.stock.name, second=pair.second.stock.name
            ),
            "cells": kin_cells(pair.kinship),
        }
        for pair in view.kin
    ]
    context = {
        "view": view,
        "figure": _figure(view),
        "places": _places(view),
        "headings": kin_headings(view.margins),
        "same": [each for each in kin if each["pair"].kinship.kind == SAME],
        "stand_ins": [each for each in kin if each["pair"].kinship.kind != SAME],
        "pair_tabs": [
            {"title": pair.label, "url": f"?standards={pair.key}", "is_current": pair == view.pair}
            for pair in view.pairs
        ],
    }
    return render(request, "curves/compare/relatives.html", context)


@GET_OR_POST
@admins_only
def margins(request):
    """Set the margins within which stocks count as the same; earlier ones stay listed."""
    in_force = margins_in_force()
    now = lab_margins(in_force)
    initial = {
        "speed_stops": now["speed_shift_stops"].width,
        "contrast_share": now["contrast_ratio"].width,
        "shape_density": now["toe_difference"].width,
    }
    form = MarginsForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.accepted(set_margins, actor=request.user):
        messages.success(request, "The margins are in force.")
        return redirect("compare_margins")
    context = {"form": form, "history": margins_history()[:100]}
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/compare/margins.html", context, status=status)


def _figure(view: MapView) -> dict | None:
    if view.found is None:
        return None
    points = [
        (
            "reference" if result.stock_id == view.reference_id else f"stock-{result.stock_id}",
            result.stock.name,
            float(place[0]),
            float(place[1]),
        )
        for result, place in zip(view.results, view.found.places, strict=True)
    ]
    return relatives_map_figure(points, view.found.shown_share)


def _places(view: MapView) -> list[dict]:
    """Each stock with its place and its nearest neighbour: the map as a table."""
    if view.found is None:
        return []
    lines = []
    for number, (result, place) in enumerate(zip(view.results, view.found.places, strict=True)):
        row = view.found.distances[number]
        others = [other for other in range(len(row)) if other != number]
        nearest = min(others, key=lambda other: row[other])
        lines.append(
            {
                "result": result,
                "key": "reference" if result.stock_id == view.reference_id else f"stock-{result.stock_id}",
                "across": float(place[0]),
                "up": float(place[1]),
                "nearest": view.results[nearest],
                "distance": float(row[nearest]),
            }
        )
    return lines
