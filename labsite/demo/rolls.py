"""Test rolls of the demo lab: exposed, developed and read as the invented members did it.

Readings are the truth of ``emulsions`` moved by what differs between rolls (a little speed, a little
contrast), with honest reading noise, rounded as the densitometer shows them.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from curves.models import UNEXPOSED_STEP, Batch, ProcessRun, Roll
from curves.services.readings import ReadingValue, record_readings
from curves.services.rolls import assign_run, plan_roll
from curves.services.runs import record_run
from labsite.demo.emulsions import Emulsion, density
from labsite.demo.standards import LOG_EXPOSURE_CLEAR, READING_SD, Conditions

REPLICATES = 2
UNEXPOSED_READINGS = 3
#: Between rolls of one stock: exposure and process never repeat exactly. log₁₀, and ratio of contrast.
ROLL_SPEED_SD, ROLL_CONTRAST_SD = 0.02, 0.012


@dataclass(frozen=True)
class Bench:
    """Conditions in force, and the developer's effect under them on every stock's true curve."""

    conditions: Conditions
    rng: np.random.Generator
    speed_shift: float = 0.0
    contrast: float = 1.0


def develop(
    *, bench: Bench, operator, ran_on: date, films_through: int, too_warm_c: float = 0.0
) -> ProcessRun:
    """Record one tank load, at the standard's temperature or (``too_warm_c``) away from it."""
    revision = bench.conditions.process
    start_c = revision.temperature_c + too_warm_c + round(float(bench.rng.uniform(-0.1, 0.1)), 1)
    return record_run(
        actor=operator,
        revision_id=revision.pk,
        ran_on=ran_on,
        temperature_start_c=round(start_c, 1),
        temperature_end_c=round(start_c - 0.1, 1),
        development_time_s=revision.development_time_s,
        developer_batch=f"mixed {ran_on:%Y-%m}",
        films_through=films_through,
    )


def plan(*, bench: Bench, member, batch: Batch, exposed_on: date, notes: str = "") -> Roll:
    """Plan a roll of a batch under the conditions in force."""
    return plan_roll(
        actor=member,
        batch_id=batch.pk,
        exposure_revision_id=bench.conditions.exposure.pk,
        process_revision_id=bench.conditions.process.pk,
        exposed_on=exposed_on,
        notes=notes,
    )


def process(*, member, roll: Roll, run: ProcessRun) -> None:
    """Say in which load the roll was developed."""
    assign_run(actor=member, roll_id=roll.pk, run_id=run.pk)


def read(*, bench: Bench, member, roll: Roll, emulsion: Emulsion, too_warm_c: float = 0.0) -> None:
    """Read every step twice and the unexposed area three times."""
    rng = bench.rng
    # A warm developer raises contrast; about 6 % a degree is this invented developer's own habit.
    contrast = bench.contrast * (1.0 + rng.normal(0.0, ROLL_CONTRAST_SD) + 0.06 * too_warm_c)
    shift = bench.speed_shift + rng.normal(0.0, ROLL_SPEED_SD) - 0.02 * too_warm_c
    exposures = LOG_EXPOSURE_CLEAR - bench.conditions.tablet_truth
    truth = density(emulsion, exposures, speed_shift=shift, contrast=contrast)
    values = [
        ReadingValue(step, replicate, _shown(truth[step - 1], rng))
        for step in range(1, truth.size + 1)
        for replicate in range(1, REPLICATES + 1)
    ]
    values += [
        ReadingValue(UNEXPOSED_STEP, replicate, _shown(emulsion.base_fog, rng))
        for replicate in range(1, UNEXPOSED_READINGS + 1)
    ]
    record_readings(
        actor=member,
        strip_id=roll.strips.get().pk,
        values=values,
        instrument_id=bench.conditions.instrument.pk,
    )


def _shown(true_density: float, rng: np.random.Generator) -> float:
    """One reading: noise, then the two decimals of the display."""
    return round(float(true_density + rng.normal(0.0, READING_SD)), 2)
