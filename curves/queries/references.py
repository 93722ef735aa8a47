"""The house reference as people read it: who it is for each pair of standards, and who was."""

from dataclasses import dataclass

from curves.models import (
    ExposureRevision,
    HouseReference,
    ProcessRevision,
    RevisionState,
    StockResult,
)
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_admin
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class ReferencePair:
    """One pair of standards that has results or a reference."""

    process: ProcessRevision
    exposure: ExposureRevision
    standing: HouseReference | None
    stock_count: int
    has_result: bool

    @property
    def is_in_force(self) -> bool:
        """Whether new rolls can still be made under the pair."""
        return self.process.state == self.exposure.state == RevisionState.IN_FORCE

    @property
    def fault(self) -> str:
        """What keeps stocks from being compared with a reference here; empty when nothing does."""
        if self.standing is None:
            return "No reference is appointed, so nothing can be compared."
        if not self.has_result:
            return f"{self.standing.stock} has no accepted roll here any more."
        return ""


@dataclass(frozen=True)
class ReferencePage:
    """One pair with its history and, for admins, the stocks that could be appointed."""

    pair: ReferencePair
    history: tuple[HouseReference, ...]
    candidates: tuple[StockResult, ...]


def reference_pairs(user) -> list[ReferencePair]:
    """Return the pairs of standards with results or a reference; those in force first, then by name."""
    if not may_read_accepted(user):
        return []
    results: dict[tuple[int, int], set[int]] = {}
    for stock_id, *pair in StockResult.objects.values_list(
        "stock_id", "process_revision_id", "exposure_revision_id"
    ):
        results.setdefault(tuple(pair), set()).add(stock_id)
    standing = {
        (reference.process_revision_id, reference.exposure_revision_id): reference
        for reference in HouseReference.objects.filter(ended_at__isnull=True).select_related(
            "stock", "appointed_by"
        )
    }
    keys = set(results) | set(standing)
    processes = ProcessRevision.objects.select_related("standard").in_bulk({key[0] for key in keys})
    exposures = ExposureRevision.objects.select_related("standard").in_bulk({key[1] for key in keys})
    pairs = [
        _pair(processes[key[0]], exposures[key[1]], standing.get(key), results.get(key, set()))
        for key in keys
    ]
    return sorted(pairs, key=lambda p: (not p.is_in_force, str(p.process), str(p.exposure)))


def reference_page(user, process_revision_id: int, exposure_revision_id: int) -> ReferencePage:
    """Return one pair with its history and candidates, or refuse."""
    wanted = (process_revision_id, exposure_revision_id)
    pair = next((p for p in reference_pairs(user) if (p.process.pk, p.exposure.pk) == wanted), None)
    if pair is None:
        raise NotFound("There is no result under these two standards, so there is nothing to refer to.")
    key = {"process_revision": pair.process, "exposure_revision": pair.exposure}
    candidates = StockResult.objects.none()
    if is_admin(user):
        candidates = StockResult.objects.filter(**key).select_related("stock", "pooled")
        candidates = candidates.defer("pooled__measures", "pooled__detail").order_by("stock__name")
        if pair.standing is not None:
            candidates = candidates.exclude(stock_id=pair.standing.stock_id)
    history = HouseReference.objects.filter(**key).select_related("stock", "appointed_by")
    return ReferencePage(pair, tuple(history), tuple(candidates))


def _pair(process, exposure, standing: HouseReference | None, stock_ids: set[int]) -> ReferencePair:
    return ReferencePair(
        process=process,
        exposure=exposure,
        standing=standing,
        stock_count=len(stock_ids),
        has_result=standing is not None and standing.stock_id in stock_ids,
    )
