"""The lab's spread from roll to roll: estimated anew whenever a stock's set of rolls changes."""

from django.db import transaction

from curves.models import SpreadEstimate
from curves.queries.inputs import digest_of
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
    """Keep an estimate, once for each set of analyses, and make it the yardstick."""
    pair = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    digest = digest_of({"analyses": sorted(analysis_ids)})
    others = SpreadEstimate.objects.select_for_update().filter(**pair, is_current=True)
    others.exclude(input_digest=digest, engine_version=ENGINE_VERSION).update(is_current=False)
    estimate, _ = SpreadEstimate.objects.update_or_create(
        **pair,
        engine_version=ENGINE_VERSION,
        input_digest=digest,
        defaults={"is_current": True},
        create_defaults={"is_current": True, "spread": spread.to_dict()},
    )
    return estimate
