"""Checks of instruments on a reference tablet: recorded, struck out with a reason, planned."""

import math
from collections.abc import Sequence
from datetime import date

from django.db import transaction
from django.utils import timezone

from curves.models import Instrument, InstrumentCheck, RevisionState, TabletRevision
from curves.sensitometry.agreeing.check_trend import LEVELS
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import is_admin, require_admin, require_member
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState

LOWEST_D, HIGHEST_D = -0.1, 6.0
#: Nothing in the beam is no step of any tablet, and is 0.000 by definition.
NOTHING = 0
MOST_READINGS = 60
LONGEST_DAYS = 1000


@transaction.atomic
def record_check(
    *,
    actor,
    instrument_id: int,
    tablet_revision_id: int,
    density_type: str,
    geometry: str,
    checked_on: date,
    readings: Sequence[tuple[int, float]],
    notes: str = "",
) -> InstrumentCheck:
    """Keep what an instrument read on a tablet whose densities are certified as of its own kind.

    ``readings`` are (step, density), step 0 for nothing in the beam. The least certified density is the zero,
    the greatest the high, and the one nearest to halfway between them the middle.
    """
    require_member(actor)
    instrument = _locked(instrument_id)
    tablets = TabletRevision.objects.select_related("tablet").prefetch_related("steps")
    tablet = tablets.filter(pk=tablet_revision_id).first()
    if tablet is None or tablet.state == RevisionState.DRAFT:
        raise InvalidInput("Choose a tablet with a calibration in force.", field="tablet_revision_id")
    problems = [
        *_kind_problems(instrument, density_type, geometry),
        *_day_problems(checked_on),
        *_reading_problems(readings, tablet),
    ]
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))
    check = InstrumentCheck(
        instrument=instrument,
        tablet_revision=tablet,
        density_type=density_type,
        geometry=geometry,
        checked_on=checked_on,
        readings=_with_certificate(readings, tablet),
        notes=notes.strip(),
        checked_by=actor,
    )
    check_fields(check, "notes")
    check.save()
    record_audit(
        actor=actor,
        action="check instrument",
        subject=check,
        after={"tablet": str(tablet), "readings": [list(reading) for reading in readings]},
    )
    return check


@transaction.atomic
def strike_check(*, actor, check_id: int, reason: str) -> InstrumentCheck:
    """Strike out a check that was misread; it stays on record and counts for nothing."""
    require_member(actor)
    check = InstrumentCheck.objects.select_for_update().filter(pk=check_id).first()
    if check is None:
        raise NotFound("There is no such check.")
    if check.checked_by_id != actor.pk and not is_admin(actor):
        raise NotAllowed("Only who made the check, or an admin, may strike it out.")
    if not check.is_current:
        raise WrongState("This check is struck out already.")
    if not reason.strip():
        raise InvalidInput("Say what was wrong with the reading.", field="reason")
    check.is_current, check.ended_at, check.ended_reason = False, timezone.now(), reason.strip()
    check_fields(check, "ended_reason")
    check.save(update_fields=["is_current", "ended_at", "ended_reason"])
    record_audit(actor=actor, action="strike instrument check", subject=check, reason=reason)
    return check


@transaction.atomic
def plan_checks(*, actor, instrument_id: int, every_days: int | None) -> Instrument:
    """Say after how many days an instrument is due to be checked; None: it is not checked regularly."""
    require_admin(actor)
    instrument = _locked(instrument_id)
    if every_days is not None and not 1 <= every_days <= LONGEST_DAYS:
        message = f"Enter 1 to {LONGEST_DAYS} days, or leave it empty."
        raise InvalidInput(message, field="every_days")
    before = {"check_every_days": instrument.check_every_days}
    instrument.check_every_days = every_days
    instrument.save(update_fields=["check_every_days"])
    after = {"check_every_days": every_days}
    record_audit(actor=actor, action="plan checks", subject=instrument, before=before, after=after)
    return instrument


def _locked(instrument_id: int) -> Instrument:
    instrument = Instrument.objects.select_for_update().filter(pk=instrument_id).first()
    if instrument is None:
        raise NotFound("There is no such instrument.")
    if instrument.kind == Instrument.Kind.SCANNER:
        raise WrongState("A scanner is checked by its calibrations, which are kept with the scanners.")
    return instrument


def _kind_problems(instrument: Instrument, density_type: str, geometry: str) -> list[dict]:
    """Densities of different kinds are different quantities; their difference says nothing."""
    problems = []
    for field, given, own, choices in (
        ("density_type", density_type, instrument.density_type, Instrument.DensityType),
        ("geometry", geometry, instrument.geometry, Instrument.Geometry),
    ):
        if given != own:
            said = choices(given).label if given in choices.values else given
            message = (
                f"{instrument} reads “{choices(own).label}”, and the tablet is certified as “{said}”. These "
                "are different quantities: check it on densities of its own kind."
            )
            problems.append({"field": field, "message": message})
    return problems


def _day_problems(checked_on: date) -> list[dict]:
    if checked_on > timezone.localdate():
        return [{"field": "checked_on", "message": "This day is still to come."}]
    return []


def _reading_problems(readings: Sequence[tuple[int, float]], tablet: TabletRevision) -> list[dict]:
    known = {NOTHING, *(each.step for each in tablet.steps.all())}
    messages = []
    if not len(LEVELS) <= len(readings) <= MOST_READINGS:
        messages.append(f"Read at least {len(LEVELS)} densities: a zero, a middle and a high one.")
    steps = [step for step, _ in readings]
    messages += [f"{tablet.tablet} has no step {step}." for step in steps if step not in known]
    messages += [f"Step {step} is read twice." for step in sorted(set(steps)) if steps.count(step) > 1]
    for step, density in readings:
        if not (math.isfinite(density) and LOWEST_D <= density <= HIGHEST_D):
            message = f"Step {step}: {density:g} is no density; enter {LOWEST_D:g} to {HIGHEST_D:g}."
            messages.append(message.replace("-", "−"))
    certified = {_certified(step, tablet) for step in steps if step in known}
    if not messages and len(certified) < len(LEVELS):
        messages.append("The zero, the middle and the high density have to be three different ones.")
    return [{"field": "readings", "message": message} for message in messages]


def _certified(step: int, tablet: TabletRevision) -> float:
    if step == NOTHING:
        return 0.0
    return next(each.density for each in tablet.steps.all() if each.step == step)


def _with_certificate(readings: Sequence[tuple[int, float]], tablet: TabletRevision) -> list[dict]:
    """Each reading with its certified density, the least first, and the three that make the levels."""
    rows = sorted(
        (
            {
                "level": "",
                "step": step,
                "density": float(density),
                "certified": _certified(step, tablet),
                "certified_sd": 0.0 if step == NOTHING else tablet.density_sd,
            }
            for step, density in readings
        ),
        key=lambda row: row["certified"],
    )
    halfway = (rows[0]["certified"] + rows[-1]["certified"]) / 2
    middle = min(rows[1:-1], key=lambda row: abs(row["certified"] - halfway))
    for level, row in zip(LEVELS, (rows[0], middle, rows[-1]), strict=True):
        row["level"] = level
    return rows
