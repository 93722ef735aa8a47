"""The sheet of one stock: its result over the house reference, what it rests on, and how to cite it."""

from django.http import HttpRequest
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.figures import comparison_figure, line_style
from curves.models import FilmStock, Roll
from curves.pages.access import readers_only
from curves.pages.rolls.measure_groups import key_measures
from curves.pages.stocks.sheet_rows import curve_rows, difference_rows, measure_groups
from curves.queries.comparison import StandardPair
from curves.queries.stock_sheet import SheetResult, StockSheet, stock_sheet
from curves.queries.verdicts import stock_verdicts
from labsite.accounts.queries import current_lab

CURVE_KEY = "stock"


def asked_sheet(request: HttpRequest, stock_id: int) -> StockSheet:
    """Return the sheet that the address asks for: ``?standards=`` names a pair, ``?result=`` one result."""
    number = request.GET.get("result", "")
    result_id = int(number) if number.isascii() and number.isdigit() and len(number) < 10 else None
    if number and result_id is None:
        result_id = 0  # no result has this number, and the sheet says so
    return stock_sheet(request.user, stock_id, pair_key=request.GET.get("standards", ""), result_id=result_id)


@require_safe
@readers_only
def stock(request, stock_id: int):
    """Show one stock."""
    sheet = asked_sheet(request, stock_id)
    context = {
        "sheet": sheet,
        "stock": sheet.stock,
        "facts": _facts(sheet.stock),
        "pair_tabs": _pair_tabs(sheet),
        "verdicts": stock_verdicts(
            request.user,
            stock_id=sheet.stock.pk,
            pair_ids=sheet.pair.ids if sheet.pair else None,
            has_result=sheet.result is not None and sheet.result.is_standing,
        ),
    }
    if sheet.result is not None:
        context |= _result_context(request, sheet, sheet.result)
    return render(request, "curves/stocks/stock.html", context)


def _result_context(request: HttpRequest, sheet: StockSheet, result: SheetResult) -> dict:
    figure = _figure(sheet.stock, result)
    permalink = f"{reverse('stock', args=[sheet.stock.pk])}?result={result.pooled.pk}"
    return {
        "result": result,
        "overrides": [roll for roll in result.rolls if roll.override_reasons],
        "figure": figure,
        "curves": _listed(sheet.stock, result),
        "key_measures": key_measures(result.analysis),
        "flags": [flag.text for flag in result.analysis.flags],
        "differences": difference_rows(result.comparison) if result.comparison else [],
        "measure_groups": measure_groups(result),
        "curve_rows": curve_rows(result.analysis),
        "measured_box_speed": _other_box_speed(sheet.stock, result),
        "citation": citation(sheet, result, result.rolls),
        "permalink": request.build_absolute_uri(permalink),
        "compare_query": f"standards={sheet.pair.key}&stock={sheet.stock.pk}",
    }


def _figure(stock: FilmStock, result: SheetResult) -> dict:
    """The stock's curve over the reference's; the reference itself is drawn as what it is."""
    own = (stock.name, result.analysis)
    if result.is_reference:
        return comparison_figure(own, [])
    reference = (result.reference.name, result.reference_analysis) if result.reference_analysis else None
    return comparison_figure(reference, [(*own, line_style(0, CURVE_KEY))], bands=True)


def _listed(stock: FilmStock, result: SheetResult) -> list[dict]:
    own = {"key": CURVE_KEY, "label": stock.name, "ink": 0}
    if result.is_reference:
        return [own | {"key": "reference", "ink": "reference", "note": "house reference"}]
    if result.reference_analysis is None:
        return [own]
    beside = {
        "key": "reference",
        "label": result.reference.name,
        "ink": "reference",
        "note": "house reference",
    }
    return [own, beside]


def _pair_tabs(sheet: StockSheet) -> list[dict]:
    """A tab for each pair of standards, where there is a choice."""
    if len(sheet.pairs) < 2:
        return []
    is_one_exposure = len({pair.exposure_revision_id for pair in sheet.pairs}) == 1
    return [
        {
            "title": _tab_title(pair, pair.process_label if is_one_exposure else pair.label),
            "url": f"?standards={pair.key}",
            "is_current": pair == sheet.pair,
        }
        for pair in sheet.pairs
    ]


def _tab_title(pair: StandardPair, words: str) -> str:
    return words if pair.is_in_force else f"{words} (superseded)"


def _facts(stock: FilmStock) -> list[tuple[str, str]]:
    return [
        ("Maker", stock.maker),
        ("Box speed", f"ISO {stock.box_speed}"),
        ("Formats", ", ".join(stock.formats)),
        ("Sensitisation", stock.get_sensitisation_display()),
        ("Base", stock.base_material),
        ("Sold", "in production" if stock.is_in_production else "discontinued"),
    ]


def _other_box_speed(stock: FilmStock, result: SheetResult) -> float | None:
    """The box speed that the result was held against, where the stock's has been corrected since."""
    used = result.analysis.box_speed
    return used if used is not None and used != stock.box_speed else None


def citation(sheet: StockSheet, result: SheetResult, rolls: tuple[Roll, ...]) -> str:
    """Return one line that names the result, its conditions and those who want to be named."""
    names = list(dict.fromkeys(roll.member.credit_line for roll in rolls if roll.member.credit_line))
    pooled = result.pooled
    count = f"{pooled.rolls_in_words} roll{'' if pooled.rolls_in_words == '1' else 's'}"
    tested_by = f" Tested by {', '.join(names)}." if names else ""
    return (
        f"{current_lab().name}: {sheet.stock.name} ({sheet.stock.maker}), result {pooled.pk} from {count}, "
        f"{sheet.pair.process_label}, {sheet.pair.exposure_label}, computed {pooled.created_at:%Y-%m-%d}, "
        f"engine {pooled.engine_version}.{tested_by}"
    )
