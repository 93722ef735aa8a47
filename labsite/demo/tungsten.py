"""The series under tungsten: one tank of four stocks, of every class of sensitisation, with the target.

It has dice of its own: what was invented before stays as it was.
"""

from dataclasses import replace
from datetime import date

import numpy as np

from curves.models import Batch
from curves.services.references import appoint_reference
from curves.services.reviews import accept_roll
from curves.services.rolls import submit_roll
from labsite.demo import rolls as making
from labsite.demo.patches import enter_patches, read_patches, slower_by
from labsite.demo.rolls import Bench
from labsite.demo.scenario import REFERENCE, STOCKS
from labsite.demo.standards import tungsten_exposure
from labsite.jobs.runner import run_waiting_jobs

BY_TUNGSTEN = (REFERENCE, "Corvale Ortho 40", "Corvale Survey 160", "Saltern Copy 6")
LIGHT = "tungsten"


def expose_by_tungsten(
    *, bench: Bench, batches: dict[str, Batch], people: dict, day: date, seed: int
) -> None:
    """Test these stocks by lamplight, have them accepted, and appoint the reference there, too."""
    admin, member = people["warden"], people["odile"]
    exposure = tungsten_exposure(admin=admin, daylight=bench.conditions.exposure)
    enter_patches(admin=admin, exposure=exposure, light=LIGHT)
    rng = np.random.default_rng(seed)
    conditions = replace(bench.conditions, exposure=exposure)
    run = making.develop(bench=replace(bench, rng=rng), operator=member, ran_on=day, films_through=5)
    rolls = []
    for stock in (stock for stock in STOCKS if stock.name in BY_TUNGSTEN):
        shift = bench.speed_shift + slower_by(stock.sensitisation, LIGHT)
        own = replace(bench, conditions=conditions, rng=rng, speed_shift=shift)
        roll = making.plan(bench=own, member=member, batch=batches[stock.name], exposed_on=day)
        making.process(member=member, roll=roll, run=run)
        making.read(bench=own, member=member, roll=roll, emulsion=stock.emulsion)
        read_patches(
            member=member,
            roll=roll,
            emulsion=stock.emulsion,
            sensitisation=stock.sensitisation,
            instrument_id=conditions.instrument.pk,
            rng=rng,
            light=LIGHT,
            speed_shift=shift,
            contrast=bench.contrast,
        )
        rolls.append(roll)
    run_waiting_jobs()
    for roll in rolls:
        submit_roll(actor=member, roll_id=roll.pk)
        accept_roll(actor=admin, roll_id=roll.pk)
    run_waiting_jobs()
    appoint_reference(
        actor=admin,
        stock_id=batches[REFERENCE].stock_id,
        process_revision_id=conditions.process.pk,
        exposure_revision_id=exposure.pk,
        reason="The reference by daylight, to be the same by lamplight.",
    )
