"""The chosen stocks and the house reference under one pair of standards, to be set side by side."""

from dataclasses import dataclass

from django.db.models import Q

from curves.models import FilmStock, HouseReference, StockResult
from curves.queries.comparison import StandardPair, standard_pairs
from curves.queries.stocks import visible_results
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class BesideReference:
    """The pair of standards, the results of the reference and the chosen stocks, and the choices."""

    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    reference: StockResult | None
    stocks: tuple[StockResult, ...]
    choices: tuple[FilmStock, ...]
    missing: tuple[str, ...] = ()


def beside_reference(
    user, *, pair_key: str = "", stock_ids: tuple[int, ...] = (), with_curves: bool = True
) -> BesideReference:
    """Return the results of the reference and of the chosen stocks, in the order in which they were chosen.

    ``with_curves=False`` leaves the curves in the database; with no stock chosen it returns every stock.
    """
    pairs = standard_pairs(user)
    pair = _chosen(pairs, pair_key)
    if pair is None:
        return BesideReference(pairs, None, None, (), ())
    reference_id = _reference_id(pair)
    under = visible_results(user).filter(**pair.ids)
    wanted = under if with_curves else under.defer("pooled__detail")
    if stock_ids or with_curves:
        wanted = wanted.filter(Q(stock__in=stock_ids) | Q(stock=reference_id))
    found = {result.stock_id: result for result in wanted.order_by("stock__name", "stock__maker")}
    order = stock_ids or tuple(found)
    known = under.order_by("stock__name", "stock__maker").values_list("stock_id", flat=True)
    choices = FilmStock.objects.filter(pk__in=known)
    return BesideReference(
        pairs=pairs,
        pair=pair,
        reference=found.get(reference_id),
        stocks=tuple(found[pk] for pk in order if pk in found and pk != reference_id),
        choices=tuple(choices),
        missing=_missing(pair, [pk for pk in stock_ids if pk not in found]),
    )


def _chosen(pairs: tuple[StandardPair, ...], key: str) -> StandardPair | None:
    if not key:
        return pairs[0] if pairs else None
    chosen = next((pair for pair in pairs if pair.key == key), None)
    if chosen is None:
        raise NotFound(
            "No stock has a result under these standards, or they are not open to you.", field="standards"
        )
    return chosen


def _reference_id(pair: StandardPair) -> int | None:
    references = HouseReference.objects.filter(**pair.ids, ended_at__isnull=True)
    return references.values_list("stock_id", flat=True).first()


def _missing(pair: StandardPair, absent: list[int]) -> tuple[str, ...]:
    if not absent:
        return ()
    named = dict(FilmStock.objects.filter(pk__in=absent).values_list("pk", "name"))
    told = [f"{name} is left out: it has no accepted roll under {pair.label}." for name in named.values()]
    if unknown := [str(pk) for pk in absent if pk not in named]:
        told.append(f"No stock is numbered {', '.join(unknown)}.")
    return tuple(told)
