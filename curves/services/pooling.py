"""A stock's standing result: pooled over its accepted rolls whenever that set changes."""

from dataclasses import asdict, dataclass

from django.db import transaction

from curves.models import Analysis, FilmStock, PooledAnalysis, Roll, StockResult
from curves.queries.inputs import digest_of
from curves.queries.repooling import pool_key
from curves.queries.standing import standing_analyses
from curves.sensitometry import Analysis as EngineAnalysis
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job


@dataclass(frozen=True)
class Standing:
    """What a pooled result stands for: one stock under one process and one exposure revision."""

    stock_id: int
    process_revision_id: int
    exposure_revision_id: int

    @property
    def pair(self) -> dict[str, int]:
        """The two standards, without the stock."""
        return {
            "process_revision_id": self.process_revision_id,
            "exposure_revision_id": self.exposure_revision_id,
        }


def request_pool(*, roll: Roll, requested_by=None) -> Job:
    """Submit the pooling of the roll's stock under the roll's standards, on commit."""
    stock = roll.batch.stock
    standing = Standing(stock.pk, roll.process_revision_id, roll.exposure_revision_id)
    return request_pool_of(standing=standing, stock=stock, requested_by=requested_by)


def request_pool_of(*, standing: Standing, stock: FilmStock, requested_by=None) -> Job:
    """Submit the pooling of a stock under one process and one exposure revision, on commit."""
    subject = asdict(standing)
    return submit_job(
        kind="pool_stock",
        subject=subject,
        label=f"Pool the accepted rolls of {stock}",
        requested_by=requested_by,
        dedupe_key=pool_key(**subject),
        link=f"/stocks/{stock.pk}/",
    )


@transaction.atomic
def store_pooled_analysis(
    *, standing: Standing, analyses: list[Analysis], result: EngineAnalysis
) -> PooledAnalysis:
    """Keep a pooled result, once for each set of analyses, and let it stand if that set still does."""
    _lock_results(standing)
    document = result.to_dict()
    measures = document.pop("measures")
    pooled, is_new = PooledAnalysis.objects.get_or_create(
        stock_id=standing.stock_id,
        process_revision_id=standing.process_revision_id,
        exposure_revision_id=standing.exposure_revision_id,
        engine_version=result.engine_version,
        input_digest=digest_of({"analyses": sorted(a.pk for a in analyses)}),
        defaults={
            "measures": measures,
            "detail": document,
            "roll_count": result.roll_count,
            "left_out_count": len(analyses) - result.roll_count,
        },
    )
    if is_new:
        pooled.analyses.set(analyses)
    if {a.pk for a in standing_analyses(standing)} == {a.pk for a in analyses}:
        StockResult.objects.update_or_create(
            stock_id=standing.stock_id,
            process_revision_id=standing.process_revision_id,
            exposure_revision_id=standing.exposure_revision_id,
            defaults={"pooled": pooled},
        )
    return pooled


@transaction.atomic
def clear_stock_result(*, standing: Standing) -> None:
    """Let nothing stand for a stock that has no roll to rest on any more; its past results are kept."""
    _lock_results(standing)
    if standing_analyses(standing):
        return
    StockResult.objects.filter(
        stock_id=standing.stock_id,
        process_revision_id=standing.process_revision_id,
        exposure_revision_id=standing.exposure_revision_id,
    ).delete()


def _lock_results(standing: Standing) -> None:
    """Let jobs of one stock store one after the other: what is looked at must still stand when it is stored.

    Whoever changes the set of rolls afterwards has submitted a job of their own.
    """
    FilmStock.objects.select_for_update(no_key=True).filter(pk=standing.stock_id).first()
