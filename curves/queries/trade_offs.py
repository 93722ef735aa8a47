"""Grain against speed and sharpness against grain, over the whole lab: each stock, and what none betters."""

from dataclasses import dataclass

from django.db.models.fields.json import KeyTransform

from curves.models import HouseReference
from curves.queries.comparison import StandardPair, chosen_pair, standard_pairs
from curves.queries.comparison_rows import GRAIN, SHARPNESS, SPEED
from curves.queries.picture_measures import LabPictures, Rig, StockPicture, lab_pictures
from curves.queries.stocks import visible_results
from curves.sensitometry import MEASURES, Measure
from curves.sensitometry.comparing.frontier import Frontier, frontier_of
from curves.sensitometry.measures import withheld

#: Plot → (measure across, measure up, whether more of each is better).
PLOTS = {
    "speed": (SPEED, GRAIN, (True, False)),
    "sharpness": (GRAIN, SHARPNESS, (False, True)),
}


@dataclass(frozen=True)
class TradedStock:
    """One stock with the two measures of the plot; ``verdict`` is "" where it is not in the running."""

    stock_id: int
    name: str
    box_speed: int
    roll_count: int
    across: Measure
    up: Measure
    rig: Rig | None
    is_apart: bool
    is_reference: bool
    verdict: str = ""

    @property
    def is_drawn(self) -> bool:
        """Whether both measures have a value and an interval."""
        return all(None not in (each.value, each.low, each.high) for each in (self.across, self.up))


@dataclass(frozen=True)
class TradeOffs:
    """One plot of the lab: its stocks by name, those on the frontier told apart; the rigs that measured."""

    plot: str
    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    stocks: tuple[TradedStock, ...] = ()
    frontier: Frontier | None = None
    rigs: tuple[Rig, ...] = ()

    @property
    def measure_names(self) -> tuple[str, str]:
        """What is across and what is up."""
        return PLOTS[self.plot][:2]

    def with_verdict(self, verdict: str) -> tuple[TradedStock, ...]:
        """Return the stocks of which this was found."""
        return tuple(stock for stock in self.stocks if stock.verdict == verdict)

    @property
    def apart(self) -> tuple[TradedStock, ...]:
        """Stocks that only another rig measured: drawn, and not in the running."""
        return tuple(stock for stock in self.stocks if stock.is_apart and stock.is_drawn)

    @property
    def missing(self) -> tuple[TradedStock, ...]:
        """Stocks that cannot be drawn."""
        return tuple(stock for stock in self.stocks if not stock.is_drawn)


def trade_offs(user, *, plot: str = "speed", pair_key: str = "") -> TradeOffs:
    """Return a plot of all stocks under one pair of standards; the first where none is named."""
    pairs = standard_pairs(user)
    pair = chosen_pair(pairs, pair_key)
    if pair is None:
        return TradeOffs(plot, pairs, None)
    pictures = lab_pictures(pair.ids)
    stocks = [_traded(row, pictures, plot) for row in _rows(user, pair)]
    return _judged(TradeOffs(plot, pairs, pair, tuple(stocks), None, _rigs(pictures, plot)))


def _rows(user, pair: StandardPair):
    reference = HouseReference.objects.filter(**pair.ids, ended_at__isnull=True).values_list("stock_id")
    reference_id = next((each for (each,) in reference), None)
    results = visible_results(user).filter(**pair.ids).order_by("stock__name", "stock__maker")
    results = results.annotate(speed=KeyTransform(SPEED, "pooled__measures"))
    told = ("stock_id", "stock__name", "stock__box_speed", "pooled__roll_count", "speed")
    for stock_id, name, box_speed, rolls, speed in results.values_list(*told):
        yield stock_id, name, box_speed, rolls, speed, stock_id == reference_id


def _traded(row, pictures: LabPictures, plot: str) -> TradedStock:
    stock_id, name, box_speed, rolls, speed, is_reference = row
    found = pictures.by_stock.get(stock_id, {})
    across, up = (_measure(each, found, speed) for each in PLOTS[plot][:2])
    used = [found[each] for each in PLOTS[plot][:2] if each in found]
    return TradedStock(
        stock_id=stock_id,
        name=name,
        box_speed=box_speed,
        roll_count=rolls,
        across=across,
        up=up,
        rig=used[-1].rig if used else None,
        is_apart=any(each.is_apart for each in used),
        is_reference=is_reference,
    )


def _measure(name: str, found: dict[str, StockPicture], speed: dict | None) -> Measure:
    if name in found:
        return found[name].measure
    if name == SPEED and speed:
        return Measure.from_dict(name, speed)
    return withheld(name, "NOT_MEASURED", MEASURES[name].unit)


def _judged(view: TradeOffs) -> TradeOffs:
    """The view with the frontier of those that compare."""
    running = [stock for stock in view.stocks if stock.is_drawn and not stock.is_apart]
    ends = [
        [(getattr(stock.across, end), getattr(stock.up, end)) for stock in running]
        for end in ("value", "low", "high")
    ]
    frontier = frontier_of(*ends, is_more_better=PLOTS[view.plot][2])
    verdicts = {stock.stock_id: verdict for stock, verdict in zip(running, frontier.verdicts, strict=True)}
    stocks = tuple(
        TradedStock(**{**vars(stock), "verdict": verdicts.get(stock.stock_id, "")}) for stock in view.stocks
    )
    return TradeOffs(view.plot, view.pairs, view.pair, stocks, frontier, view.rigs)


def _rigs(pictures: LabPictures, plot: str) -> tuple[Rig, ...]:
    """The lab's rig of each measure of the plot."""
    firsts = [pictures.rigs[name][0] for name in PLOTS[plot][:2] if pictures.rigs.get(name)]
    return tuple({rig.digest: rig for rig in firsts}.values())
