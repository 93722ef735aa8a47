"""Studies of agreement: set up, read by members, withdrawn with a reason, closed; nothing is deleted."""

from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from curves.models import AgreementReading, AgreementStudy, Instrument, TabletRevision
from curves.queries.agreement import study_steps
from curves.queries.readings import readings_version
from curves.services.readings import (
    LONGEST_REASON,
    MOST_REPLICATES,
    STALE,
    ReadingValue,
    cell_name,
    density_fault,
)
from curves.services.standard_kinds import refused_on_conflict
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import is_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

MOST_STEPS = 60
TAKEN = InvalidInput("There is a study of this name already. Choose another.", field="name")


@transaction.atomic
def create_study(
    *,
    actor,
    name: str,
    strip_name: str,
    density_type: str,
    geometry: str,
    step_count: int | None = None,
    tablet_revision_id: int | None = None,
    planned_replicates: int = 2,
    notes: str = "",
) -> AgreementStudy:
    """Let a strip go round; where it is a calibrated tablet, its steps are those of the calibration."""
    require_member(actor)
    tablet = None
    problems = []
    if tablet_revision_id is not None:
        tablet = TabletRevision.objects.filter(pk=tablet_revision_id).first()
        if tablet is None:
            text = "There is no such calibration of a tablet."
            problems.append({"field": "tablet_revision_id", "message": text})
        else:
            step_count = tablet.steps.count()
    if step_count is None or not 1 <= step_count <= MOST_STEPS:
        text = f"Give the number of steps, from 1 to {MOST_STEPS}, or choose a calibrated tablet."
        problems.append({"field": "step_count", "message": text})
    if not 1 <= planned_replicates <= MOST_REPLICATES:
        text = f"Plan from 1 to {MOST_REPLICATES} readings of each step."
        problems.append({"field": "planned_replicates", "message": text})
    if AgreementStudy.objects.filter(name__iexact=name.strip()).exists():
        problems.append({"field": "name", "message": TAKEN.message})
    study = AgreementStudy(
        name=name.strip(),
        strip_name=strip_name.strip(),
        tablet_revision=tablet,
        step_count=step_count or 0,
        density_type=density_type,
        geometry=geometry,
        planned_replicates=planned_replicates,
        notes=notes.strip(),
        created_by=actor,
    )
    check_fields(study, "name", "strip_name", "density_type", "geometry", "notes", also=tuple(problems))
    with refused_on_conflict(TAKEN):
        study.save()
    after = {"strip": study.strip_name, "steps": study.step_count, "density_type": study.density_type}
    record_audit(actor=actor, action="create agreement study", subject=study, after=after)
    return study


@transaction.atomic
def record_study_readings(
    *,
    actor,
    study_id: int,
    instrument_id: int,
    values: Iterable[ReadingValue],
    reason: str = "",
    version: str = "",
) -> int:
    """Store what a member read with an instrument, and return how many cells changed.

    Other cells are left alone. A cell that holds another value already keeps the old one as withdrawn, with
    the reason; an emptied cell is withdrawn. Every faulty cell is reported, and then none is stored.
    """
    require_member(actor)
    study = _locked_open(study_id)
    values = list(values)
    instrument = _usable_instrument(study, instrument_id)
    _check_values(study, values)
    if len(reason.strip()) > LONGEST_REASON:
        raise InvalidInput(f"Give the reason in at most {LONGEST_REASON} characters.", field="reason")
    own = study.readings.filter(read_by=actor, instrument=instrument, is_current=True)
    standing = {(each.step, each.replicate): each for each in own}
    if version and version != readings_version(standing.values()):
        raise WrongState(STALE, code="stale")
    changed = [value for value in values if _differs(standing.get((value.step, value.replicate)), value)]
    if not changed:
        return 0
    ended = [
        standing[value.step, value.replicate]
        for value in changed
        if (value.step, value.replicate) in standing
    ]
    _withdraw(ended, actor, reason.strip() or "corrected by the member")
    now = timezone.now()
    AgreementReading.objects.bulk_create(
        AgreementReading(
            study=study,
            read_by=actor,
            instrument=instrument,
            step=value.step,
            replicate=value.replicate,
            density=value.density,
            read_at=now,
        )
        for value in changed
        if value.density is not None
    )
    after = {"instrument": instrument.name, "cells": len(changed), "withdrawn": len(ended)}
    record_audit(actor=actor, action="record agreement readings", subject=study, after=after, reason=reason)
    return len(changed)


@transaction.atomic
def withdraw_study_readings(
    *, actor, study_id: int, member_id: int, instrument_id: int, reason: str, step: int | None = None
) -> int:
    """Withdraw what a member read with an instrument, of one step or of all; kept, and counts no more."""
    require_member(actor)
    if member_id != actor.pk and not is_admin(actor):
        raise NotAllowed("Only who read them or an admin may withdraw readings.")
    study = _locked_open(study_id)
    if not reason.strip():
        raise InvalidInput("Say why they do not count, such as: strip read upside down.", field="reason")
    if len(reason.strip()) > LONGEST_REASON:
        raise InvalidInput(f"Give the reason in at most {LONGEST_REASON} characters.", field="reason")
    readings = study.readings.filter(read_by=member_id, instrument=instrument_id, is_current=True)
    if step is not None:
        readings = readings.filter(step=step)
    readings = list(readings.select_related("instrument", "read_by"))
    if not readings:
        raise NotFound("There are no such readings that count.")
    _withdraw(readings, actor, reason.strip())
    after = {
        "member": str(readings[0].read_by),
        "instrument": readings[0].instrument.name,
        "step": "all" if step is None else step,
        "readings": len(readings),
    }
    record_audit(actor=actor, action="withdraw agreement readings", subject=study, after=after, reason=reason)
    return len(readings)


@transaction.atomic
def close_study(*, actor, study_id: int) -> AgreementStudy:
    """Let no more readings in, so that a correction can rest on those that are there."""
    study = _own(actor, study_id)
    if not study.is_open:
        raise WrongState("This study is closed already.")
    study.closed_at, study.closed_by = timezone.now(), actor
    study.save(update_fields=["closed_at", "closed_by"])
    count = study.readings.filter(is_current=True).count()
    record_audit(actor=actor, action="close agreement study", subject=study, after={"readings": count})
    return study


@transaction.atomic
def reopen_study(*, actor, study_id: int, reason: str) -> AgreementStudy:
    """Let readings in again; a correction that rests on the study keeps the numbers it was made of."""
    study = _own(actor, study_id)
    if study.is_open:
        raise WrongState("This study is open already.")
    if not reason.strip():
        raise InvalidInput("Say why more readings are wanted.", field="reason")
    study.closed_at, study.closed_by = None, None
    study.save(update_fields=["closed_at", "closed_by"])
    record_audit(actor=actor, action="reopen agreement study", subject=study, reason=reason)
    return study


def _locked(study_id: int) -> AgreementStudy:
    study = AgreementStudy.objects.select_for_update().filter(pk=study_id).first()
    if study is None:
        raise NotFound("There is no such study.")
    return study


def _locked_open(study_id: int) -> AgreementStudy:
    study = _locked(study_id)
    if not study.is_open:
        raise WrongState(f"{study} is closed; have it opened again to change its readings.")
    return study


def _own(actor, study_id: int) -> AgreementStudy:
    require_member(actor)
    study = _locked(study_id)
    if study.created_by_id != actor.pk and not is_admin(actor):
        raise NotAllowed("Only who set the study up or an admin may close or reopen it.")
    return study


def _usable_instrument(study: AgreementStudy, instrument_id: int) -> Instrument:
    instrument = Instrument.objects.filter(pk=instrument_id, is_active=True).first()
    if instrument is None:
        raise InvalidInput("Choose an instrument that is in use.", field="instrument_id")
    if (instrument.density_type, instrument.geometry) != (study.density_type, study.geometry):
        raise InvalidInput(
            f"{instrument} reads {instrument.get_density_type_display()} density, "
            f"{instrument.get_geometry_display()}; this study is of {study.get_density_type_display()} "
            f"density, {study.get_geometry_display()}. These are different quantities.",
            field="instrument_id",
        )
    return instrument


def _check_values(study: AgreementStudy, values: list[ReadingValue]) -> None:
    steps, problems, seen = study_steps(study), [], set()
    for value in values:
        fault = ""
        if value.step not in steps:
            fault = f"The strip has no step {value.step}; it has {min(steps)} to {max(steps)}."
        elif not 1 <= value.replicate <= MOST_REPLICATES:
            fault = f"Readings of a step count from 1 to {MOST_REPLICATES}."
        elif value.density is not None:
            fault = density_fault(value.density)
        if (value.step, value.replicate) in seen:
            fault = "This cell was given twice; keep one value."
        seen.add((value.step, value.replicate))
        if fault:
            problems.append({"field": cell_name(value), "value": value.density, "message": fault})
    if problems:
        count = "One reading" if len(problems) == 1 else f"{len(problems)} readings"
        raise InvalidInput(f"{count} can't be stored; nothing was changed.", problems=tuple(problems))


def _differs(old: AgreementReading | None, value: ReadingValue) -> bool:
    return value.density is not None if old is None else old.density != value.density


def _withdraw(readings: list[AgreementReading], actor, reason: str) -> None:
    AgreementReading.objects.filter(pk__in=[each.pk for each in readings]).update(
        is_current=False, ended_at=timezone.now(), ended_by=actor, ended_reason=reason
    )
