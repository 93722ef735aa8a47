"""Grain against speed, sharpness against grain: the lab's stocks on a plot, with what none betters."""

from dataclasses import dataclass, field, replace
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.figures.styles import LIT_LIMIT
from curves.figures.trade_off import TradePoint, trade_off_figure
from curves.pages.access import readers_only
from curves.pages.compare.limits import AxisLimits
from curves.pages.compare.selection import Selection
from curves.queries.trade_offs import PLOTS, TradedStock, TradeOffs, trade_offs
from curves.sensitometry import MEASURES
from labsite.templatetags.measures import unit_text

TITLES = {"speed": "Grain against speed", "sharpness": "Sharpness against grain"}
GOALS = {"speed": "faster and finer", "sharpness": "finer and sharper"}
VERDICTS = {
    "on": "not bettered",
    "possible": "perhaps",
    "off": "bettered",
}
ORDER = ("on", "possible", "off", "")
MOST_NAMED = 8
ROWS_A_SHEET = 120


@dataclass(frozen=True)
class TradeSelection:
    """What the address says: plot, standards, chosen stocks in their order."""

    plot: str = "speed"
    standards: str = ""
    stocks: tuple[int, ...] = ()
    limits: AxisLimits = field(default_factory=AxisLimits)

    @classmethod
    def from_query(cls, query) -> "TradeSelection":
        """Read an address; unknown words fall back to the first choice."""
        asked = Selection.from_query(query)
        plot = query.get("plot")
        plot = plot if plot in PLOTS else "speed"
        return cls(plot, asked.standards, asked.stocks, AxisLimits.from_query(query, plot))

    def query(self) -> str:
        """Return the canonical query string."""
        parts = [("plot", self.plot)] if self.plot != "speed" else []
        parts += [("standards", self.standards)] if self.standards else []
        parts += [("stocks", ".".join(map(str, self.stocks)))] if self.stocks else []
        parts += [(name, text) for name, text in self.limits.texts.items() if text]
        return urlencode(parts)

    def on_other_axes(self, **values) -> "TradeSelection":
        """Return the selection with some of its values changed, and without the limits of its axes."""
        return replace(self, limits=AxisLimits(), **values)


@dataclass(frozen=True)
class TradeRow:
    """One line of the table."""

    stock: TradedStock
    key: str
    ink: int | None
    is_chosen: bool
    verdict: str
    side_query: str


@require_safe
@readers_only
def trade_off_page(request):
    """Show one trade-off of the whole lab."""
    selection = TradeSelection.from_query(request.GET)
    view = trade_offs(request.user, plot=selection.plot, pair_key=selection.standards)
    rows = _rows(view, selection)
    page = Paginator(_chosen_first(rows), ROWS_A_SHEET).get_page(request.GET.get("page"))
    names = view.measure_names
    figure = _figure(view, rows) if any(row.stock.is_drawn for row in rows) else None
    selection = replace(selection, limits=selection.limits.over(figure))
    context = {
        "view": view,
        "selection": selection,
        "title": TITLES[selection.plot],
        "summary": summary_line(view),
        "rows": page.object_list,
        "page": page,
        "figure": figure,
        "headings": [
            {"name": name, "title": MEASURES[name].title, "unit": unit_text(MEASURES[name].unit)}
            for name in names
        ],
        "order": ".".join(map(str, selection.stocks)),
        "tabs": [
            {
                "title": title,
                "url": f"?{selection.on_other_axes(plot=plot).query()}",
                "is_current": plot == selection.plot,
            }
            for plot, title in TITLES.items()
        ],
        "pair_tabs": [
            {
                "title": pair.label,
                "url": f"?{selection.on_other_axes(standards=pair.key).query()}",
                "is_current": pair == view.pair,
            }
            for pair in view.pairs
        ],
        "permalink": request.build_absolute_uri(f"{reverse('compare_trade_offs')}?{selection.query()}"),
    }
    return render(request, "curves/compare/trade_offs.html", context)


def summary_line(view: TradeOffs) -> str:
    """Return in one line which stocks none betters, for certain and perhaps."""
    if not any(stock.verdict for stock in view.stocks):
        return "No stock has both measures yet, so nothing is claimed."
    goals = GOALS[view.plot]
    certain, possible = view.with_verdict("on"), view.with_verdict("possible")
    parts = [f"No stock is both {goals} than {_names(certain)}."] if certain else []
    if possible:
        same = "the same holds of" if certain else f"no stock is both {goals} than"
        parts.append(f"Perhaps {same} {_names(possible)}.")
    beaten = len(view.with_verdict("off"))
    parts.append(f"{beaten or 'None'} {'are' if beaten > 1 else 'is'} bettered in both for certain.")
    return " ".join(parts)


def _names(stocks: tuple[TradedStock, ...]) -> str:
    names = [stock.name for stock in stocks[:MOST_NAMED]]
    if len(stocks) > MOST_NAMED:
        names.append(f"{len(stocks) - MOST_NAMED} more")
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _rows(view: TradeOffs, selection: TradeSelection) -> list[TradeRow]:
    """The stocks that none betters first, the chosen ones marked."""
    place = {pk: number for number, pk in enumerate(selection.stocks)}
    reference = next((stock for stock in view.stocks if stock.is_reference), None)
    rows = []
    for stock in sorted(view.stocks, key=lambda each: (not each.is_drawn, ORDER.index(each.verdict))):
        beside = [pk for pk in (reference.stock_id if reference else None, stock.stock_id) if pk]
        rows.append(
            TradeRow(
                stock=stock,
                key="reference" if stock.is_reference else f"stock-{stock.stock_id}",
                ink=place.get(stock.stock_id),
                is_chosen=stock.stock_id in place,
                verdict="by another rig" if stock.is_apart else VERDICTS.get(stock.verdict, ""),
                side_query=urlencode([("stock", pk) for pk in dict.fromkeys(beside)]),
            )
        )
    return rows


def _chosen_first(rows: list[TradeRow]) -> list[TradeRow]:
    """In a lab of many sheets what was ticked, and the reference, are on the first."""
    if len(rows) <= ROWS_A_SHEET:
        return rows
    return sorted(rows, key=lambda row: not (row.is_chosen or row.stock.is_reference))


def _figure(view: TradeOffs, rows: list[TradeRow]) -> dict:
    points = [
        TradePoint(
            key=row.key,
            name=row.stock.name,
            across=_ends(row.stock.across),
            up=_ends(row.stock.up),
            verdict=row.stock.verdict,
            ink=row.ink if row.ink is not None and row.ink < LIT_LIMIT else None,
        )
        for row in reversed(rows)
        if row.stock.is_drawn
    ]
    frontier = view.frontier
    titles = [f"{MEASURES[name].title} ({unit_text(MEASURES[name].unit)})" for name in view.measure_names]
    return trade_off_figure(
        points,
        (frontier.edge, frontier.sure_edge, frontier.hoped_edge),
        titles=tuple(titles),
        is_more_better=PLOTS[view.plot][2],
        is_log_across=view.plot == "speed",
        description=(
            f"{len(points)} stocks with their 95 % intervals. Filled: no other is both {GOALS[view.plot]},"
            " for certain; open ring: perhaps; cross: another is; square: measured by another rig. The line"
            " runs through what no stock betters by its value, the band from what is reached for certain to"
            " what may be reached at most."
        ),
    )


def _ends(measure) -> tuple[float, float, float]:
    return measure.value, measure.low, measure.high
