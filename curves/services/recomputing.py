"""After an upgrade: what an older engine computed is computed anew as new rows, and the old ones stay."""

from dataclasses import dataclass

from django.db import transaction
from django.db.models import Exists, OuterRef

from curves.models import Roll, SheetVersion, SpreadEstimate, StockResult
from curves.sensitometry import ENGINE_VERSION
from curves.services.fitting import request_fit
from curves.services.pooling import Standing, request_pool_of
from curves.services.sheets import request_sheet
from curves.services.spreads import request_spread
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin


@dataclass(frozen=True)
class Recomputation:
    """How many results were of an older engine: of rolls, of stocks, and of the lab's spread."""

    rolls: int
    stocks: int
    spreads: int


@transaction.atomic
def recompute_results(*, actor=None) -> Recomputation:
    """Submit the jobs that compute anew whatever stands and is of an older engine.

    Rolls are computed from what stands now, decided ones too; an accepted roll's new analysis has its
    stock pooled anew, and that the spread. ``actor`` is None for the site itself, at an upgrade.
    """
    if actor is not None:
        require_admin(actor)
    counts = Recomputation(_fit_rolls(actor), _pool_stocks(actor), _estimate_spreads())
    _publish_first_sheets()
    return counts


def _publish_first_sheets() -> None:
    """Results from before sheets were published have none; those that are pooled anew get theirs by it."""
    same = {name: OuterRef(name) for name in ("stock", "process_revision", "exposure_revision")}
    results = StockResult.objects.filter(pooled__engine_version=ENGINE_VERSION)
    for result in results.exclude(Exists(SheetVersion.objects.filter(**same))).order_by("pk"):
        request_sheet(
            stock_id=result.stock_id,
            process_revision_id=result.process_revision_id,
            exposure_revision_id=result.exposure_revision_id,
        )


def _fit_rolls(actor) -> int:
    rolls = Roll.objects.filter(current_analysis__isnull=False).order_by("pk")
    rolls = list(
        rolls.exclude(current_analysis__engine_version=ENGINE_VERSION).select_related("current_analysis")
    )
    for roll in rolls:
        job = request_fit(roll=roll, requested_by=actor)
        record_audit(
            actor=actor,
            action="fit roll again",
            subject=roll,
            before={"engine": roll.current_analysis.engine_version},
            after={"engine": ENGINE_VERSION, "job": str(job.pk)},
        )
    return len(rolls)


def _pool_stocks(actor) -> int:
    """Besides those that follow their rolls' fits: some may have been left when a job failed."""
    results = StockResult.objects.exclude(pooled__engine_version=ENGINE_VERSION).select_related("stock")
    for result in results:
        standing = Standing(result.stock_id, result.process_revision_id, result.exposure_revision_id)
        request_pool_of(standing=standing, stock=result.stock, requested_by=actor)
    return len(results)


def _estimate_spreads() -> int:
    estimates = SpreadEstimate.objects.filter(is_current=True).exclude(engine_version=ENGINE_VERSION)
    for estimate in estimates:
        request_spread(
            process_revision_id=estimate.process_revision_id,
            exposure_revision_id=estimate.exposure_revision_id,
        )
    return len(estimates)
