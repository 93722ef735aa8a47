"""Where one arrives: the front desk for visitors, the bench for members, and the hub of the lab."""

from urllib.parse import urlencode

from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from curves.figures import comparison_figure, line_style
from curves.models import StockResult
from curves.pages.access import members_only, readers_only
from curves.pages.desk.next_steps import step_link, waiting_words
from curves.queries.comparison import StandardPair
from curves.queries.desk import FrontDesk, bench, front_desk
from curves.queries.instrument_checks import waiting_checks
from curves.queries.lab_status import lab_status
from curves.queries.reviews import submitted_rolls
from curves.queries.verdicts import waiting_verdicts
from curves.sensitometry import Analysis
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_admin, is_member

#: So many of the newest results are drawn in colour over the reference.
DRAWN = 3


@require_safe
def front(request):
    """Welcome a visitor; members go on to their bench."""
    if is_member(request.user):
        return redirect("bench")
    if not may_read_accepted(request.user):
        return render(request, "curves/desk/closed.html")
    desk = front_desk(request.user)
    drawn = desk.newest[:DRAWN]
    lines = [
        (result, _key(result) if ink < DRAWN else "", ink, desk.overrides.get(result.stock_id, ()))
        for ink, result in enumerate(desk.newest)
    ]
    context = {
        "desk": desk,
        "figure": _figure(desk, drawn) if desk.pair else None,
        "curves": _listed(desk, drawn),
        "lines": lines,
        "reference_overrides": desk.overrides.get(desk.reference.stock_id, ()) if desk.reference else (),
        "compare_url": _comparison_url(desk.pair, tuple(result.stock_id for result in drawn)),
    }
    return render(request, "curves/desk/front.html", context)


@require_safe
@never_cache
@members_only
def bench_page(request):
    """Show what the reader does next, what they wait for, and how the lab stands today."""
    shown = bench(request.user)
    context = {
        "bench": shown,
        "returned": [(line, *step_link(line)) for line in shown.returned],
        "mine": [(line, *step_link(line)) for line in shown.mine],
        "elsewhere": [(line, waiting_words(line)) for line in shown.elsewhere],
        "compare_url": _comparison_url(shown.compared, shown.compared_stock_ids),
        "waiting_checks": waiting_checks(),
    }
    return render(request, "curves/desk/bench.html", context)


@require_safe
@readers_only
def lab(request):
    """Lead to everything that is about the lab itself; only to what the reader may open."""
    context = {
        "status": lab_status(request.user) if is_member(request.user) else None,
        "review_count": submitted_rolls().count() if is_admin(request.user) else 0,
        "verdict_count": waiting_verdicts(request.user).count() if is_admin(request.user) else 0,
    }
    return render(request, "curves/desk/lab.html", context)


def _figure(desk: FrontDesk, drawn: tuple[StockResult, ...]) -> dict:
    reference = (desk.reference.stock.name, _analysis(desk.reference)) if desk.reference else None
    tests = [
        (result.stock.name, _analysis(result), line_style(ink, _key(result)))
        for ink, result in enumerate(drawn)
    ]
    return comparison_figure(reference, tests)


def _listed(desk: FrontDesk, drawn: tuple[StockResult, ...]) -> list[dict]:
    curves = []
    if desk.reference:
        curves.append(
            {
                "key": "reference",
                "label": desk.reference.stock.name,
                "ink": "reference",
                "note": "house reference",
            }
        )
    return curves + [
        {"key": _key(result), "label": result.stock.name, "ink": ink} for ink, result in enumerate(drawn)
    ]


def _analysis(result: StockResult) -> Analysis:
    return Analysis.from_dict(result.pooled.as_dict())


def _key(result: StockResult) -> str:
    return f"stock-{result.stock_id}"


def _comparison_url(pair: StandardPair | None, stock_ids: tuple[int, ...]) -> str:
    """The address of a comparison with these stocks in colour; empty where there is nothing to compare."""
    if pair is None:
        return ""
    query = [("standards", pair.key), *(("stock", stock_id) for stock_id in stock_ids)]
    return f"{reverse('compare')}?{urlencode(query)}"
