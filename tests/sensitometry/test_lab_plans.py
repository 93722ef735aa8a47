"""Plans from a lab's components: what is shared cancels, what cannot be told apart counts."""

import math

import pytest

from curves.sensitometry.controlling.lab_plans import WAYS, lab_plan
from curves.sensitometry.controlling.planning import THIRD_OF_A_STOP, Design, difference_error
from curves.sensitometry.controlling.variance_components import VarianceComponents
from curves.sensitometry.measures import Measure, withheld

SDS = {"member": 0.05, "run": 0.10, "roll": 0.12, "strip": 0.06, "reading": 0.04}


def components(*, merged=None, without=(), sds=SDS) -> VarianceComponents:
    """Components of known size, each known to a tenth; merged ones have none of their own."""
    merged = merged or {}
    found = {}
    for level, sd in sds.items():
        if level in merged:
            found[level] = withheld("variance_component", "NOT_SEPARABLE", "stop", f"held by {merged[level]}")
        elif level in without:
            found[level] = withheld("variance_component", "TOO_FEW_GROUPS", "stop", "there is only one")
        else:
            found[level] = Measure("variance_component", sd, 0.9 * sd, 1.1 * sd, "stop")
    return VarianceComponents(found, merged, {}, {}, {})


def error(found, **design) -> float:
    return difference_error(found, Design(**design)).value


def test_what_two_stocks_share_cancels():
    found = components()
    own = sum(2 * SDS[level] ** 2 for level in ("roll", "strip", "reading"))
    assert error(found) == pytest.approx(math.sqrt(own))
    run = 2 * SDS["run"] ** 2
    assert error(found, shares_runs=False, shares_members=True) == pytest.approx(math.sqrt(own + run))
    member = 2 * SDS["member"] ** 2
    assert error(found, shares_runs=False) == pytest.approx(math.sqrt(own + run + member))


def test_a_run_that_holds_its_only_roll_does_not_cancel():
    """One roll a run: the run's component is that of both, and rolls differ though runs are shared."""
    found = components(merged={"roll": "run", "strip": "run"})
    assert error(found) == pytest.approx(math.sqrt(2 * (SDS["run"] ** 2 + SDS["reading"] ** 2)))
    assert error(components(merged={"run": "member"})) == pytest.approx(error(components()))


def test_the_ways_are_those_that_the_data_tell():
    usual = Design(runs=3, strips=1, readings=2, shares_runs=False)
    plans = {
        model: lab_plan(components(without=without), model, usual, THIRD_OF_A_STOP)
        for model, without in (
            (("member", "run", "roll"), ()),
            (("run", "roll"), ("member",)),
            (("roll",), ("member", "run")),
        )
    }
    assert [tuple(plan.rolls) for plan in plans.values()] == [
        WAYS,
        ("same_runs", "nothing_shared"),
        ("nothing_shared",),
    ]
    full = plans["member", "run", "roll"]
    together, apart = full.rolls["same_runs"], full.rolls["nothing_shared"]
    assert 2 <= together.low <= together.value <= together.high
    assert together.value < apart.value
    assert {gain.level for gain in plans[("roll",)].gains} == {"roll", "strip", "reading"}
    assert [gain.share for gain in full.gains] == sorted((g.share for g in full.gains), reverse=True)
    assert lab_plan(components(), (), usual, THIRD_OF_A_STOP) is None
