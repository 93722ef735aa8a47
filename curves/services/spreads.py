"""The lab's spread from roll to roll: estimated anew whenever a stock's set of rolls changes."""

from django.db import transaction

from curves.models import ProcessRevision, SpreadEstimate
from curves.queries.inputs import digest_of
from curves.queries.standing import analyses_by_stock
from curves.sensitometry import ENGINE_VERSION, LabSpread
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job


def request_spread(*, process_revision_id: int, exposure_revision_id: int) -> Job:
    """Submit the estimate for a pair of standards, on commit."""
    subject = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    return submit_job(
        kind="estimate_spread",
        subject=subject,
        label="Estimate the lab's spread from roll to roll",
        dedupe_key=f"estimate_spread:{process_revision_id}:{exposure_revision_id}",
        link=f"/compare/?standards={process_revision_id}-{exposure_revision_id}",
    )


@transaction.atomic
def store_spread_estimate(
    *, process_revision_id: int, exposure_revision_id: int, analysis_ids: list[int], spread: LabSpread
) -> SpreadEstimate:
    """Keep an estimate, once for each set of analyses, and make it the yardstick if that set still stands."""
    pair = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    # Two first estimates have no row in common to lock but the revision's.
    ProcessRevision.objects.select_for_update(no_key=True).get(pk=process_revision_id)
    estimate, _ = SpreadEstimate.objects.get_or_create(
        **pair,
        engine_version=ENGINE_VERSION,
        input_digest=digest_of({"analyses": sorted(analysis_ids)}),
        defaults={"is_current": False, "spread": spread.to_dict()},
    )
    stocks = analyses_by_stock(**pair)
    if {analysis.pk for rolls in stocks.values() for analysis in rolls} == set(analysis_ids):
        others = SpreadEstimate.objects.filter(**pair, is_current=True).exclude(pk=estimate.pk)
        others.update(is_current=False)
        estimate.is_current = True
        estimate.save(update_fields=["is_current"])
    return estimate
