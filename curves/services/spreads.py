"""The lab's spread: estimated anew whenever the rolls that count under two standards change."""

from django.db import transaction

from curves.models import ProcessRevision, SpreadEstimate
from curves.queries.spread_inputs import SpreadInputs, spread_digest, spread_rolls
from curves.sensitometry import ENGINE_VERSION, LabSpread
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job


def request_spread(*, process_revision_id: int, exposure_revision_id: int) -> Job:
    """Submit the estimate for a pair of standards, on commit."""
    subject = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    return submit_job(
        kind="estimate_spread",
        subject=subject,
        label="Estimate the lab's own spread",
        dedupe_key=f"estimate_spread:{process_revision_id}:{exposure_revision_id}",
        link=f"/control/spread/?standards={process_revision_id}-{exposure_revision_id}",
    )


@transaction.atomic
def store_spread_estimate(
    *, process_revision_id: int, exposure_revision_id: int, inputs: SpreadInputs, spread: LabSpread
) -> SpreadEstimate:
    """Keep an estimate, once for each set of inputs, and make it the yardstick if that set still stands."""
    pair = {"process_revision_id": process_revision_id, "exposure_revision_id": exposure_revision_id}
    # Two first estimates have no row in common to lock but the revision's.
    ProcessRevision.objects.select_for_update(no_key=True).get(pk=process_revision_id)
    estimate, _ = SpreadEstimate.objects.get_or_create(
        **pair,
        engine_version=ENGINE_VERSION,
        input_digest=inputs.digest,
        defaults={
            "is_current": False,
            "spread": spread.to_dict(),
            "basis": _basis(inputs, spread),
            "entries": list(inputs.entries.values()),
        },
    )
    if spread_digest(spread_rolls(**pair)) == inputs.digest:
        others = SpreadEstimate.objects.filter(**pair, is_current=True).exclude(pk=estimate.pk)
        others.update(is_current=False)
        estimate.is_current = True
        estimate.save(update_fields=["is_current"])
    return estimate


def _basis(inputs: SpreadInputs, spread: LabSpread) -> dict:
    components = {name: each.to_dict() for name, each in spread.components.items()}
    models = {name: list(levels) for name, levels in spread.models.items()}
    return {**inputs.basis(), "components": components, "models": models}
