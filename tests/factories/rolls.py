"""Test rolls as members make them, through the services and the fit job."""

from datetime import date

import numpy as np

from curves.models import UNEXPOSED_STEP, Batch, ExposureRevision, ProcessRevision, ProcessRun, Roll
from curves.services.films import add_batch, add_stock
from curves.services.readings import ReadingValue, record_readings
from curves.services.reviews import accept_roll
from curves.services.rolls import assign_run, plan_roll, submit_roll
from curves.services.runs import record_run
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.standards import make_exposure, make_process

BASE_FOG = 0.25


def make_batch(member, name="Alder 100", emulsion_number="0417", box_speed=100) -> Batch:
    """A batch of a new stock."""
    stock = add_stock(actor=member, name=name, maker="Fenwick Works", box_speed=box_speed)
    return add_batch(actor=member, stock_id=stock.pk, emulsion_number=emulsion_number)


def make_standards(admin) -> tuple[ProcessRevision, ExposureRevision]:
    """A process and an exposure revision in force."""
    return make_process(admin), make_exposure(admin)


def make_run(member, process: ProcessRevision, **values) -> ProcessRun:
    """A run within tolerance, unless said otherwise."""
    as_meant = {
        "ran_on": date(2026, 5, 4),
        "temperature_start_c": process.temperature_c,
        "development_time_s": process.development_time_s,
    }
    return record_run(actor=member, revision_id=process.pk, **as_meant | values)


def make_roll(member, batch: Batch, standards) -> Roll:
    """A planned roll."""
    process, exposure = standards
    return plan_roll(
        actor=member, batch_id=batch.pk, process_revision_id=process.pk, exposure_revision_id=exposure.pk
    )


def soft_toe_densities(log_exposure, *, speed_point=-1.6, gradient=0.65, toe=0.2) -> np.ndarray:
    """Gross densities of a soft-toe curve whose net density is 0.10 at the speed point."""
    onset = speed_point - toe * np.log(np.expm1(0.10 / (gradient * toe)))
    return BASE_FOG + gradient * toe * np.logaddexp(0.0, (np.asarray(log_exposure) - onset) / toe)


def reading_values(roll: Roll, *, seed=1, noise=0.01, **shape) -> list[ReadingValue]:
    """Two readings of every step and three of the unexposed area, with honest noise."""
    rng = np.random.default_rng(seed)
    steps = roll.strips.get(number=1).tablet_revision.steps.all()
    clear = roll.exposure_revision.log_exposure_clear or 0.0
    truth = {s.step: float(soft_toe_densities(clear - s.density, **shape)) for s in steps}
    cells = [(step, replicate, truth[step]) for step in truth for replicate in (1, 2)]
    cells += [(UNEXPOSED_STEP, replicate, BASE_FOG) for replicate in (1, 2, 3)]
    return [
        ReadingValue(step, replicate, round(float(density + rng.normal(0, noise)), 2))
        for step, replicate, density in cells
    ]


def make_read_roll(member, batch: Batch, standards, *, run=None, seed=1, **shape) -> Roll:
    """A draft with its run and readings, fitted."""
    roll = make_roll(member, batch, standards)
    run = run or make_run(member, standards[0])
    assign_run(actor=member, roll_id=roll.pk, run_id=run.pk)
    record_readings(
        actor=member, strip_id=roll.strips.get().pk, values=reading_values(roll, seed=seed, **shape)
    )
    run_waiting_jobs()
    roll.refresh_from_db()
    return roll


def make_submitted_roll(member, batch: Batch, standards, **how) -> Roll:
    """A submitted roll."""
    roll = make_read_roll(member, batch, standards, **how)
    return submit_roll(actor=member, roll_id=roll.pk)


def make_accepted_roll(member, admin, batch: Batch, standards, **how) -> Roll:
    """An accepted roll, its stock pooled."""
    roll = make_submitted_roll(member, batch, standards, **how)
    accept_roll(actor=admin, roll_id=roll.pk)
    run_waiting_jobs()
    roll.refresh_from_db()
    return roll
