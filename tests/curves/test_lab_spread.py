"""The lab's spread end to end: accepted rolls of known components in, a yardstick with its reasons out."""

import math
from datetime import date, timedelta
from functools import cache

import numpy as np
import pytest

from curves.models import Analysis, Reading, Roll, RollState, SpreadEstimate
from curves.queries.inputs import digest_of, engine_readings, inputs_of_rolls
from curves.queries.spread_inputs import (
    curve_readings,
    roll_path,
    roll_paths_of,
    spread_between,
    spread_inputs,
)
from curves.queries.standing import lab_spread_under
from curves.sensitometry import analyse_many, estimate_lab_spread
from curves.sensitometry.comparing.lab_spread import COMPONENT_UNITS, CurveRow
from curves.services.spreads import request_spread
from labsite.accounts.queries import current_lab
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.rolls import BASE_FOG, make_run, make_standards, soft_toe_densities
from tests.factories.standing import result_row, roll_row, stock_row
from tests.sensitometry.test_lab_spread import nested_rows

STOP = math.log10(2)
#: Of speed, in stops; reading noise of 0.008 D gives some 0.06 stop a reading beside them.
RUN_SD, ROLL_SD = 0.20, 0.10
RUNS, STOCKS = 8, 2


@pytest.fixture
def pair(admin):
    process, exposure = make_standards(admin)
    return {"process_revision": process, "exposure_revision": exposure}


def make_lab(owner, labmate, pair, *, runs=RUNS, seed=6):
    """Runs of two members with a roll of each stock, every strip read twice; no more rows than it needs."""
    rng = np.random.default_rng(seed)
    stocks = [stock_row(owner, f"Alder {number}00") for number in range(1, STOCKS + 1)]
    for number in range(runs):
        operator = (owner, labmate)[number % 2]
        day = date(2026, 5, 4) + timedelta(days=number)
        run = make_run(operator, pair["process_revision"], ran_on=day)
        of_run = rng.normal(0, RUN_SD)
        for stock in stocks:
            roll = roll_row(
                operator, pair["process_revision"], pair["exposure_revision"], stock=stock, run=run
            )
            read(roll, (of_run + rng.normal(0, ROLL_SD)) * STOP, rng)
    rolls = list(Roll.objects.select_related("exposure_revision", "batch__stock", "run").order_by("pk"))
    accept(rolls)
    return rolls


def read(roll, shift, rng):
    strip = roll.strips.get()
    steps = list(strip.tablet_revision.steps.all())
    clear = roll.exposure_revision.log_exposure_clear
    truth = [float(soft_toe_densities(clear - step.density, speed_point=-1.6 + shift)) for step in steps]
    cells = [(step.step, density) for step, density in zip(steps, truth, strict=True)] + [(0, BASE_FOG)]
    Reading.objects.bulk_create(
        Reading(
            strip=strip,
            step=step,
            replicate=replicate,
            density=round(float(density + rng.normal(0, 0.008)), 3),
            read_by=roll.member,
        )
        for step, density in cells
        for replicate in (1, 2)
    )


def accept(rolls):
    """As accepted: their curves are fitted and stand."""
    inputs = inputs_of_rolls(rolls)
    fitted = analyse_many([engine_readings(inputs[roll.pk]) for roll in rolls])
    for roll, result in zip(rolls, fitted, strict=True):
        document = result.to_dict()
        measures = document.pop("measures")
        roll.current_analysis = Analysis.objects.create(
            roll=roll,
            engine_version=result.engine_version,
            input_digest=digest_of(inputs[roll.pk]),
            measures=measures,
            detail=document,
        )
        roll.save()


def ids(pair):
    return {f"{name}_id": revision.pk for name, revision in pair.items()}


def estimate(pair) -> SpreadEstimate:
    request_spread(**ids(pair))
    run_waiting_jobs()
    return SpreadEstimate.objects.get(is_current=True)


def test_a_small_lab_of_known_components(owner, labmate, pair):
    rolls = make_lab(owner, labmate, pair)
    found = estimate(pair)
    counts = found.basis["counts"]
    assert (counts["stocks"], counts["members"], counts["runs"], counts["rolls"]) == (2, 2, RUNS, 2 * RUNS)
    assert (counts["strips"], counts["curves"]) == (2 * RUNS, 4 * RUNS)
    assert found.basis["habit"] == {"rolls": RUNS, "strips": 1, "readings": 2}
    speed = found.basis["components"]["speed_shift_stops"]["components"]
    for level, true in {"run": RUN_SD, "roll": ROLL_SD}.items():
        assert speed[level]["low"] <= true <= speed[level]["high"], level
        assert 0.4 * true <= speed[level]["value"] <= 2.5 * true, level
    # Two members are too few, and one strip a roll is no repetition: each says so.
    assert (speed["member"]["reason"], speed["member"]["note"]) == ("TOO_FEW_GROUPS", "counted with run")
    assert (speed["strip"]["reason"], speed["strip"]["note"]) == ("NOT_SEPARABLE", "held by roll")
    levels = lab_spread_under(**ids(pair))["levels"]["speed_stops"]
    assert set(levels) == {"run", "roll"}

    # A comparison reckons with what its rolls do not share.
    one, other = rolls[0], rolls[2]
    paths = {roll.pk: roll_path(roll) for roll in rolls}
    spread = lab_spread_under(**ids(pair))

    def variance(first, second):
        between = spread_between(spread, [paths[first.pk]], [paths[second.pk]])["speed_stops"]
        return between.test + between.reference - 2 * between.shared

    assert variance(one, rolls[1]) == pytest.approx(2 * levels["roll"] ** 2)
    assert variance(one, other) == pytest.approx(2 * (levels["roll"] ** 2 + levels["run"] ** 2))
    assert spread_between(spread, [], [paths[one.pk]]) == spread["standard_deviations"]

    # It can be made again from what it kept.
    rows = [CurveRow.from_dict(row) for entry in found.entries for row in entry["rows"]]
    assert estimate_lab_spread(rows).to_dict() == found.spread

    # The same job again adds nothing.
    Job.objects.filter(kind="estimate_spread").update(state="queued", attempts=0)
    assert run_waiting_jobs() == 1
    assert SpreadEstimate.objects.get() == found

    # One roll less is another estimate, the first one is kept; only what is new is read off again.
    Roll.objects.filter(pk=rolls[-1].pk).update(state=RollState.VOID)
    later = estimate(pair)
    assert (SpreadEstimate.objects.count(), later.basis["counts"]["rolls"]) == (2, 2 * RUNS - 1)
    kept = {entry["analysis"]: entry for entry in found.entries}
    assert all(kept[entry["analysis"]] == entry for entry in later.entries)


def test_too_few_rolls_are_no_yardstick_and_cost_no_work(owner, labmate, pair, django_assert_max_num_queries):
    make_lab(owner, labmate, pair, runs=2)
    with django_assert_max_num_queries(1):
        assert spread_inputs(**ids(pair)).rows == []
    found = estimate(pair)
    assert found.spread["standard_deviations"] == {}
    assert (found.basis["counts"]["rolls"], found.basis["counts"]["curves"]) == (4, 0)
    reasons = {each["reason"] for each in found.basis["components"]["contrast_ratio"]["components"].values()}
    assert reasons == {"TOO_FEW_GROUPS"}


def test_every_reading_of_a_strip_is_a_curve_unless_it_covers_too_little():
    rows = [[step, -step / 10, replicate, 0.3] for replicate in (1, 2) for step in range(1, 11)]
    rows += [[step, -step / 10, 3, 0.3] for step in range(1, 4)]
    inputs = {
        "exposure": "absolute",
        "reading_sd": None,
        "strips": [{"number": 1, "tablet_sd": 0.0, "rows": rows, "unexposed": [0.25, 0.26, 0.27]}],
    }
    found = curve_readings(inputs)
    assert [len(readings.density) for _, readings in found] == [10, 10]
    assert [readings.unexposed.tolist() for _, readings in found] == [[0.25, 0.27], [0.26]]
    inputs["strips"][0]["unexposed"] = [0.25]
    assert [readings.unexposed.tolist() for _, readings in curve_readings(inputs)] == [[0.25], [0.25]]


def test_a_roll_without_a_run_shares_none(owner, pair):
    pooled = result_row(stock_row(owner), *pair.values()).pooled
    run = make_run(owner, pair["process_revision"])
    rolls = [roll_row(owner, *pair.values(), run=run), roll_row(owner, *pair.values())]
    analyses = [
        Analysis.objects.create(roll=roll, engine_version="0", input_digest="0", measures={}, detail={})
        for roll in rolls
    ]
    pooled.analyses.set(analyses)
    (found,) = roll_paths_of([pooled.pk]).values()
    assert sorted(found) == sorted(roll_path(roll) for roll in rolls)
    assert {path.run for path in found} == {str(run.pk), f"of roll {rolls[1].pk}"}


@cache
def told_spread():
    """A lab of eight members whose components can all be told."""
    return estimate_lab_spread(nested_rows(np.random.default_rng(14)))


@pytest.fixture
def estimated(owner, pair):
    """An estimate as a row, with a result to go with it."""
    result_row(stock_row(owner), *pair.values())
    spread = told_spread()
    counts = {"stocks": 3, "stocks_with_several": 3, "members": 8, "runs": 16, "rolls": 48, "strips": 96}
    path = ["1", "2", "3", "4", "1"]
    values = dict.fromkeys(COMPONENT_UNITS, 0.125)
    return SpreadEstimate.objects.create(
        **pair,
        engine_version="1",
        input_digest="0",
        spread=spread.to_dict(),
        basis={
            "counts": {**counts, "curves": 192},
            "habit": {"rolls": 2, "strips": 1, "readings": 2},
            "components": {name: each.to_dict() for name, each in spread.components.items()},
            "models": spread.models,
        },
        entries=[{"path": [], "rows": [{"path": path, "values": values, "errors": values}]}],
    )


def test_the_page_tells_components_plans_and_what_they_rest_on(client_for, owner, visitor, estimated):
    text = client_for(owner).get("/control/spread/").content.decode()
    for words in (
        "What each level adds",
        "48 accepted, of 3 stocks",
        "192, one for each reading of 96 strips",
        "both in the same runs",
        "in different runs, developed by the same members",
        "twice as many rolls, each in a run of its own",
        "Every value that it rests on, as CSV",
    ):
        assert words in text, words
    figure = client_for(owner).get("/control/spread/?measure=base_difference").content.decode()
    assert "Too few data" not in figure
    told = client_for(owner).get("/control/spread/?export=csv").content.decode()
    assert "Speed,stop,member" in told
    values = client_for(owner).get("/control/spread/values.csv").content.decode().splitlines()
    assert values[0].startswith("stock,member,run,roll,strip,speed_shift_stops [stop]")
    assert values[1].startswith("1,2,3,4,1,0.125")
    lab = current_lab()
    lab.is_open_to_visitors = True
    lab.save()
    assert "as CSV" not in client_for(visitor).get("/control/spread/").content.decode()
    assert client_for(owner).get("/control/spread/?standards=987654-987654").status_code == 404


def test_the_api_tells_the_same(client_for, owner, estimated):
    found = client_for(owner).get("/api/v1/lab-spread/").json()
    assert found["estimate_id"] == estimated.pk
    speed = found["measures"]["speed_shift_stops"]
    assert speed["model"] == ["member", "run", "roll"]
    assert speed["components"]["roll"]["value"] == pytest.approx(
        told_spread().components["speed_shift_stops"].components["roll"].value
    )
    needed = found["plans"]["speed_shift_stops"]["rolls_needed"]
    assert set(needed) == {"same_runs", "same_members", "nothing_shared"}
    assert 2 <= needed["same_runs"]["value"] <= needed["nothing_shared"]["value"]


def test_a_lab_of_too_few_rolls_is_told_what_it_lacks(client_for, owner, pair, django_assert_max_num_queries):
    client = client_for(owner)
    assert "No accepted roll yet" in client.get("/control/spread/").content.decode()
    result_row(stock_row(owner), *pair.values())
    assert "Nothing was estimated" in client.get("/control/spread/").content.decode()
    estimate(pair)
    with django_assert_max_num_queries(9):
        text = client.get("/control/spread/").content.decode()
    assert "At least 4 more rolls" in text
    assert "called unknown" in text
