"""What rests on a run: its rolls, their results, and whatever was pooled, judged or compared with these.

Asked before a run is declared void and as long as it is, so that nobody has to search for what follows.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from curves.models import (
    Analysis,
    HouseReference,
    PooledAnalysis,
    ProcessRun,
    Roll,
    RollState,
    SpreadEstimate,
    StockResult,
)
from curves.queries.repooling import Repooling, repoolings
from labsite.common.access import require_member
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class PooledEffect:
    """A result of a stock that rests, or rested, on some of the rolls."""

    pooled: PooledAnalysis
    is_standing: bool
    rolls: tuple[Roll, ...]
    roll_count: int

    @property
    def is_left_without(self) -> bool:
        """Whether nothing else is there to rest on."""
        return len(self.rolls) >= self.roll_count


@dataclass(frozen=True)
class RestingOn:
    """Everything that rests on some rolls."""

    rolls: tuple[Roll, ...]
    analyses: tuple[Analysis, ...]
    standing: tuple[PooledEffect, ...]
    past: tuple[PooledEffect, ...]
    spreads: tuple[SpreadEstimate, ...]
    references: tuple[HouseReference, ...]
    repoolings: tuple[Repooling, ...]

    @property
    def accepted(self) -> tuple[Roll, ...]:
        """The rolls that comparisons may rest on."""
        return tuple(roll for roll in self.rolls if roll.state == RollState.ACCEPTED)

    @property
    def is_nothing(self) -> bool:
        """Whether no roll is concerned."""
        return not self.rolls


@dataclass(frozen=True)
class RunEffects:
    """A run, and what rests on it."""

    run: ProcessRun
    resting: RestingOn


def run_effects(user, run_id: int) -> RunEffects:
    """Return what rests on a run; for members."""
    require_member(user)
    runs = ProcessRun.objects.select_related("revision__standard", "operator", "voided_by")
    run = runs.filter(pk=run_id).first()
    if run is None:
        raise NotFound("There is no such run.")
    return RunEffects(run, resting_on(Roll.objects.filter(run=run)))


def resting_on(rolls: QuerySet[Roll]) -> RestingOn:
    """Return what rests on these rolls; many take no more queries than one, but for pairs of standards."""
    found = tuple(rolls.select_related("batch__stock", "member", "run").order_by("pk"))
    analyses = Analysis.objects.filter(roll__in=found).defer("measures", "detail").order_by("roll", "-pk")
    pooled = _pooled(found)
    standing = tuple(each for each in pooled if each.is_standing)
    return RestingOn(
        rolls=found,
        analyses=tuple(analyses),
        standing=standing,
        past=tuple(each for each in pooled if not each.is_standing),
        spreads=_spreads(pooled),
        references=_references(pooled),
        repoolings=_under_way(found),
    )


def _pooled(rolls: tuple[Roll, ...]) -> list[PooledEffect]:
    by_id = {roll.pk: roll for roll in rolls}
    pooled = (
        PooledAnalysis.objects.filter(analyses__roll__in=rolls)
        .distinct()
        .select_related("stock", "process_revision__standard", "exposure_revision__standard")
        .defer("measures", "detail")
        .order_by("-pk")
    )
    ids = [each.pk for each in pooled]
    own: dict[int, list[Roll]] = {}
    counts: dict[int, int] = {}
    links = PooledAnalysis.analyses.through.objects.filter(pooledanalysis__in=ids)
    for pooled_id, roll_id in links.values_list("pooledanalysis_id", "analysis__roll_id"):
        counts[pooled_id] = counts.get(pooled_id, 0) + 1
        if roll_id in by_id:
            own.setdefault(pooled_id, []).append(by_id[roll_id])
    standing = set(StockResult.objects.filter(pooled__in=ids).values_list("pooled_id", flat=True))
    return [
        PooledEffect(
            pooled=each,
            is_standing=each.pk in standing,
            rolls=tuple(sorted(own.get(each.pk, ()), key=lambda roll: roll.pk)),
            roll_count=counts.get(each.pk, 0),
        )
        for each in pooled
    ]


def _under_any(pairs: Iterable[tuple[int, int]]) -> Q:
    condition = Q(pk__in=[])
    for process_revision_id, exposure_revision_id in pairs:
        condition |= Q(process_revision_id=process_revision_id, exposure_revision_id=exposure_revision_id)
    return condition


def _pairs(pooled: list[PooledEffect]) -> set[tuple[int, int]]:
    return {(each.pooled.process_revision_id, each.pooled.exposure_revision_id) for each in pooled}


def _spreads(pooled: list[PooledEffect]) -> tuple[SpreadEstimate, ...]:
    """Estimates of the lab's spread under the standards where a stock had several rolls."""
    several = [each for each in pooled if each.roll_count > 1]
    estimates = SpreadEstimate.objects.filter(_under_any(_pairs(several)), is_current=True)
    estimates = estimates.select_related("process_revision__standard", "exposure_revision__standard")
    return tuple(estimates.order_by("pk"))


def _references(pooled: list[PooledEffect]) -> tuple[HouseReference, ...]:
    """House references whose own result is concerned: every comparison under the pair follows."""
    standing = {
        (each.pooled.stock_id, each.pooled.process_revision_id, each.pooled.exposure_revision_id)
        for each in pooled
    }
    references = HouseReference.objects.filter(_under_any(_pairs(pooled)), ended_at__isnull=True)
    references = references.select_related(
        "stock", "process_revision__standard", "exposure_revision__standard"
    )
    return tuple(
        each
        for each in references.order_by("pk")
        if (each.stock_id, each.process_revision_id, each.exposure_revision_id) in standing
    )


def _under_way(rolls: tuple[Roll, ...]) -> tuple[Repooling, ...]:
    """The poolings that are waiting, running or failed for the stocks of these rolls."""
    stocks: dict[tuple[int, int], dict] = {}
    for roll in rolls:
        pair = (roll.process_revision_id, roll.exposure_revision_id)
        stocks.setdefault(pair, {})[roll.batch.stock_id] = roll.batch.stock
    return tuple(
        each
        for (process_revision_id, exposure_revision_id), under in stocks.items()
        for each in repoolings(
            under.values(),
            process_revision_id=process_revision_id,
            exposure_revision_id=exposure_revision_id,
        )
    )
