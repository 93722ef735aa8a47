"""The results that a stock has had: under which standards, and what each changed against the one before."""

from dataclasses import dataclass, replace

from django.db.models import Prefetch

from curves.models import Analysis, FilmStock, PooledAnalysis, Roll, RollState, StockResult
from curves.queries.comparison import StandardPair
from labsite.common.access import is_member

LATEST_VERSIONS = 12


@dataclass(frozen=True)
class SheetVersion:
    """A result that stands or stood, and how it differs from the one before it."""

    pooled: PooledAnalysis
    is_standing: bool
    is_shown: bool
    is_first: bool
    added: tuple[Roll, ...]
    removed: tuple[Roll, ...]
    refitted: tuple[Roll, ...]
    former_engine: str


def open_results(user, stock: FilmStock) -> list[PooledAnalysis]:
    """Return every result of the stock without measures and curve, newest first.

    A visitor sees the one that stands, as on the Compare page, though it may be about to be pooled anew;
    and of the others those that rest on nothing but accepted rolls that count to this day.
    """
    analyses = Analysis.objects.select_related("roll__run").only(
        "roll__state",
        "roll__control_override_reason",
        "roll__hold_reason",
        "roll__hold_override_reason",
        "roll__run__control_state",
    )
    pooled = (
        PooledAnalysis.objects.filter(stock=stock)
        .select_related("process_revision__standard", "exposure_revision__standard")
        .defer("measures", "detail")
        .prefetch_related(Prefetch("analyses", analyses))
        .order_by("-id")
    )
    if is_member(user):
        return list(pooled)
    standing = set(StockResult.objects.filter(stock=stock).values_list("pooled_id", flat=True))
    return [
        each
        for each in pooled
        if each.pk in standing or all(_counts(analysis.roll) for analysis in each.analyses.all())
    ]


def key_of(pooled: PooledAnalysis) -> str:
    """Return the pair of standards in addresses."""
    return f"{pooled.process_revision_id}-{pooled.exposure_revision_id}"


def pairs_of(pooled: list[PooledAnalysis], standing: set[int]) -> tuple[StandardPair, ...]:
    """Return the pairs with results: in force first, then with a standing result, then the newest."""
    pairs: dict[str, StandardPair] = {}
    for each in pooled:
        process, exposure = each.process_revision, each.exposure_revision
        pair = pairs.get(key_of(each)) or StandardPair(
            process_revision_id=process.pk,
            exposure_revision_id=exposure.pk,
            process_label=str(process),
            exposure_label=str(exposure),
            is_in_force=process.state == exposure.state == "in_force",
            stock_count=0,
        )
        pairs[pair.key] = replace(pair, stock_count=1) if each.pk in standing else pair
    return tuple(sorted(pairs.values(), key=lambda pair: (not pair.is_in_force, -pair.stock_count)))


def versions_of(
    pooled: list[PooledAnalysis], standing: set[int], shown_id: int | None
) -> tuple[SheetVersion, ...]:
    """Return the latest results under one pair, newest first, each with what it changed."""
    following = [*pooled[1:], None]
    return tuple(
        _version(each, before, each.pk in standing, each.pk == shown_id)
        for each, before in list(zip(pooled, following, strict=False))[:LATEST_VERSIONS]
    )


def _version(
    pooled: PooledAnalysis, before: PooledAnalysis | None, is_standing: bool, is_shown: bool
) -> SheetVersion:
    now, then = _by_roll(pooled), _by_roll(before) if before else {}
    is_other_engine = before is not None and before.engine_version != pooled.engine_version
    return SheetVersion(
        pooled=pooled,
        is_standing=is_standing,
        is_shown=is_shown,
        is_first=before is None,
        added=tuple(analysis.roll for pk, analysis in now.items() if pk not in then),
        removed=tuple(analysis.roll for pk, analysis in then.items() if pk not in now),
        refitted=tuple(a.roll for pk, a in now.items() if pk in then and then[pk].pk != a.pk),
        former_engine=before.engine_version if is_other_engine else "",
    )


def _by_roll(pooled: PooledAnalysis) -> dict[int, Analysis]:
    return {analysis.roll_id: analysis for analysis in sorted(pooled.analyses.all(), key=lambda a: a.roll_id)}


def _counts(roll: Roll) -> bool:
    return roll.state == RollState.ACCEPTED and not roll.is_held_back
