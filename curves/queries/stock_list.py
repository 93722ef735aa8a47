"""The list of stocks: which ones are wanted, and what stands for each under one pair of standards."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import (
    Case,
    F,
    FilteredRelation,
    FloatField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.fields.json import KeyTextTransform, KeyTransform
from django.db.models.functions import Cast, NullIf

from curves.models import Analysis, FilmStock, HouseReference, StockResult
from curves.queries.comparison import StandardPair
from curves.queries.frame_costs import FrameCost, FrameCosts
from curves.queries.standing import day_tested, overrides_in
from curves.queries.stocks import visible_results, visible_stocks

#: Measures by which the list can be put in order.
SORTED_MEASURES = ("iso_speed", "exposure_index", "contrast_index")


@dataclass(frozen=True)
class StockFilter:
    """Which stocks are wanted; empty values want all. ``has_result`` is under the chosen standards."""

    name_or_maker: str = ""
    format: str = ""
    sensitisation: str = ""
    is_in_production: bool | None = None
    slowest: int | None = None
    fastest: int | None = None
    has_result: bool | None = None
    dearest_frame: float | None = None

    def condition(self) -> Q:
        """Return the filter as a condition on stocks, formats and costs aside."""
        named = Q(name__icontains=self.name_or_maker) | Q(maker__icontains=self.name_or_maker)
        wanted = {
            "sensitisation": self.sensitisation or None,
            "is_in_production": self.is_in_production,
            "box_speed__gte": self.slowest,
            "box_speed__lte": self.fastest,
            "pooled_id__isnull": None if self.has_result is None else not self.has_result,
        }
        return named & Q(**{name: value for name, value in wanted.items() if value is not None})


@dataclass(frozen=True)
class StockRow:
    """One line of the list; ``result`` is None where no roll counts under the chosen standards.

    ``newest_on`` is when the newest roll behind the result was developed, as on the coverage board.
    """

    stock: FilmStock
    result: StockResult | None
    newest_on: date | None
    is_reference: bool
    overrides: tuple[str, ...]
    cost: FrameCost | None = None

    @property
    def measures(self) -> dict:
        """The standing measures as they were stored."""
        return self.result.pooled.measures if self.result else {}


def stocks_by_format(user) -> dict[str, set[int]]:
    """Return every format that some visible stock has, with the ids of those stocks.

    Taken apart here, since SQLite cannot look into a list that it keeps as text.
    """
    found: dict[str, set[int]] = {}
    for stock_id, formats in visible_stocks(user).order_by().values_list("pk", "formats"):
        for name in formats:
            found.setdefault(name, set()).add(stock_id)
    return dict(sorted(found.items()))


def listed_stocks(
    user,
    wanted: StockFilter | None,
    pair: StandardPair | None,
    by_format: dict[str, set[int]],
    costs: dict[int, float] | None = None,
) -> QuerySet[FilmStock]:
    """Return visible stocks with what they can be put in order by; None wants what does not exist.

    ``costs``, stock → cost of a frame, are needed where the filter or the order asks for them.
    """
    under = Q(
        results__process_revision=pair.process_revision_id if pair else None,
        results__exposure_revision=pair.exposure_revision_id if pair else None,
    )
    stocks = visible_stocks(user).annotate(standing=FilteredRelation("results", condition=under))
    stocks = stocks.annotate(
        pooled_id=F("standing__pooled_id"),
        roll_count=F("standing__pooled__roll_count"),
        **{f"{name}_value": _measured(name) for name in SORTED_MEASURES},
    )
    behind = Analysis.objects.filter(pooled_in=OuterRef("pooled_id")).annotate(day=day_tested("roll__"))
    stocks = stocks.annotate(newest_on=Subquery(behind.order_by("-day").values("day")[:1]))
    if wanted is None:
        return stocks.none()
    if costs is not None:
        by_cost = (When(pk=pk, then=Value(cost)) for pk, cost in costs.items())
        stocks = stocks.annotate(frame_cost=Case(*by_cost, default=None, output_field=FloatField()))
    if wanted.dearest_frame is not None:
        stocks = stocks.filter(
            pk__in=[pk for pk, cost in (costs or {}).items() if cost <= wanted.dearest_frame]
        )
    if wanted.format:
        stocks = stocks.filter(pk__in=by_format.get(wanted.format, ()))
    return stocks.filter(wanted.condition())


def stock_rows(
    user, stocks: Iterable[FilmStock], pair: StandardPair | None, costs: FrameCosts
) -> list[StockRow]:
    """Return lines of the list, with the measures but not the curves of the results."""
    stocks = list(stocks)
    under = {
        "process_revision": pair.process_revision_id if pair else None,
        "exposure_revision": pair.exposure_revision_id if pair else None,
    }
    results = visible_results(user).defer("pooled__detail").filter(stock__in=stocks, **under)
    standing = {result.stock_id: result for result in results}
    references = HouseReference.objects.filter(stock__in=standing, ended_at__isnull=True, **under)
    reference_ids = set(references.values_list("stock_id", flat=True))
    overrides = overrides_in(standing.values())
    return [
        StockRow(
            stock,
            result=standing.get(stock.pk),
            newest_on=stock.newest_on,
            is_reference=stock.pk in reference_ids,
            overrides=overrides.get(stock.pk, ()),
            cost=costs.by_stock.get(stock.pk),
        )
        for stock in stocks
    ]


def _measured(name: str) -> Cast:
    """The value of a measure as a number; empty where it is withheld, however the database writes that."""
    measure = KeyTransform(name, "standing__pooled__measures")
    return Cast(NullIf(KeyTextTransform("value", measure), Value("null")), FloatField())
