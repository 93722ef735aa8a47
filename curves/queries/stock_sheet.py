"""One stock as its sheet shows it: a result, what it rests on, and how it differs from the reference.

One pair of standards at a time. The sheet shows the result that stands or, where it is asked for by its
number, a past one: what somebody cited stays where it was.
"""

from dataclasses import dataclass

from django.db.models import QuerySet

from curves.models import (
    Batch,
    FilmStock,
    HouseReference,
    PooledAnalysis,
    Roll,
    RollState,
    StockResult,
)
from curves.queries.comparison import StandardPair
from curves.queries.repooling import Repooling, repoolings
from curves.queries.spread_inputs import roll_paths_of, spread_between
from curves.queries.standing import lab_spread_under
from curves.queries.stock_versions import SheetVersion, key_of, open_results, pairs_of, versions_of
from curves.queries.stocks import visible_results, visible_stocks
from curves.sensitometry import Analysis, Comparison, compare_with_reference
from labsite.common.access import is_member
from labsite.common.errors import NotFound
from labsite.jobs.models import Job


@dataclass(frozen=True)
class SheetResult:
    """The result that is shown, with the rolls that it rests on and the reference beside it."""

    pooled: PooledAnalysis
    analysis: Analysis
    is_standing: bool
    is_reference: bool
    rolls: tuple[Roll, ...]
    reference: FilmStock | None
    reference_analysis: Analysis | None
    comparison: Comparison | None

    @property
    def doubted(self) -> tuple[Roll, ...]:
        """The rolls among them that count no more: void, withdrawn, or held back since."""
        return tuple(roll for roll in self.rolls if roll.state != RollState.ACCEPTED or roll.is_held_back)


@dataclass(frozen=True)
class StockSheet:
    """Everything that a stock's page shows. ``pairs`` are those under which it has ever had a result."""

    stock: FilmStock
    pairs: tuple[StandardPair, ...]
    pair: StandardPair | None
    result: SheetResult | None
    versions: tuple[SheetVersion, ...]
    held_back: tuple[Roll, ...]
    open_count: int
    batches: tuple[Batch, ...]
    repoolings: tuple[Repooling, ...]
    job: Job | None


def visible_stock(user, stock_id: int) -> FilmStock:
    """Return one stock that this person may see; NotFound otherwise."""
    stock = visible_stocks(user).filter(pk=stock_id).first()
    if stock is None:
        raise NotFound("There is no such stock, or it is not open to you.")
    return stock


def stock_sheet(user, stock_id: int, *, pair_key: str = "", result_id: int | None = None) -> StockSheet:
    """Return the sheet of one stock under one pair of standards, or of one result by its number."""
    stock = visible_stock(user, stock_id)
    pooled = open_results(user, stock)
    standing = set(visible_results(user).filter(stock=stock).values_list("pooled_id", flat=True))
    pairs = pairs_of(pooled, standing)
    pair = _chosen_pair(pooled, pairs, pair_key, result_id)
    under = [each for each in pooled if pair and key_of(each) == pair.key]
    shown_id = result_id or next((each.pk for each in under if each.pk in standing), None)
    pending = repoolings((stock,), **pair.ids) if pair else ()
    rolls = Roll.objects.none()
    if is_member(user):
        rolls = Roll.objects.filter(batch__stock=stock).select_related("batch", "member", "run")
    return StockSheet(
        stock=stock,
        pairs=pairs,
        pair=pair,
        result=_result(shown_id, pair, is_standing=shown_id in standing) if shown_id else None,
        versions=versions_of(under, standing, shown_id),
        held_back=_held_back(rolls, pair),
        open_count=_open_rolls(rolls).count(),
        batches=tuple(stock.batches.order_by("-id")) if is_member(user) else (),
        repoolings=pending if shown_id in standing else (),
        job=_job_under_way(stock, pair, pending) if is_member(user) else None,
    )


def _chosen_pair(
    pooled: list[PooledAnalysis], pairs: tuple[StandardPair, ...], key: str, result_id: int | None
) -> StandardPair | None:
    if result_id is not None:
        key = next((key_of(each) for each in pooled if each.pk == result_id), "")
        if not key:
            raise NotFound("This stock has no result of that number, or it is not open to you.")
    if not key:
        return pairs[0] if pairs else None
    chosen = next((pair for pair in pairs if pair.key == key), None)
    if chosen is None:
        raise NotFound("This stock has no result under these standards.", field="standards")
    return chosen


def _result(pooled_id: int, pair: StandardPair, *, is_standing: bool) -> SheetResult:
    pooled = PooledAnalysis.objects.get(pk=pooled_id)
    analysis = Analysis.from_dict(pooled.as_dict())
    rolls = Roll.objects.filter(analyses__pooled_in=pooled).select_related("batch", "member", "run")
    appointed = HouseReference.objects.filter(**pair.ids, ended_at__isnull=True).select_related("stock")
    reference = next((each.stock for each in appointed), None)
    is_reference = reference is not None and reference.pk == pooled.stock_id
    against = None
    if reference is not None and not is_reference:
        results = StockResult.objects.filter(**pair.ids, stock=reference).select_related("pooled")
        against = next((each.pooled for each in results), None)
    return SheetResult(
        pooled=pooled,
        analysis=analysis,
        is_standing=is_standing,
        is_reference=is_reference,
        rolls=tuple(rolls.order_by("pk")),
        reference=reference,
        reference_analysis=Analysis.from_dict(against.as_dict()) if against else None,
        comparison=_compared(pooled, against, pair) if against else None,
    )


def _compared(pooled: PooledAnalysis, reference: PooledAnalysis, pair: StandardPair) -> Comparison:
    """By the lab's own spread, as on the Compare page."""
    paths = roll_paths_of([pooled.pk, reference.pk])
    spread = spread_between(lab_spread_under(**pair.ids), paths[pooled.pk], paths[reference.pk])
    ours, theirs = (Analysis.from_dict(each.as_dict()) for each in (pooled, reference))
    return compare_with_reference(ours, theirs, lab_spread=spread)


def _held_back(rolls: QuerySet[Roll], pair: StandardPair | None) -> tuple[Roll, ...]:
    """Accepted rolls that count for nothing, since something holds them back."""
    accepted = rolls.filter(state=RollState.ACCEPTED)
    if pair is not None:
        accepted = accepted.filter(**pair.ids)
    return tuple(roll for roll in accepted.order_by("pk") if roll.is_held_back)


def _open_rolls(rolls: QuerySet[Roll]) -> QuerySet[Roll]:
    return rolls.filter(state__in=(RollState.DRAFT, RollState.SUBMITTED, RollState.RETURNED))


def _job_under_way(stock: FilmStock, pair: StandardPair | None, pending: tuple[Repooling, ...]) -> Job | None:
    """The job that works on the shown result now, or on any where there is none yet."""
    if pair is not None:
        return next((each.job for each in pending if not each.job.is_ended), None)
    jobs = Job.objects.filter(kind="pool_stock", dedupe_key__startswith=f"pool_stock:{stock.pk}:")
    return jobs.exclude(state__in=Job.ENDED).order_by("created_at").first()
