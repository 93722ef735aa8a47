"""Near relatives: a rebadged film is found, and films of different truth are not called the same."""

import math
from collections import Counter
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import brentq

from curves.sensitometry import Readings, analyse_many, pool_analyses
from curves.sensitometry.comparing.equivalence import Margin
from curves.sensitometry.comparing.near_relatives import (
    KINDS,
    OPEN,
    OTHER,
    RELATIVE_MARGINS,
    SAME,
    STAND_IN,
    judge_kinship,
    roll_differences,
    spread_within,
)
from curves.sensitometry.comparing.shape_difference import SHAPE_PARTS
from curves.sensitometry.speed_scale import STOP
from labsite.demo.emulsions import density
from labsite.demo.rolls import ROLL_CONTRAST_SD, ROLL_SPEED_SD
from labsite.demo.scenario import REFERENCE, STOCKS
from labsite.demo.standards import READING_SD

STEPS = np.arange(-3.0, 0.06, 0.15)
REBADGED = {"Cordwain 100", "Skylark 100"}
EMULSIONS = {stock.name: stock.emulsion for stock in STOCKS}


def lab(seed: int, rolls_of) -> dict[str, list[dict]]:
    """The demo lab's stocks with rolls made anew: each roll's differences from the reference."""
    rng = np.random.default_rng(seed)
    names, readings = [], []
    for stock in STOCKS:
        for _ in range(rolls_of(stock)):
            shift, contrast = rng.normal(0, ROLL_SPEED_SD), 1 + rng.normal(0, ROLL_CONTRAST_SD)
            true = density(stock.emulsion, STEPS, speed_shift=shift, contrast=contrast)
            read = np.round(true + rng.normal(0, READING_SD, (2, len(STEPS))), 2)
            base = np.round(stock.emulsion.base_fog + rng.normal(0, READING_SD, 3), 2)
            readings.append(Readings(np.tile(STEPS, 2), read.ravel(), base))
            names.append(stock.name)
    rolls: dict[str, list] = {}
    for name, analysis in zip(names, analyse_many(readings), strict=True):
        rolls.setdefault(name, []).append(analysis)
    anchor = pool_analyses(rolls[REFERENCE])
    return {name: [roll_differences(roll, anchor) for roll in each] for name, each in rolls.items()}


def true_values(name: str) -> dict[str, float]:
    """What a stock's differences from the reference are by the true curves, as far as both are measured."""
    rises, starts = [], []
    for emulsion in (EMULSIONS[name], EMULSIONS[REFERENCE]):

        def excess(x, emulsion=emulsion):
            return float(density(emulsion, x)) - emulsion.base_fog - 0.10

        starts.append(brentq(excess, -6.0, 3.0))
    low = max(-0.3, *(STEPS[0] - start for start in starts))
    high = min(2.4, *(STEPS[-1] - start for start in starts))
    distance = np.append(np.arange(low, high + 1e-9, 0.05), min(1.5, high))
    for emulsion, start in zip((EMULSIONS[name], EMULSIONS[REFERENCE]), starts, strict=True):
        rises.append(density(emulsion, start + distance) - emulsion.base_fog - 0.10)
    ratio = rises[0][-1] / rises[1][-1]
    shape = (rises[0] - ratio * rises[1])[:-1]
    values = {"speed_shift_stops": (starts[1] - starts[0]) / STOP, "contrast_ratio": float(np.log(ratio))}
    for part, (start, end) in SHAPE_PARTS.items():
        inside = (distance[:-1] >= start) & (distance[:-1] <= end)
        values[part] = float(shape[inside].mean()) if inside.sum() >= 4 else 0.0
    return values


TRUE = {name: true_values(name) for name in EMULSIONS}


def is_truly_apart(first: str, second: str) -> bool:
    """Whether two emulsions differ by more than a margin in any measure."""
    for name, margin in RELATIVE_MARGINS.items():
        difference = TRUE[first][name] - TRUE[second][name]
        if not margin.limits[0] <= difference <= margin.limits[1]:
            return True
    return False


@pytest.mark.parametrize("labs", [5, pytest.param(50, marks=pytest.mark.full)])
def test_the_rebadged_film_is_found_in_the_demo_lab_and_hardly_anything_else(labs):
    """With the rolls that the demo lab has: two of six stocks, one of the rest."""
    found, false, claims = 0, 0, Counter()
    for seed in range(labs):
        rolls = lab(seed, lambda stock: stock.rolls_now)
        spread = spread_within(list(rolls.values()))
        for first, second in combinations(rolls, 2):
            kinship = judge_kinship(second, rolls[first], rolls[second], spread)
            if kinship.kind != SAME:
                continue
            assert min(len(rolls[first]), len(rolls[second])) >= 2, "one roll is never claimed"
            claims[first, second] += 1
            found += {first, second} == REBADGED
            false += {first, second} != REBADGED
    # Two rolls each show it in about five labs of six; below 60 % something is broken, not unlucky.
    assert found >= 0.6 * labs, claims
    # Fifteen pairs can be claimed in each lab; the only truly near one is 0.2 stop and 2 % of contrast away.
    assert false <= 0.05 * 15 * labs, claims


@pytest.mark.parametrize("labs", [5, pytest.param(50, marks=pytest.mark.full)])
def test_films_of_different_truth_are_called_the_same_in_one_of_twenty_at_most(labs):
    """With two rolls of every stock: 324 pairs a lab."""
    claims, apart = Counter(), 0
    for seed in range(100, 100 + labs):
        rolls = lab(seed, lambda stock: 2)
        spread = spread_within(list(rolls.values()))
        for first, second in combinations(rolls, 2):
            if {first, second} == REBADGED or not is_truly_apart(first, second):
                continue
            apart += 1
            kinship = judge_kinship(second, rolls[first], rolls[second], spread)
            claims[first, second] += kinship.kind == SAME
    false = sum(claims.values())
    assert apart > 300 * labs
    assert false <= 0.05 * apart, claims.most_common(5)
    # The worst single pair lies at a margin: 5 %, of 50 labs seven or more in 1 % of cases only.
    assert max(claims.values()) <= max(2, 0.14 * labs), claims.most_common(5)


def test_no_difference_that_is_claimed_is_within_the_margins_in_truth():
    rolls = lab(3, lambda stock: 2)
    spread = spread_within(list(rolls.values()))
    wrong = []
    for first, second in combinations(rolls, 2):
        kinship = judge_kinship(second, rolls[first], rolls[second], spread)
        for name in kinship.differing:
            low, high = RELATIVE_MARGINS[name].limits
            true = TRUE[first][name] - TRUE[second][name]
            if low < true < high:
                wrong.append((first, second, name, true))
    # Each is a one-sided claim at 5 %, and only few of 324 pairs lie near a margin.
    assert len(wrong) <= 5, wrong


def rolls_with(**values):
    """Two rolls a hair apart; whatever is not given is 0."""
    base = dict.fromkeys(RELATIVE_MARGINS, 0.0) | values
    return [{name: value + step for name, value in base.items()} for step in (-0.0005, 0.0005)]


SPREAD = dict.fromkeys(RELATIVE_MARGINS, (0.002, 10))


@pytest.mark.parametrize(
    ("values", "kind", "differing"),
    [
        ({}, SAME, ()),
        ({"speed_shift_stops": 1.0}, STAND_IN, ("speed_shift_stops",)),
        ({"contrast_ratio": 0.3}, OTHER, ("contrast_ratio",)),
        ({"toe_difference": 0.1}, OTHER, ("toe_difference",)),
        (
            {"speed_shift_stops": 1.0, "toe_difference": 0.1},
            OTHER,
            ("speed_shift_stops", "toe_difference"),
        ),
    ],
)  # fmt: skip
def test_kinds(values, kind, differing):
    kinship = judge_kinship("b", rolls_with(**values), rolls_with(), SPREAD)
    assert (kinship.kind, kinship.differing) == (kind, differing)
    assert kind in KINDS


def test_a_difference_that_is_shown_within_the_margin_is_told():
    kinship = judge_kinship("b", rolls_with(contrast_ratio=0.03), rolls_with(), SPREAD)
    assert kinship.kind == SAME and kinship.slightly_differing == ("contrast_ratio",)
    assert judge_kinship("b", rolls_with(contrast_ratio=0.003), rolls_with(), SPREAD).slightly_differing == ()


def test_one_roll_has_a_difference_with_its_interval_but_no_verdict():
    """Whatever the one roll reads, even exactly the same or far away."""
    for apart in (0.0, 5.0):
        single = [{name: value + apart for name, value in rolls_with()[0].items()}]
        for ours, theirs, counts in ((single, rolls_with(), "1 and 2"), (rolls_with(), single, "2 and 1")):
            kinship = judge_kinship("b", ours, theirs, SPREAD)
            assert kinship.kind == OPEN and set(kinship.untested) == set(RELATIVE_MARGINS)
            assert kinship.is_of_too_few and kinship.relation.closeness is None
            for result in kinship.relation.results.values():
                assert result.is_without_verdict and result.verdict == "unknown"
                assert result.is_equivalent is None and result.p_value is None
                found = result.difference
                assert found.note == f"{counts} rolls; two of each are needed"
                # Student's t of 10 degrees of freedom: 1.8125 at 95 % (tables); a mean of two, and one roll.
                reach = 1.8125 * 0.002 * math.sqrt(1 / 1 + 1 / 2)
                assert found.high - found.value == pytest.approx(reach, rel=1e-4)
                assert found.value - found.low == pytest.approx(reach, rel=1e-4)
    assert not judge_kinship("b", rolls_with(), rolls_with(), SPREAD).is_of_too_few


def test_one_roll_without_the_spread_of_others_has_no_number():
    kinship = judge_kinship("b", rolls_with()[:1], rolls_with(), {})
    assert kinship.kind == OPEN and kinship.is_of_too_few
    assert {result.difference.reason for result in kinship.relation.results.values()} == {"TOO_FEW_FILMS"}


def test_the_interval_of_a_single_roll_holds_the_truth_as_often_as_it_says():
    """Ten stocks of two rolls and one of a single roll, all of one truth: 90 % of the intervals."""
    rng, held = np.random.default_rng(8), 0
    for _ in range(400):
        stocks = [[{"speed_shift_stops": value} for value in rng.normal(0, 0.2, 2)] for _ in range(10)]
        single = [{"speed_shift_stops": rng.normal(0, 0.2)}]
        found = judge_kinship("b", single, stocks[0], spread_within([*stocks, single]))
        difference = found.relation.results["speed_shift_stops"].difference
        held += difference.low <= 0 <= difference.high
    # 400 draws: a standard error of 1.5 %; three of them.
    assert held / 400 == pytest.approx(0.90, abs=0.045)


def test_rolls_that_do_not_tell_a_measure_are_rolls_all_the_same():
    mute = [{**roll, "toe_difference": None} for roll in rolls_with()]
    found = judge_kinship("b", mute, rolls_with(), SPREAD).relation.results["toe_difference"].difference
    assert found.note == "0 and 2 rolls tell it; two of each are needed"
    found = judge_kinship("b", [{}], rolls_with(), SPREAD).relation.results["toe_difference"].difference
    assert found.note == "1 and 2 rolls; two of each are needed"


def test_without_knowing_how_rolls_differ_nothing_is_claimed():
    assert spread_within([rolls_with(), rolls_with()]) == {}, "two degrees of freedom do not tell"
    kinship = judge_kinship("b", rolls_with(), rolls_with(), {})
    assert kinship.kind == OPEN and kinship.relation.verdict == "unknown"


def test_the_spread_within_stocks_is_the_pooled_standard_deviation():
    rng = np.random.default_rng(4)
    groups = [rng.normal(mean, 0.3, 3) for mean in (0.0, 5.0, -2.0)]
    stocks = [[{"speed_shift_stops": value} for value in group] for group in groups]
    found = spread_within(stocks)["speed_shift_stops"]
    pooled = np.sqrt(np.mean([np.var(group, ddof=1) for group in groups]))
    assert found == (pytest.approx(pooled), 6)


def test_wider_margins_claim_more():
    rolls = rolls_with(speed_shift_stops=0.4)
    margins = RELATIVE_MARGINS | {"speed_shift_stops": Margin(0.6)}
    assert judge_kinship("b", rolls, rolls_with(), SPREAD).kind == STAND_IN
    assert judge_kinship("b", rolls, rolls_with(), SPREAD, margins).kind == SAME
