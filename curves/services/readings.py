"""Readings go in: checked all at once, kept for ever, and fitted on commit."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from curves.models import UNEXPOSED_STEP, Instrument, Reading, Roll, RollState, Strip
from curves.services.fitting import request_fit
from curves.services.rolls import locked_own_roll
from labsite.accounts.services import record_audit
from labsite.common.errors import InvalidInput, NotFound
from labsite.jobs.models import Job

LOWEST_DENSITY, HIGHEST_DENSITY = -0.1, 6.0
MOST_REPLICATES = 20


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
) -> Job | None:
    """Store the cells given, leave all others alone, and return the fit's job if anything changed.

    A cell that already holds this value from this instrument stays as it is; another value ends the
    old reading, which is kept with the reason. Every faulty cell is reported, and then none is stored.
    """
    strip = Strip.objects.select_related("roll", "tablet_revision").filter(pk=strip_id).first()
    if strip is None:
        raise NotFound("There is no such strip.")
    roll = locked_own_roll(actor=actor, roll_id=strip.roll_id)
    instrument = _usable_instrument(instrument_id)
    values = list(values)
    _check_values(strip, values)
    _check_same_density(roll, instrument)
    standing = {(r.step, r.replicate): r for r in strip.readings.filter(is_current=True)}
    changed = [
        value for value in values if _differs(standing.get((value.step, value.replicate)), value, instrument)
    ]
    if not changed:
        return None
    why = reason.strip() or (
        "corrected after return" if roll.state == RollState.RETURNED else "corrected in draft"
    )
    for value in changed:
        _replace(
            strip,
            standing.get((value.step, value.replicate)),
            value,
            actor,
            instrument,
            source,
            source_name,
            why,
        )
    record_audit(
        actor=actor,
        action="record readings",
        subject=roll,
        after={
            "strip": strip.number,
            "cells": len(changed),
            "corrected": sum((v.step, v.replicate) in standing for v in changed),
            "source": source_name or str(source),
        },
        reason=reason,
    )
    return request_fit(roll=roll, requested_by=actor)


def _usable_instrument(instrument_id: int | None) -> Instrument | None:
    if instrument_id is None:
        return None
    instrument = Instrument.objects.filter(pk=instrument_id, is_active=True).first()
    if instrument is None:
        raise InvalidInput("Choose an instrument that is in use.", field="instrument")
    return instrument


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
    if value.density is None:
        return ""
    if not math.isfinite(value.density) or not LOWEST_DENSITY <= value.density <= HIGHEST_DENSITY:
        return (
            f"A density lies between {LOWEST_DENSITY} and {HIGHEST_DENSITY:.0f}; read {value.density} again."
        )
    return ""


def cell_name(value: ReadingValue) -> str:
    """Return the form name of a cell, by which pages and the API point at it."""
    return f"d-{'unexposed' if value.step == UNEXPOSED_STEP else value.step}-{value.replicate}"


def _check_same_density(roll: Roll, instrument: Instrument | None) -> None:
    """Densities of different type or geometry are different quantities: one curve holds only one kind."""
    if instrument is None:
        return
    other = (
        Instrument.objects.filter(readings__strip__roll=roll, readings__is_current=True)
        .exclude(density_type=instrument.density_type, geometry=instrument.geometry)
        .first()
    )
    if other is not None:
        raise InvalidInput(
            f"This roll already has readings by {other} ({other.get_density_type_display()}, "
            f"{other.get_geometry_display()}); {instrument} reads {instrument.get_density_type_display()}, "
            f"{instrument.get_geometry_display()}. One curve can't mix them: read all of it with one kind.",
            field="instrument",
        )


def _differs(old: Reading | None, value: ReadingValue, instrument: Instrument | None) -> bool:
    if old is None:
        return value.density is not None
    return old.density != value.density or (instrument is not None and old.instrument_id != instrument.pk)


def _replace(strip, old, value, actor, instrument, source, source_name, why) -> None:
    if old is not None:
        old.is_current = False
        old.ended_at = timezone.now()
        old.ended_reason = why
        old.save(update_fields=["is_current", "ended_at", "ended_reason"])
    if value.density is None:
        return
    new = Reading.objects.create(
        strip=strip,
        step=value.step,
        replicate=value.replicate,
        density=value.density,
        instrument=instrument,
        source=source,
        source_name=source_name,
        read_by=actor,
    )
    if old is not None:
        old.superseded_by = new
        old.save(update_fields=["superseded_by"])
