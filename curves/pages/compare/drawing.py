"""From the comparison's view data to its figure and its list of curves."""

from curves.figures import (
    LIT_LIMIT,
    MixedExposureError,
    comparison_figure,
    difference_figure,
    gradient_figure,
    line_style,
)
from curves.pages.compare.selection import Selection
from curves.queries.comparison import ComparedStock, ComparisonView


def stock_key(stock: ComparedStock) -> str:
    """Return the name by which the figure, the list and the tables find a curve."""
    return "reference" if stock.is_reference else f"stock-{stock.stock.pk}"


def styled_stocks(view: ComparisonView, selection: Selection) -> list[tuple[ComparedStock, int]]:
    """Return the stocks with their inks: chosen ones in the order of the address, then the rest.

    A colour belongs to the place in the address, so it stays with its stock however a table is sorted.
    """
    others = {stock.stock.pk: stock for stock in view.stocks if not stock.is_reference}
    chosen = [others.pop(pk) for pk in selection.stocks if pk in others]
    return [(stock, ink) for ink, stock in enumerate([*chosen, *others.values()])]


def comparison_plot(view: ComparisonView, selection: Selection) -> dict | None:
    """Return the figure that the selection asks for; None where there is nothing to draw."""
    styled = styled_stocks(view, selection)
    if not styled and view.reference is None:
        return None
    lit = {stock_key(stock) for stock, _ in styled if stock.stock.pk in selection.stocks[:LIT_LIMIT]}
    if selection.view == "difference":
        return _difference_plot(view, selection, styled, lit)
    reference = (view.reference.stock.name, view.reference.analysis) if view.reference else None
    tests = [(stock.stock.name, stock.analysis, line_style(ink, stock_key(stock))) for stock, ink in styled]
    if selection.view == "gradient":
        return gradient_figure(reference, tests, align=selection.align, lit=lit)
    return comparison_figure(
        reference, tests, align=selection.align, density=selection.density, bands=selection.bands, lit=lit
    )


def _difference_plot(view, selection, styled, lit) -> dict | None:
    if view.reference is None:
        return None
    compared = [
        (stock.stock.name, stock.comparison, line_style(ink, stock_key(stock)))
        for stock, ink in styled
        if stock.comparison is not None
    ]
    return difference_figure(
        view.reference.stock.name,
        compared,
        align=selection.align,
        exposure=view.reference.analysis.exposure,
        bands=selection.bands,
        lit=lit,
    )


def listed_curves(view: ComparisonView, selection: Selection) -> list[dict]:
    """Return the keyboard list of curves: the reference and the chosen stocks."""
    curves = []
    if view.reference:
        curves.append(
            {
                "key": "reference",
                "label": view.reference.stock.name,
                "ink": "reference",
                "note": "house reference",
            }
        )
    for stock, ink in styled_stocks(view, selection):
        if stock.stock.pk in selection.stocks:
            note = "" if ink < LIT_LIMIT else "grey: only six are coloured"
            curves.append({"key": stock_key(stock), "label": stock.stock.name, "ink": ink, "note": note})
    return curves


__all__ = ["MixedExposureError", "comparison_plot", "listed_curves", "stock_key", "styled_stocks"]
