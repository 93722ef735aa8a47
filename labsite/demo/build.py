"""Builds the demo lab from nothing, through the services that the pages use, jobs included."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from curves.models import Batch, Roll
from curves.services.films import add_batch, add_stock
from curves.services.references import appoint_reference
from curves.services.reviews import accept_roll, return_roll
from curves.services.rolls import remark_on_roll, submit_roll
from labsite.demo import control
from labsite.demo import rolls as making
from labsite.demo.agreement import go_round
from labsite.demo.checks import check_densitometer
from labsite.demo.control import ControlStrips
from labsite.demo.papers import enter_papers
from labsite.demo.patches import enter_patches, read_target
from labsite.demo.people import join_members
from labsite.demo.pictures import add_picture_measures
from labsite.demo.prices import enter_prices
from labsite.demo.repeats import repeat_tests
from labsite.demo.rolls import Bench
from labsite.demo.scans import add_scans
from labsite.demo.scenario import REFERENCE, STOCKS, Stock
from labsite.demo.standards import revise_process, set_standards
from labsite.demo.tungsten import expose_by_tungsten
from labsite.demo.verdicts import add_verdicts
from labsite.jobs.runner import run_waiting_jobs

SEED = 20_250_311
ROLLS_A_TANK = 4
#: Stocks whose rolls carry the target, of every class of sensitisation, and where their noise starts.
WITH_PATCHES = (
    "Wrensfell 100",
    "Wrensfell 400",
    "Aldergate Pan 125",
    "Corvale Ortho 40",
    "Corvale Survey 160",
    "Saltern Copy 6",
)
#: What the second revision's shorter time does to every stock: a little less speed and contrast.
SHORTER_TIME = {"speed_shift": 0.02, "contrast": 0.955}


def build_demo_lab(*, today: date, seed: int = SEED, with_scans: bool = False) -> None:
    """Make people, standards, stocks, rolls of every state and the house reference; scans take longest."""
    rng = np.random.default_rng(seed)
    people = join_members()
    admin = people["warden"]
    bench = Bench(set_standards(admin=admin, today=today, rng=rng), rng)
    enter_papers(admin=admin, today=today, seed=seed + 1)
    enter_patches(admin=admin, exposure=bench.conditions.exposure)
    batches = _enter_films(people, today)
    enter_prices(member=people["keeper"], batches=batches, today=today)
    members = [people[name] for name in ("bram", "odile", "piet", "keeper")]
    strips = control.cut_strips(admin=admin, seed=seed + 2)
    control.state_first_aims(admin=admin, strips=strips, process=bench.conditions.process)

    before = [stock for stock in STOCKS for _ in range(stock.rolls_before)]
    _test_and_accept(bench, before, batches, members, admin, today - timedelta(days=210), strips)
    _appoint(bench, batches, admin, "Tested most often, bought by the case.")

    conditions = replace(
        bench.conditions, process=revise_process(admin=admin, process=bench.conditions.process)
    )
    bench = replace(bench, conditions=conditions, **SHORTER_TIME)
    control.set_aims(
        admin=admin, bench=bench, strips=strips, operators=members, first_day=today - timedelta(days=95)
    )
    now = [stock for stock in STOCKS for _ in range(stock.rolls_now)]
    _test_and_accept(bench, now, batches, members, admin, today - timedelta(days=80), strips)
    _appoint(bench, batches, admin, "Carried over from the revision before.")
    _leave_work_on_the_bench(bench, batches, people, today, strips)
    repeat_tests(
        bench=bench,
        batches=batches,
        members=members,
        admin=admin,
        first_day=today - timedelta(days=24),
        seed=seed + 300,
    )
    check_densitometer(conditions=bench.conditions, members=members, today=today, seed=seed + 302)
    if with_scans:
        add_scans(bench=bench, batches=batches, people=people, today=today, seed=seed + 100)
    add_picture_measures(people=people, seed=seed + 200)
    go_round(people=people, conditions=bench.conditions, seed=seed + 400)
    expose_by_tungsten(
        bench=bench, batches=batches, people=people, day=today - timedelta(days=17), seed=seed + 500
    )
    add_verdicts(people=people)
    run_waiting_jobs()


def _enter_films(people: dict, today: date) -> dict[str, Batch]:
    batches = {}
    for index, stock in enumerate(STOCKS):
        film = add_stock(
            actor=people["keeper"],
            name=stock.name,
            maker=stock.maker,
            box_speed=stock.box_speed,
            formats=list(stock.formats),
            sensitisation=stock.sensitisation,
            base_material=stock.base_material,
            is_in_production=stock.is_in_production,
            notes=stock.notes,
        )
        batches[stock.name] = add_batch(
            actor=people["keeper"],
            stock_id=film.pk,
            emulsion_number=f"{1000 + 37 * index}-{index % 7 + 1}",
            expires_on=today + timedelta(days=200 + 23 * index),
            storage="refrigerator, 5 °C",
        )
    return batches


def _test_and_accept(
    bench: Bench, stocks: list[Stock], batches, members, admin, first_day: date, strips: ControlStrips
) -> None:
    """Test these stocks a tank at a time, fit them all, submit them and have them accepted."""
    tested = []
    films_through = 0
    for number, tank in enumerate(_tanks(stocks)):
        day = first_day + timedelta(days=5 * number)
        member = members[number % len(members)]
        run = making.develop(bench=bench, operator=member, ran_on=day, films_through=films_through % 16)
        if number % 3:  # every third tank went without a control strip
            control.read(bench=bench, operator=member, run=run, strips=strips)
        films_through += len(tank)
        for stock in tank:
            roll = making.plan(bench=bench, member=member, batch=batches[stock.name], exposed_on=day)
            making.process(member=member, roll=roll, run=run)
            making.read(bench=bench, member=member, roll=roll, emulsion=stock.emulsion)
            if stock.name in WITH_PATCHES:
                read_target(bench=bench, member=member, roll=roll, stock=stock, seed=SEED)
            tested.append((member, roll))
    run_waiting_jobs()
    for member, roll in tested:
        submit_roll(actor=member, roll_id=roll.pk)
        accept_roll(actor=admin, roll_id=roll.pk)
    run_waiting_jobs()


def _tanks(stocks: list[Stock]) -> Iterator[list[Stock]]:
    for start in range(0, len(stocks), ROLLS_A_TANK):
        yield stocks[start : start + ROLLS_A_TANK]


def _appoint(bench: Bench, batches: dict[str, Batch], admin, reason: str) -> None:
    appoint_reference(
        actor=admin,
        stock_id=batches[REFERENCE].stock_id,
        process_revision_id=bench.conditions.process.pk,
        exposure_revision_id=bench.conditions.exposure.pk,
        reason=reason,
    )


def _leave_work_on_the_bench(
    bench: Bench, batches: dict[str, Batch], people: dict, today: date, strips: ControlStrips
) -> None:
    """Rolls in the other states: held back, submitted, returned, read but not submitted, only planned."""
    bram, odile, piet, warden = (people[name] for name in ("bram", "odile", "piet", "warden"))
    warm = making.develop(
        bench=bench, operator=piet, ran_on=today - timedelta(days=9), films_through=12, too_warm_c=1.4
    )
    good = making.develop(bench=bench, operator=odile, ran_on=today - timedelta(days=4), films_through=3)
    control.read(bench=bench, operator=piet, run=warm, strips=strips, too_warm_c=1.4)
    control.read(bench=bench, operator=odile, run=good, strips=strips)

    def tested(member, name: str, run, **how) -> Roll:
        stock = next(stock for stock in STOCKS if stock.name == name)
        roll = making.plan(bench=bench, member=member, batch=batches[name], exposed_on=run.ran_on)
        making.process(member=member, roll=roll, run=run)
        making.read(bench=bench, member=member, roll=roll, emulsion=stock.emulsion, **how)
        return roll

    held_back = tested(piet, "Pellam 400", warm, too_warm_c=1.4)
    returned = tested(piet, "Saltern 64", warm, too_warm_c=1.4)
    submitted = [tested(odile, "Cordwain 80", good), tested(bram, "Pellam 50", good)]
    tested(bram, "Quillon 500", good)
    run_waiting_jobs()
    for roll in (held_back, returned, *submitted):
        submit_roll(actor=roll.member, roll_id=roll.pk)
    accept_roll(actor=warden, roll_id=held_back.pk, reasons="Kept for the record of the warm tank.")
    return_roll(
        actor=warden,
        roll_id=returned.pk,
        reasons="The tank was 1.4 °C too warm; please develop another strip at 20 °C and read that.",
    )
    remark_on_roll(actor=piet, roll_id=returned.pk, text="Second roll is exposed, waiting for a tank.")
    making.plan(bench=bench, member=odile, batch=batches["Tindrel 640"], exposed_on=today, notes="Last box.")
    making.plan(bench=bench, member=bram, batch=batches["Wrensfell 100"], exposed_on=today)
    run_waiting_jobs()
