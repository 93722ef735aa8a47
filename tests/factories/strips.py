"""Control strips made through their services: batches, runs read day by day, aims in force."""

from datetime import date, timedelta

import numpy as np

from curves.models import ControlAims, ControlStrip, ProcessRun, StripBatch
from curves.services.control_aims import draft_aims_from_strips, put_aims_in_force
from curves.services.control_strips import add_strip_batch, read_strip
from tests.factories.rolls import make_run

AS_USUAL = {"base_fog": 0.28, "speed_step": 0.39, "high_step": 1.45, "dmax": 2.20}
FIRST_DAY = date(2026, 3, 2)


def make_strip_batch(admin, code="CS-1") -> StripBatch:
    """A batch of strips."""
    return add_strip_batch(actor=admin, code=code)


def read_as(member, run: ProcessRun, batch: StripBatch, *, off=None, **values) -> ControlStrip:
    """Read a strip of the run: as usual, but for what is ``off`` by so much and what is given."""
    densities = {place: round(value + (off or {}).get(place, 0.0), 3) for place, value in AS_USUAL.items()}
    return read_strip(actor=member, run_id=run.pk, batch_id=batch.pk, **densities | values)


def make_strip_runs(member, process, batch, *, count=10, seed=7, sd=0.01, **run_values) -> list[ProcessRun]:
    """Runs a day apart, each with one strip that varies as a process in control does."""
    rng = np.random.default_rng(seed)
    runs = []
    for number in range(count):
        day = FIRST_DAY + timedelta(days=number)
        run = make_run(member, process, **{"ran_on": day, "developer_batch": "H-12"} | run_values)
        read_as(member, run, batch, off={place: rng.normal(0, sd) for place in AS_USUAL})
        runs.append(run)
    return runs


def make_aims(admin, member, process, batch, *, count=10, **how) -> ControlAims:
    """Aims in force from ten runs."""
    make_strip_runs(member, process, batch, count=count, **how)
    aims = draft_aims_from_strips(actor=admin, process_revision_id=process.pk, batch_id=batch.pk, least=count)
    put_aims_in_force(actor=admin, aims_id=aims.pk)
    aims.refresh_from_db()
    return aims


def next_run(member, process, **values) -> ProcessRun:
    """A run some weeks after those that made the aims."""
    return make_run(member, process, **{"ran_on": date(2026, 4, 20), "developer_batch": "H-12"} | values)
