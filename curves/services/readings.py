"""Readings go in: checked all at once, kept for ever, and fitted on commit."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from curves.models import UNEXPOSED_STEP, Instrument, Reading, RollState, Strip
from curves.queries.readings import readings_version
from curves.services.fitting import request_fit
from curves.services.rolls import locked_own_roll
from labsite.accounts.services import record_audit
from labsite.common.errors import InvalidInput, NotFound, WrongState
from labsite.jobs.models import Job

LOWEST_DENSITY, HIGHEST_DENSITY = -0.1, 6.0
MOST_REPLICATES = 20
LONGEST_REASON = 200
STALE = (
    "These readings were changed in another window since this page was opened. "
    "What you typed is below; look at it against what stands now, and save again."
)


@dataclass(frozen=True)
class ReadingValue:
    """One cell: step (0 is the unexposed area), replicate, gross density; None empties the cell."""

    step: int
    replicate: int
    density: float | None


@transaction.atomic
def record_readings(
    *,
    actor,
    strip_id: int,
    values: Iterable[ReadingValue],
    instrument_id: int | None = None,
    source: str = Reading.Source.TYPED,
    source_name: str = "",
    reason: str = "",
    version: str = "",
    keeps_instrument: bool = False,
) -> Job | None:
    """Store the cells given, leave all others alone, and return the fit's job if anything changed.

    A cell that already holds this value from this instrument stays as it is (with ``keeps_instrument``
    from whatever instrument); another value ends the old reading, which is kept with the reason. Every
    faulty cell is reported, and then none is stored. ``version`` says which readings the values were
    typed over; if others stand by now, all is refused.
    """
    strip = Strip.objects.select_related("roll", "tablet_revision").filter(pk=strip_id).first()
    if strip is None:
        raise NotFound("There is no such strip.")
    roll = locked_own_roll(actor=actor, roll_id=strip.roll_id)
    values = list(values)
    _check_values(strip, values)
    _check_reason(reason)
    instrument = usable_instrument(strip=strip, instrument_id=instrument_id, values=values)
    standing = {(r.step, r.replicate): r for r in strip.readings.filter(is_current=True)}
    if version and version != readings_version(standing.values()):
        raise WrongState(STALE, code="stale")
    decisive = None if keeps_instrument else instrument
    changed = [
        value for value in values if _differs(standing.get((value.step, value.replicate)), value, decisive)
    ]
    if not changed:
        return None
    ended = [standing[key] for value in changed if (key := (value.step, value.replicate)) in standing]
    why = reason.strip() or (
        "corrected after return" if roll.state == RollState.RETURNED else "corrected in draft"
    )
    new = [
        Reading(
            strip=strip,
            step=value.step,
            replicate=value.replicate,
            density=value.density,
            instrument=instrument,
            source=source,
            source_name=source_name,
            read_by=actor,
        )
        for value in changed
        if value.density is not None
    ]
    _replace(ended, new, why)
    record_audit(
        actor=actor,
        action="record readings",
        subject=roll,
        after={
            "strip": strip.number,
            "cells": len(changed),
            "corrected": len(ended),
            "source": source_name or str(source),
        },
        reason=reason,
    )
    return request_fit(roll=roll, requested_by=actor)


def usable_instrument(
    *, strip: Strip, instrument_id: int | None, values: Iterable[ReadingValue]
) -> Instrument | None:
    """Return the instrument, if it is in use and reads the same kind of density as the rest of the roll."""
    if instrument_id is None:
        return None
    instrument = Instrument.objects.filter(pk=instrument_id, is_active=True).first()
    if instrument is None:
        raise InvalidInput("Choose an instrument that is in use.", field="instrument_id")
    _check_same_density(strip, instrument, {(value.step, value.replicate) for value in values})
    return instrument


def _check_reason(reason: str) -> None:
    if len(reason.strip()) > LONGEST_REASON:
        raise InvalidInput(f"Give the reason in at most {LONGEST_REASON} characters.", field="reason")


def _check_values(strip: Strip, values: list[ReadingValue]) -> None:
    steps = set(strip.tablet_revision.steps.values_list("step", flat=True)) | {UNEXPOSED_STEP}
    problems = []
    seen = set()
    for value in values:
        fault = _fault(value, steps)
        if (value.step, value.replicate) in seen:
            fault = "This cell was given twice; keep one value."
        seen.add((value.step, value.replicate))
        if fault:
            problems.append({"field": cell_name(value), "value": value.density, "message": fault})
    if problems:
        count = "One reading" if len(problems) == 1 else f"{len(problems)} readings"
        raise InvalidInput(f"{count} can't be stored; nothing was changed.", problems=tuple(problems))


def _fault(value: ReadingValue, steps: set[int]) -> str:
    if value.step not in steps:
        return f"The tablet has no step {value.step}; it has {min(steps - {0})} to {max(steps)}."
    if not 1 <= value.replicate <= MOST_REPLICATES:
        return f"Replicates count from 1 to {MOST_REPLICATES}."
    return "" if value.density is None else density_fault(value.density)


def density_fault(density: float) -> str:
    """Return why this can't be a density, and what to do; empty when it can."""
    if math.isfinite(density) and LOWEST_DENSITY <= density <= HIGHEST_DENSITY:
        return ""
    return f"A density lies between −0.1 and {HIGHEST_DENSITY:.0f}; read {density:g} again."


def cell_name(value: ReadingValue) -> str:
    """Return the form name of a cell, by which pages and the API point at it."""
    return f"d-{'unexposed' if value.step == UNEXPOSED_STEP else value.step}-{value.replicate}"


def _check_same_density(strip: Strip, instrument: Instrument, cells: set[tuple[int, int]]) -> None:
    """Densities of different type or geometry are different quantities: one curve holds only one kind.

    Readings that are about to be replaced do not count.
    """
    of_other_kind = Reading.objects.filter(
        strip__roll=strip.roll_id, is_current=True, instrument__isnull=False
    ).exclude(instrument__density_type=instrument.density_type, instrument__geometry=instrument.geometry)
    for reading in of_other_kind.select_related("instrument"):
        if reading.strip_id == strip.pk and (reading.step, reading.replicate) in cells:
            continue
        other = reading.instrument
        raise InvalidInput(
            f"This roll already has readings by {other} ({other.get_density_type_display()}, "
            f"{other.get_geometry_display()}); {instrument} reads {instrument.get_density_type_display()}, "
            f"{instrument.get_geometry_display()}. One curve can't mix them: read all of it with one kind.",
            field="instrument_id",
        )


def _differs(old: Reading | None, value: ReadingValue, instrument: Instrument | None) -> bool:
    if old is None:
        return value.density is not None
    return old.density != value.density or (instrument is not None and old.instrument_id != instrument.pk)


def _replace(ended: list[Reading], new: list[Reading], why: str) -> None:
    """End the old readings first: at no time do two of them stand in one cell."""
    Reading.objects.filter(pk__in=[old.pk for old in ended]).update(
        is_current=False, ended_at=timezone.now(), ended_reason=why
    )
    stored = {(r.step, r.replicate): r for r in Reading.objects.bulk_create(new)}
    for old in ended:
        old.superseded_by = stored.get((old.step, old.replicate))
    Reading.objects.bulk_update(ended, ["superseded_by"])
