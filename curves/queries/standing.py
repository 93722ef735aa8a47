"""Which analyses may enter comparisons: accepted rolls whose run does not hold them back."""

from collections.abc import Iterable

from django.db.models import Q

from curves.models import Analysis, ExposureRevision, Roll, RollState, SpreadEstimate, StockResult
from curves.models.processes import ControlState


def standing_rolls():
    """Return the accepted rolls that are not held back by their run."""
    return Roll.objects.filter(state=RollState.ACCEPTED, current_analysis__isnull=False).exclude(
        Q(run__control_state=ControlState.OUT_OF_CONTROL) & Q(control_override_reason="")
    )


def standing_analyses(standing) -> list[Analysis]:
    """Return the analyses that a stock's result rests on, oldest roll first."""
    rolls = standing_rolls().filter(
        batch__stock_id=standing.stock_id,
        process_revision_id=standing.process_revision_id,
        exposure_revision_id=standing.exposure_revision_id,
    )
    return list(Analysis.objects.filter(pk__in=rolls.values("current_analysis_id")).order_by("roll_id"))


def analyses_by_stock(*, process_revision_id: int, exposure_revision_id: int) -> dict[int, list[Analysis]]:
    """Return stock → the analyses of its standing rolls, for stocks with more than one."""
    rolls = standing_rolls().filter(
        process_revision_id=process_revision_id, exposure_revision_id=exposure_revision_id
    )
    stocks: dict[int, list[int]] = {}
    for stock_id, analysis_id in rolls.order_by("pk").values_list("batch__stock_id", "current_analysis_id"):
        stocks.setdefault(stock_id, []).append(analysis_id)
    repeated = {stock_id: ids for stock_id, ids in stocks.items() if len(ids) > 1}
    analyses = Analysis.objects.in_bulk([pk for ids in repeated.values() for pk in ids])
    return {stock_id: [analyses[pk] for pk in ids] for stock_id, ids in repeated.items()}


def overrides_in(results: Iterable[StockResult]) -> dict[int, tuple[str, ...]]:
    """Return stock → why rolls of runs out of control count in its result: told wherever the result is."""
    stock_of = {result.pooled_id: result.stock_id for result in results}
    out = Analysis.objects.filter(
        pooled_in__in=stock_of, roll__run__control_state=ControlState.OUT_OF_CONTROL
    )
    counted = out.exclude(roll__control_override_reason="")
    found: dict[int, tuple[str, ...]] = {}
    for pooled_id, roll_id, reason in counted.order_by("roll").values_list(
        "pooled_in", "roll", "roll__control_override_reason"
    ):
        if pooled_id in stock_of:
            said = f"{Roll(pk=roll_id).code}: {reason}"
            found[stock_of[pooled_id]] = (*found.get(stock_of[pooled_id], ()), said)
    return found


def log_exposure_sd_of(exposure_revision_id: int) -> float:
    """Return how well the exposure itself is known under a standard, log₁₀."""
    return ExposureRevision.objects.values_list("log_exposure_sd", flat=True).get(pk=exposure_revision_id)


def lab_spread_under(*, process_revision_id: int, exposure_revision_id: int) -> dict:
    """Return the lab's spread from roll to roll under two standards, by which every difference is judged."""
    estimates = SpreadEstimate.objects.filter(
        process_revision_id=process_revision_id, exposure_revision_id=exposure_revision_id, is_current=True
    )
    none_yet = {"standard_deviations": {}, "degrees_of_freedom": {}}
    return next(iter(estimates.values_list("spread", flat=True)), none_yet)
