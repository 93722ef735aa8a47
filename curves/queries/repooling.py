"""Which standing results are about to change, or should have: their stocks' pooling is not done."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from curves.models import FilmStock
from labsite.jobs.models import Job


@dataclass(frozen=True)
class Repooling:
    """The newest pooling of a stock that has a result; it waits, runs, failed or was cancelled."""

    stock: FilmStock
    job: Job

    @property
    def sentence(self) -> str:
        """What it means for the result that stands."""
        if self.job.is_ended:
            return f"The result of {self.stock.name} could not be pooled anew; what stands is out of date."
        return f"The result of {self.stock.name} is being pooled anew."


def pool_key(*, stock_id: int, process_revision_id: int, exposure_revision_id: int) -> str:
    """Return the key by which poolings of one stock under one pair of standards are known."""
    return f"pool_stock:{stock_id}:{process_revision_id}:{exposure_revision_id}"


def repoolings(
    stocks: Iterable[FilmStock], *, process_revision_id: int, exposure_revision_id: int
) -> tuple[Repooling, ...]:
    """Return the stocks whose newest pooling under two standards is not done, by one query.

    The result that stands until then may still count a roll that was withdrawn, voided or held back.
    """
    stock_of = {
        pool_key(
            stock_id=stock.pk,
            process_revision_id=process_revision_id,
            exposure_revision_id=exposure_revision_id,
        ): stock
        for stock in stocks
    }
    newer = Job.objects.filter(dedupe_key=OuterRef("dedupe_key"), created_at__gt=OuterRef("created_at"))
    jobs = Job.objects.filter(~Exists(newer), kind="pool_stock", dedupe_key__in=stock_of)
    pending = {job.dedupe_key: job for job in jobs.exclude(state=Job.State.DONE)}
    return tuple(Repooling(stock, pending[key]) for key, stock in stock_of.items() if key in pending)
