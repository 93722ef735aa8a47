"""From the comparison's view data to its figure, its panels and its list of curves."""

from django.urls import reverse

from curves.figures import (
    LIT_LIMIT,
    PanelSheet,
    comparison_figure,
    comparison_panels,
    difference_figure,
    gradient_figure,
    line_style,
)
from curves.pages.compare.selection import ALIGNMENTS, VIEWS, Selection
from curves.queries.comparison import ComparedStock, ComparisonView
from curves.sensitometry.comparing.curve_matching import matched_difference, unmatched_reason

MIXED_MARK = "† "


def stock_key(stock: ComparedStock) -> str:
    """Return the name by which the figure, the list and the tables find a curve."""
    return "reference" if stock.is_reference else f"stock-{stock.stock.pk}"


def stock_label(stock: ComparedStock) -> str:
    """Return the stock's name; one from under other standards bears a mark wherever it is shown."""
    return f"{MIXED_MARK if stock.other_standards else ''}{stock.stock.name}"


def sheet_url(stock: ComparedStock) -> str:
    """Return the address of the stock's sheet under the standards of its result."""
    pair = f"{stock.result.process_revision_id}-{stock.result.exposure_revision_id}"
    return f"{reverse('stock', args=[stock.stock.pk])}?standards={pair}"


def figure_title(view: ComparisonView, selection: Selection) -> str:
    """Return what the figure shows; the title goes with it into saved files, so it says what was mixed."""
    title = f"{VIEWS[selection.view]}, {ALIGNMENTS[selection.align]}"
    if not view.mixed:
        return title
    names = ", ".join(stock_label(stock) for stock in view.mixed)
    return f"{title}. Mixed standards: {names}"


def styled_stocks(view: ComparisonView, selection: Selection) -> list[tuple[ComparedStock, int]]:
    """Return the stocks with their inks: chosen ones in the order of the address, then the rest.

    A colour belongs to the place in the address, so it stays with its stock however a table is sorted.
    """
    others = {stock.stock.pk: stock for stock in view.stocks if not stock.is_reference}
    chosen = [others.pop(pk) for pk in selection.stocks if pk in others]
    return [(stock, ink) for ink, stock in enumerate([*chosen, *others.values()])]


def comparison_plot(view: ComparisonView, selection: Selection) -> dict | None:
    """Return the figure that the selection asks for; None where there is nothing to draw, or for panels."""
    styled = styled_stocks(view, selection)
    if selection.view == "panels" or (not styled and view.reference is None):
        return None
    lit = {stock_key(stock) for stock, _ in styled if stock.stock.pk in selection.stocks[:LIT_LIMIT]}
    if selection.view == "difference":
        return _difference_plot(view, selection, styled, lit)
    styled, left_out = _of_one_kind(view, selection, styled)
    reference = (view.reference.stock.name, view.reference.analysis) if view.reference else None
    tests = [(stock_label(stock), stock.analysis, line_style(ink, stock_key(stock))) for stock, ink in styled]
    if selection.view == "gradient":
        figure = gradient_figure(reference, tests, align=selection.align, lit=lit)
    else:
        options = {"align": selection.align, "density": selection.density, "bands": selection.bands}
        figure = comparison_figure(reference, tests, **options, lit=lit)
    figure["meta"]["left_out"] += left_out
    return figure


def _of_one_kind(view: ComparisonView, selection: Selection, styled) -> tuple[list, list[dict]]:
    """Stocks that share the reference's kind of exposure axis, and those that cannot stand on it."""
    first = view.reference or styled[0][0]
    if selection.align != "exposure":
        return styled, []
    is_kind = {stock_key(stock): stock.analysis.exposure == first.analysis.exposure for stock, _ in styled}
    left = [
        {"label": stock_label(stock), "key": stock_key(stock), "reason": "MIXED_EXPOSURE"}
        for stock, _ in styled
        if not is_kind[stock_key(stock)]
    ]
    return [each for each in styled if is_kind[stock_key(each[0])]], left


def _difference_plot(view: ComparisonView, selection: Selection, styled, lit) -> dict | None:
    if view.reference is None:
        return None
    how = {"align_by": selection.align, "density": selection.density}
    against = view.reference.analysis
    compared, reasons = [], {}
    for stock, ink in styled:
        key, found = stock_key(stock), matched_difference(stock.analysis, against, **how)
        compared.append((stock_label(stock), found, line_style(ink, key)))
        if not found["difference"].size:
            reasons[key] = unmatched_reason(stock.analysis, against, **how)
    return difference_figure(
        view.reference.stock.name,
        compared,
        align=selection.align,
        density=selection.density,
        exposure=against.exposure,
        bands=selection.bands,
        lit=lit,
        reasons=reasons,
    )


def stock_panels(view: ComparisonView, selection: Selection, stocks: list[ComparedStock]) -> PanelSheet:
    """Return a panel for each of these stocks over the reference."""
    reference = (view.reference.stock.name, view.reference.analysis) if view.reference else None
    tests = [
        (stock_label(stock), stock.analysis, stock_key(stock)) for stock in stocks if not stock.is_reference
    ]
    return comparison_panels(reference, tests, align=selection.align, density=selection.density)


def listed_curves(view: ComparisonView, selection: Selection, figure: dict | None) -> list[dict]:
    """Return the keyboard list of the figure's curves: the reference and the chosen stocks."""
    left_out = {left["key"] for left in figure["meta"]["left_out"]} if figure else set()
    curves = []
    if view.reference:
        is_drawn = "reference" not in left_out
        curves.append(
            {
                "key": "reference",
                "label": view.reference.stock.name,
                "ink": "reference",
                "note": "house reference" if is_drawn else "house reference, not drawn",
            }
        )
    for stock, ink in styled_stocks(view, selection):
        if stock.stock.pk in selection.stocks:
            notes = ["other standards"] if stock.other_standards else []
            if stock_key(stock) in left_out:
                notes += ["not drawn"]
            elif ink >= LIT_LIMIT:
                notes += ["grey: only six are coloured"]
            label = stock_label(stock)
            curves.append({"key": stock_key(stock), "label": label, "ink": ink, "note": ", ".join(notes)})
    return curves
