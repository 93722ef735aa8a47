"""Control strips: read into a run, which is judged at once; struck out with a reason, never overwritten."""

import math
from itertools import pairwise

from django.db import transaction
from django.utils import timezone

from curves.models import ControlStrip, Instrument, ProcessRun, StripBatch
from curves.models.processes import ControlState
from curves.queries.strip_windows import PLACES
from curves.services.runs import (
    judged_by_record,
    judged_by_tolerances,
    keep_judgement,
    locked_own_run,
    refuse_void,
)
from curves.services.standard_kinds import refused_on_conflict
from curves.services.strip_judging import judged_by_strips
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

LOWEST_D, HIGHEST_D = -0.1, 6.0
#: Places of a strip get denser in this order; a step back by more than this is a slip, not a reading.
MOST_BACKWARDS_D = 0.05
MOST_REPLICATES = 9
TITLES = {
    "base_fog": "base plus fog",
    "speed_step": "the speed step",
    "high_step": "the high step",
    "dmax": "the maximum density",
}
TAKEN = InvalidInput("There is a batch of strips of this code already. Choose another.", field="code")


@transaction.atomic
def add_strip_batch(*, actor, code: str, notes: str = "") -> StripBatch:
    """Add strips that were exposed together, so that readings can name them."""
    require_admin(actor)
    batch = StripBatch(code=code.strip(), notes=notes.strip(), created_by=actor)
    check_fields(batch, "code", "notes")
    if StripBatch.objects.filter(code__iexact=batch.code).exists():
        raise TAKEN
    with refused_on_conflict(TAKEN):
        batch.save()
    record_audit(actor=actor, action="add strip batch", subject=batch, after={"code": batch.code})
    return batch


@transaction.atomic
def read_strip(
    *,
    actor,
    run_id: int,
    batch_id: int,
    base_fog: float | None = None,
    speed_step: float | None = None,
    high_step: float | None = None,
    dmax: float | None = None,
    instrument_id: int | None = None,
) -> ControlStrip:
    """Keep what a control strip of the run read, and judge the run by it in the same breath.

    Another strip of the same batch is a replicate. A broken tolerance still decides, and a lift of it by
    an admin still stands; any other judgement by hand gives way to the strip.
    """
    run = locked_own_run(actor=actor, run_id=run_id)
    refuse_void(run)
    batch = StripBatch.objects.filter(pk=batch_id).first()
    if batch is None:
        raise InvalidInput("Choose the batch of the strip.", field="batch_id")
    densities = {"base_fog": base_fog, "speed_step": speed_step, "high_step": high_step, "dmax": dmax}
    _check_densities(densities)
    replicates = list(run.control_strips.filter(batch=batch).values_list("replicate", flat=True))
    if len(replicates) >= MOST_REPLICATES:
        raise InvalidInput(f"A run keeps at most {MOST_REPLICATES} strips of a batch.", field="batch_id")
    strip = ControlStrip.objects.create(
        run=run,
        batch=batch,
        replicate=max(replicates, default=0) + 1,
        instrument=_instrument(instrument_id),
        read_by=actor,
        **densities,
    )
    record_audit(
        actor=actor,
        action="read control strip",
        subject=strip,
        after={"run": run.pk, "batch": batch.code, "replicate": strip.replicate, **densities},
    )
    judge_by_strips(actor=actor, run=run, reason=f"Control strip of batch {batch} read.")
    return strip


@transaction.atomic
def strike_strip(*, actor, strip_id: int, reason: str) -> ControlStrip:
    """Strike out a strip that was misread; it stays on record, and the run is judged without it."""
    strip = ControlStrip.objects.select_related("batch").filter(pk=strip_id).first()
    if strip is None:
        raise NotFound("There is no such control strip.")
    run = locked_own_run(actor=actor, run_id=strip.run_id)
    refuse_void(run)
    strip.refresh_from_db()
    if not strip.is_current:
        raise WrongState("This strip is struck out already.")
    if not reason.strip():
        raise InvalidInput("Say what was wrong with the reading.", field="reason")
    if len(reason.strip()) > 200:
        raise InvalidInput("Say it in at most 200 characters.", field="reason")
    strip.is_current, strip.ended_at, strip.ended_reason = False, timezone.now(), reason.strip()
    strip.save(update_fields=["is_current", "ended_at", "ended_reason"])
    record_audit(actor=actor, action="strike control strip", subject=strip, reason=reason)
    judge_by_strips(actor=actor, run=run, reason=f"Control strip struck out: {reason.strip()}")
    return strip


def judge_by_strips(*, actor, run: ProcessRun, reason: str) -> None:
    """Judge a locked run by what was measured, now that its strips say something else."""
    is_broken = judged_by_tolerances(run)[0] == ControlState.OUT_OF_CONTROL
    if is_broken and run.control_state != ControlState.OUT_OF_CONTROL:
        judgement = judged_by_strips(run)  # an admin lifted the broken tolerance, and that stands
    else:
        judgement = judged_by_record(run)
    keep_judgement(actor=actor, run=run, judgement=judgement, action="judge run by strip", reason=reason)


def _instrument(instrument_id: int | None) -> Instrument | None:
    if instrument_id is None:
        return None
    instrument = Instrument.objects.filter(pk=instrument_id, is_active=True).first()
    if instrument is None:
        raise InvalidInput("Choose an instrument that is in use.", field="instrument_id")
    return instrument


def _check_densities(densities: dict[str, float | None]) -> None:
    problems = []
    for place, value in densities.items():
        if value is not None and not (math.isfinite(value) and LOWEST_D <= value <= HIGHEST_D):
            message = f"{value:g} is no density; enter {LOWEST_D:g} to {HIGHEST_D:g}, such as 0.28."
            problems.append({"field": place, "message": message.replace("-", "−")})
    read = [(place, densities[place]) for place in PLACES if densities[place] is not None]
    if not read:
        problems.append({"field": "base_fog", "message": "Enter at least one density of the strip."})
    if not problems:
        for (before, lower), (place, value) in pairwise(read):
            if value < lower - MOST_BACKWARDS_D:
                message = (
                    f"{value:g} is below {TITLES[before]}, {lower:g}. Is it in the right place? A strip gets "
                    "denser from base plus fog to the maximum density."
                )
                problems.append({"field": place, "message": message})
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))
