"""What people keep and say of results, as rows: comparisons, a verdict, a roll's grain."""

from curves.models import FrozenComparison, PooledAnalysis, SavedComparison, Verdict
from tests.factories.pictures import picture_row


def kept_and_said(person, stock, roll, process, exposure) -> dict:
    """One of each of this person's, by what addresses call them."""
    pair = {"process_revision": process, "exposure_revision": exposure}
    # A past result: what stands would need a curve.
    result = PooledAnalysis.objects.create(
        stock=stock, **pair, engine_version="0", input_digest="0" * 64, measures={}, detail={}, roll_count=1
    )
    verdict = Verdict.objects.create(
        stock=stock,
        **pair,
        result=result,
        author=person,
        purposes=["portrait"],
        what_for="Faces.",
        strengths="An even scale.",
    )
    frozen = FrozenComparison.objects.create(
        code="abcd2345",
        title="Two films",
        **pair,
        document={"format": 2, "standards": "", "reference": None, "is_mixed": False, "stocks": []},
        table="",
        digest="0" * 64,
        engine_version="0",
        frozen_by=person,
    )
    return {
        "verdict_id": verdict.pk,
        "comparison_id": SavedComparison.objects.create(owner=person, name="Slow films").pk,
        "frozen_code": frozen.code,
        "measure_id": picture_row(roll, "rms_granularity", 9.0).pk,
    }
