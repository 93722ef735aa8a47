"""Which analyses may enter comparisons: accepted rolls whose run does not hold them back."""

from collections.abc import Iterable

from django.db.models import DateField, F, Q
from django.db.models.functions import Coalesce, TruncDate

from curves.models import (
    Analysis,
    ExposureRevision,
    Roll,
    RollState,
    SpreadEstimate,
    StockResult,
)
from curves.models.processes import ControlState


def standing_rolls():
    """Return the accepted rolls that neither their run nor a finding about their readings holds back."""
    accepted = Roll.objects.filter(state=RollState.ACCEPTED, current_analysis__isnull=False)
    return accepted.exclude(
        Q(run__control_state=ControlState.OUT_OF_CONTROL) & Q(control_override_reason="")
    ).filter(Q(hold_reason="") | ~Q(hold_override_reason=""))


def day_tested(roll: str = "") -> Coalesce:
    """Return the day by which a roll is as old as it is: of its development, else of its exposure.

    Where neither is known, of its acceptance. ``roll`` is the way to the roll, with "__" at its end.
    """
    accepted = TruncDate(f"{roll}accepted_at")
    return Coalesce(f"{roll}run__ran_on", f"{roll}exposed_on", accepted, output_field=DateField())


def standing_analyses(standing) -> list[Analysis]:
    """Return the analyses that a stock's result rests on, oldest roll first."""
    rolls = standing_rolls().filter(
        batch__stock_id=standing.stock_id,
        process_revision_id=standing.process_revision_id,
        exposure_revision_id=standing.exposure_revision_id,
    )
    return list(Analysis.objects.filter(pk__in=rolls.values("current_analysis_id")).order_by("roll_id"))


def rolls_behind(pooled_ids: Iterable[int]) -> dict[int, list[Roll]]:
    """Return pooled analysis → its rolls with their runs, oldest first, by one query."""
    of_roll = ("member_id", "control_override_reason", "hold_reason", "hold_override_reason")
    of_run = ("run__operator_id", "run__control_state")
    rolls = Roll.objects.filter(analyses__pooled_in__in=pooled_ids).annotate(
        pooled_id=F("analyses__pooled_in")
    )
    found: dict[int, list[Roll]] = {}
    for roll in rolls.select_related("run").only(*of_roll, *of_run).order_by("pk"):
        found.setdefault(roll.pooled_id, []).append(roll)
    return found


def overrides_of(rolls: Iterable[Roll]) -> tuple[str, ...]:
    """Return why those of these rolls that were held back count all the same."""
    return tuple(f"{roll.code}: {reason}" for roll in rolls for reason in roll.override_reasons)


def overrides_in(results: Iterable[StockResult]) -> dict[int, tuple[str, ...]]:
    """Return stock → why rolls that were held back count in its result: told wherever the result is."""
    stock_of = {result.pooled_id: result.stock_id for result in results}
    by_run = Q(roll__run__control_state=ControlState.OUT_OF_CONTROL) & ~Q(roll__control_override_reason="")
    by_finding = ~Q(roll__hold_reason="") & ~Q(roll__hold_override_reason="")
    counted = Analysis.objects.filter(by_run | by_finding, pooled_in__in=stock_of).order_by("roll")
    found: dict[int, tuple[str, ...]] = {}
    for pooled_id, analysis in _by_pooled(counted):
        if pooled_id in stock_of:
            found[stock_of[pooled_id]] = (*found.get(stock_of[pooled_id], ()), *overrides_of([analysis.roll]))
    return found


def _by_pooled(analyses) -> Iterable[tuple[int, Analysis]]:
    """Each analysis with each result that it is pooled in."""
    needed = ("roll__control_override_reason", "roll__hold_reason", "roll__hold_override_reason")
    rows = analyses.select_related("roll__run").annotate(pooled_id=F("pooled_in"))
    for analysis in rows.only("roll_id", *needed, "roll__run__control_state"):
        yield analysis.pooled_id, analysis


def log_exposure_sd_of(exposure_revision_id: int) -> float:
    """Return how well the exposure itself is known under a standard, log₁₀."""
    return ExposureRevision.objects.values_list("log_exposure_sd", flat=True).get(pk=exposure_revision_id)


def lab_spread_under(*, process_revision_id: int, exposure_revision_id: int) -> dict:
    """Return the lab's spread from roll to roll under two standards, by which every difference is judged."""
    estimates = SpreadEstimate.objects.filter(
        process_revision_id=process_revision_id, exposure_revision_id=exposure_revision_id, is_current=True
    )
    none_yet = {"standard_deviations": {}, "degrees_of_freedom": {}, "levels": {}}
    return next(iter(estimates.values_list("spread", flat=True)), none_yet)
