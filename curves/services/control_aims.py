"""Aims of control strips: drafted from strips in control, by hand or by an overlap; then fixed for good."""

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from curves.models import (
    AimsBasis,
    ControlAims,
    ControlStrip,
    ProcessRevision,
    ProcessRun,
    RevisionState,
    Roll,
    StripBatch,
)
from curves.queries.control_strips import overlap_points, points_for_aims
from curves.queries.strip_windows import StripPoint
from curves.sensitometry.controlling.aims import StripAims
from curves.sensitometry.controlling.rule_definitions import RULE_SETS
from curves.sensitometry.controlling.strip_aims import set_aims, stated_aims
from curves.sensitometry.controlling.strip_batches import carry_over
from curves.sensitometry.measures import SensitometryError
from curves.services.control_strips import judge_by_strips
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

FEWEST, MOST = 5, 100
#: Runs that went unproven for want of aims, and are judged once there are some.
MOST_JUDGED_AGAIN = 200


@transaction.atomic
def draft_aims_from_strips(
    *,
    actor,
    process_revision_id: int,
    batch_id: int,
    least: int = 10,
    left_out: tuple[int, ...] | list[int] = (),
    rules: str = "western_electric",
    change_note: str = "",
) -> ControlAims:
    """Draft aims from the latest runs that have a strip of the batch and are not out of control.

    ``least`` runs are taken; ``left_out`` are numbers of runs that are not to count. Whoever drafts them
    states that the runs taken were in control.
    """
    revision, batch = _asked(actor, process_revision_id, batch_id, rules)
    if not FEWEST <= least <= MOST:
        raise InvalidInput(f"Aims rest on {FEWEST} to {MOST} runs; ten are usual.", field="least")
    points = points_for_aims(revision.pk, batch.pk, count=least, left_out=left_out)
    if len(points) < FEWEST:
        raise InvalidInput(
            f"{len(points)} runs under {revision} have a strip of batch {batch} and are not out of control; "
            f"aims need at least {FEWEST}, and prove control from {least}.",
            field="least",
        )
    aims = _engine(set_aims, [point.strip for point in points], least=least)
    return _drafted(
        actor, revision, batch, AimsBasis.STRIPS, aims, rules, change_note, least=least, points=points
    )


@transaction.atomic
def draft_stated_aims(
    *,
    actor,
    process_revision_id: int,
    batch_id: int,
    centres: Mapping[str, float],
    limits: Mapping[str, tuple[float, float]],
    change_note: str,
    rules: str = "western_electric",
) -> ControlAims:
    """Draft aims and limits by hand, with the reason: by them a run can be out, and never proven."""
    revision, batch = _asked(actor, process_revision_id, batch_id, rules)
    if not change_note.strip():
        raise InvalidInput("Say where these aims come from, and why by hand.", field="change_note")
    aims = _engine(stated_aims, centres, limits=limits, strip_batch=batch.code)
    if aims.lacking:
        raise InvalidInput(f"State an aim for each of: {', '.join(aims.lacking)}.", field="centres")
    return _drafted(actor, revision, batch, AimsBasis.STATED, aims, rules, change_note)


@transaction.atomic
def carry_over_aims(*, actor, aims_id: int, batch_id: int, change_note: str = "") -> ControlAims:
    """Draft aims for a new batch of strips from those in force, by runs in which both were processed."""
    require_admin(actor)
    old = ControlAims.objects.select_related("process_revision__standard", "strip_batch").filter(pk=aims_id)
    old = old.first()
    if old is None:
        raise NotFound("There are no such aims.")
    if old.state != RevisionState.IN_FORCE:
        raise WrongState("Only aims in force are carried over.")
    revision, batch = _asked(actor, old.process_revision_id, batch_id, old.rules)
    before, after = overlap_points(revision.pk, old.strip_batch_id, batch.pk)
    offset = _engine(carry_over, [p.strip for p in before], [p.strip for p in after])
    if not offset.runs:
        raise InvalidInput(
            f"No run has strips of both {old.strip_batch} and {batch}. Develop both together in at least "
            "three runs, or three strips of each in one.",
            field="batch_id",
        )
    aims = _engine(offset.applied_to, StripAims.from_dict(old.aims))
    if aims.lacking:
        raise InvalidInput(
            f"Too few strips of both batches share a run to tell: {', '.join(aims.lacking)}. At least three "
            "of each are needed.",
            field="batch_id",
        )
    return _drafted(
        actor, revision, batch, AimsBasis.CARRIED, aims, old.rules, change_note,
        least=old.least_strips, points=after, offset=offset.to_dict(),
    )  # fmt: skip


@transaction.atomic
def put_aims_in_force(*, actor, aims_id: int) -> int:
    """Fix a draft for good, and judge the runs that were unproven for want of it; return how many."""
    require_admin(actor)
    aims = _locked_draft(aims_id)
    now = timezone.now()
    standing = ControlAims.objects.filter(
        process_revision=aims.process_revision, strip_batch=aims.strip_batch, state=RevisionState.IN_FORCE
    )
    standing.update(state=RevisionState.SUPERSEDED, superseded_at=now)
    aims.state, aims.in_force_at = RevisionState.IN_FORCE, now
    aims.save(update_fields=["state", "in_force_at"])
    record_audit(
        actor=actor,
        action="put control aims in force",
        subject=aims,
        after={"basis": str(aims.basis), "rules": aims.rules, "aims": aims.aims},
        reason=aims.change_note,
    )
    return _judge_unproven(actor, aims)


@transaction.atomic
def discard_aims(*, actor, aims_id: int) -> None:
    """Throw a draft away; the history keeps what it said."""
    require_admin(actor)
    aims = _locked_draft(aims_id)
    record_audit(actor=actor, action="discard control aims", subject=aims, before={"aims": aims.aims})
    aims.delete()


def _judge_unproven(actor, aims: ControlAims) -> int:
    runs = ProcessRun.objects.filter(
        strip_judgements__is_current=True,
        strip_judgements__strip_batch=aims.strip_batch,
        strip_judgements__aims__isnull=True,
        revision=aims.process_revision,
        voided_at__isnull=True,
    )
    newest = list(runs.order_by("-ran_on", "-pk").values_list("pk", flat=True)[:MOST_JUDGED_AGAIN])
    # Rolls before their runs, as whoever decides on a roll does, so that neither waits for the other.
    list(Roll.objects.select_for_update().filter(run__in=newest).order_by("pk").values_list("pk"))
    waiting = ProcessRun.objects.select_for_update(of=("self",)).select_related("revision__standard")
    for run in waiting.filter(pk__in=newest).order_by("ran_on", "pk"):
        judge_by_strips(actor=actor, run=run, reason=f"Aims {aims.number} came into force.")
    return len(newest)


def _asked(actor, process_revision_id: int, batch_id: int, rules: str) -> tuple[ProcessRevision, StripBatch]:
    require_admin(actor)
    # The lock lets numbers be given one after the other.
    revision = ProcessRevision.objects.select_for_update(of=("self",)).select_related("standard")
    revision = revision.filter(pk=process_revision_id).exclude(state=RevisionState.DRAFT).first()
    if revision is None:
        raise InvalidInput("Choose a process revision in force.", field="process_revision_id")
    batch = StripBatch.objects.filter(pk=batch_id).first()
    if batch is None:
        raise InvalidInput("Choose a batch of strips.", field="batch_id")
    if rules not in RULE_SETS:
        raise InvalidInput(f"Choose a set of rules: {', '.join(RULE_SETS)}.", field="rules")
    return revision, batch


def _drafted(
    actor, revision, batch, basis, aims: StripAims, rules, change_note, *, least=10, points=(), offset=None
) -> ControlAims:
    last = revision.control_aims.order_by("-number").first()
    draft = ControlAims.objects.create(
        process_revision=revision,
        strip_batch=batch,
        number=last.number + 1 if last else 1,
        basis=basis,
        rules=rules,
        least_strips=least,
        aims=aims.to_dict(),
        offset=offset,
        change_note=change_note.strip(),
        created_by=actor,
    )
    draft.strips.set(_rows_of(points))
    record_audit(actor=actor, action="draft control aims", subject=draft, after={"aims": draft.aims})
    return draft


def _rows_of(points: list[StripPoint] | tuple[StripPoint, ...]) -> list[ControlStrip]:
    return list(ControlStrip.objects.filter(pk__in=[row["id"] for point in points for row in point.rows]))


def _locked_draft(aims_id: int) -> ControlAims:
    aims = (
        ControlAims.objects.select_for_update(of=("self",)).select_related("strip_batch").filter(pk=aims_id)
    )
    aims = aims.first()
    if aims is None:
        raise NotFound("There are no such aims.")
    if not aims.is_editable:
        raise WrongState(f"These aims are {aims.get_state_display()}; they are never changed. Draft others.")
    return aims


def _engine(function, *given, **named):
    """Call the engine, and tell its refusal as ours."""
    try:
        return function(*given, **named)
    except SensitometryError as fault:
        raise InvalidInput(str(fault), field="centres" if function is stated_aims else None) from None
