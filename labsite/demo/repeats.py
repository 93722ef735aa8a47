"""The evening of repeats: three stocks tested again by every member, to tell the lab's spread apart.

Two of them have the target on every roll, so that the spread in colour is told, too. It has dice of its own,
and runs differ here as runs do: what was invented before stays as it was.
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from curves.models import Batch, Roll
from curves.services.reviews import accept_roll
from curves.services.rolls import submit_roll
from labsite.demo import rolls as making
from labsite.demo.patches import read_target
from labsite.demo.rolls import Bench
from labsite.demo.scenario import STOCKS
from labsite.jobs.runner import run_waiting_jobs

REPEATED = ("Wrensfell 100", "Wrensfell 400", "Tindrel 100")
WITH_PATCHES = ("Wrensfell 100", "Wrensfell 400")
#: What a run does to all of its rolls alike: log₁₀ of speed, and ratio of contrast.
RUN_SPEED_SD, RUN_CONTRAST_SD = 0.02, 0.012


def repeat_tests(
    *, bench: Bench, batches: dict[str, Batch], members: list, admin, first_day: date, seed: int
) -> None:
    """Let each member develop a roll of each of these stocks in a run of their own; all are accepted."""
    rng = np.random.default_rng(seed)
    tested: list[Roll] = []
    for number, member in enumerate(members):
        own = replace(
            bench,
            rng=rng,
            speed_shift=bench.speed_shift + rng.normal(0.0, RUN_SPEED_SD),
            contrast=bench.contrast * (1.0 + rng.normal(0.0, RUN_CONTRAST_SD)),
        )
        day = first_day + timedelta(days=number)
        run = making.develop(bench=own, operator=member, ran_on=day, films_through=3 * number)
        for stock in (stock for stock in STOCKS if stock.name in REPEATED):
            roll = making.plan(bench=own, member=member, batch=batches[stock.name], exposed_on=day)
            making.process(member=member, roll=roll, run=run)
            making.read(bench=own, member=member, roll=roll, emulsion=stock.emulsion)
            if stock.name in WITH_PATCHES:
                read_target(bench=own, member=member, roll=roll, stock=stock, seed=seed)
            tested.append(roll)
    run_waiting_jobs()
    for roll in tested:
        submit_roll(actor=roll.member, roll_id=roll.pk)
        accept_roll(actor=admin, roll_id=roll.pk)
    run_waiting_jobs()
