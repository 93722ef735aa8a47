"""The lab's spread: known components are found again, and what cannot be told apart is not lost."""

import numpy as np
import pytest

from curves.sensitometry import Readings, analyse_many, compare_with_reference
from curves.sensitometry.comparing.lab_spread import (
    FEWEST_DEGREES_OF_FREEDOM,
    CurvePath,
    CurveRow,
    curve_rows,
    estimate_lab_spread,
    told_levels,
)
from curves.sensitometry.comparing.pair_spread import PairSpread, RollPath, pair_spreads

STOP = 0.30103
EXPOSURES = np.repeat(-3.0 + 0.15 * np.arange(21), 2)
SDS = {"member": 0.04, "run": 0.08, "roll": 0.06, "strip": 0.03, "reading": 0.02}


def roll(rng, *, shift=0.0, contrast=1.0, noise=0.01):
    """One roll of a soft-toe stock (closed form), moved in log exposure and stretched in contrast."""
    net = 0.65 * 0.2 * np.logaddexp(0.0, (EXPOSURES - shift + 2.2) / 0.2)
    read = 0.25 + contrast * net + rng.normal(0, noise, net.size)
    return Readings(EXPOSURES, read, 0.25 + rng.normal(0, noise, 3))


def lab(rng, stocks, rolls, *, shift_sd=0.0, contrast_sd=0.0):
    """Rows of a lab whose every roll was developed by itself and read once."""
    made = [
        roll(rng, shift=rng.normal(0, shift_sd), contrast=1 + rng.normal(0, contrast_sd))
        for _ in range(stocks * rolls)
    ]
    analyses = analyse_many(made)
    rows = []
    for stock in range(stocks):
        own = analyses[stock * rolls : (stock + 1) * rolls]
        paths = [CurvePath(f"s{stock}", "m", f"s{stock} r{n}", f"s{stock} r{n}", "1") for n in range(rolls)]
        rows += curve_rows(list(zip(paths, own, strict=True)), own[0])
    return rows


def nested_rows(rng, *, stocks=3, members=8, runs=2, rolls=1, strips=2, readings=2, sds=SDS):
    """Rows whose speeds [stop] have these components; every run holds a roll of each stock."""
    rows = []
    for member in range(members):
        of_member = rng.normal(0, sds["member"])
        for run in range(runs):
            of_run = of_member + rng.normal(0, sds["run"])
            for stock, number in np.ndindex(stocks, rolls):
                of_roll = 0.3 * stock + of_run + rng.normal(0, sds["roll"])
                name = f"{member} {run} {stock} {number}"
                for strip in range(strips):
                    of_strip = of_roll + rng.normal(0, sds["strip"])
                    for _ in range(readings):
                        value = of_strip + rng.normal(0, sds["reading"])
                        path = CurvePath(str(stock), str(member), f"{member} {run}", name, str(strip))
                        rows.append(row(path, value))
    return rows


def row(path, speed, error=0.02):
    values = dict.fromkeys(
        ("contrast_ratio", "toe_difference", "middle_difference", "highlight_difference", "base_difference")
    )
    return CurveRow(path, {"speed_shift_stops": speed} | values, {"speed_shift_stops": error} | values)


def test_a_known_spread_is_found_again():
    spread = estimate_lab_spread(lab(np.random.default_rng(7), 60, 2, shift_sd=0.04, contrast_sd=0.03))
    assert spread.degrees_of_freedom["speed_stops"] == 60
    # A standard deviation from 60 degrees of freedom has a standard error of 9 %; three of them.
    assert spread.standard_deviations["speed_stops"] == pytest.approx(0.04 / STOP, rel=0.27)
    assert spread.standard_deviations["contrast_ratio"] == pytest.approx(0.03, rel=0.27)


def test_reading_error_alone_is_not_taken_for_spread():
    spread = estimate_lab_spread(lab(np.random.default_rng(8), 40, 2)).standard_deviations
    # What is left of pure reading error (about 0.1 stop, 1 % a roll) has to be well below it.
    assert spread["speed_stops"] < 0.05
    assert spread["contrast_ratio"] < 0.006
    assert spread["shape"] < 0.004


def test_too_few_rolls_say_nothing():
    assert estimate_lab_spread([]).standard_deviations == {}
    few = nested_rows(np.random.default_rng(10), stocks=1, members=FEWEST_DEGREES_OF_FREEDOM, runs=1)
    spread = estimate_lab_spread(few)
    assert (spread.standard_deviations, spread.levels) == ({}, {})
    assert spread.degrees_of_freedom["speed_stops"] == FEWEST_DEGREES_OF_FREEDOM - 1
    assert {each.reason for each in spread.components["speed_shift_stops"].components.values()} == {
        "TOO_FEW_GROUPS"
    }


def test_all_levels_of_a_full_lab_are_told_apart():
    spread = estimate_lab_spread(nested_rows(np.random.default_rng(14)))
    assert spread.models["speed_shift_stops"] == ("member", "run", "roll")
    found = spread.components["speed_shift_stops"]
    for level, sd in SDS.items():
        assert found.components[level].low <= sd <= (found.components[level].high or 1), level
    assert set(spread.levels["speed_stops"]) == {"member", "run", "roll"}
    total = np.sqrt(sum(sd**2 for sd in spread.levels["speed_stops"].values()))
    assert spread.standard_deviations["speed_stops"] == pytest.approx(total, abs=1e-5)


@pytest.mark.parametrize(
    ("shape", "model", "levels", "untold"),
    [
        ({"members": 1, "runs": 8}, ("run", "roll"), {"run", "roll"}, {"member": "there is only one"}),
        ({"members": 3, "runs": 4}, ("run", "roll"), {"run", "roll"}, {"member": "counted with run"}),
        # One roll a run: the two cannot be told apart, and their spread goes where rolls differ.
        ({"stocks": 1, "members": 6, "runs": 2}, ("member", "run", "roll"), {"member", "roll"}, {}),
        ({"stocks": 4, "members": 3, "runs": 1}, ("roll",), {"roll"}, {"run": "counted with roll"}),
    ],
)
def test_what_cannot_be_told_apart_is_counted_below(shape, model, levels, untold):
    spread = estimate_lab_spread(nested_rows(np.random.default_rng(12), **shape))
    assert spread.models["speed_shift_stops"] == model
    assert set(spread.levels["speed_stops"]) == levels
    components = spread.components["speed_shift_stops"].components
    for level, note in untold.items():
        assert (components[level].reason, components[level].note) == ("TOO_FEW_GROUPS", note)


def test_rolls_read_once_have_their_reading_error_taken_off():
    """120 rolls of one reading: what they differ by is 0.1 stop, of which 0.06 is reading."""
    rng = np.random.default_rng(13)
    paths = [CurvePath("a", "m", str(n // 2), str(n), "1") for n in range(120)]
    rows = [row(path, rng.normal(0, 0.1), error=0.06) for path in paths]
    spread = estimate_lab_spread(rows)
    # 8 % is the standard error of a standard deviation of so many; the reading makes it 13 %.
    found = np.hypot(*(spread.levels["speed_stops"].get(level, 0.0) for level in ("run", "roll")))
    assert found == pytest.approx(0.08, rel=0.35)


@pytest.mark.parametrize(
    ("ours", "theirs", "variance"),
    [
        # Same member and run; same member; nothing in common; two rolls against two in the same two runs.
        ([("a", "1", "1")], [("a", "1", "2")], 2 * 0.01),
        ([("a", "1", "1")], [("a", "2", "2")], 2 * (0.01 + 0.04)),
        ([("a", "1", "1")], [("b", "2", "2")], 2 * (0.01 + 0.04 + 0.09)),
        ([("a", "1", "1"), ("b", "2", "2")], [("a", "1", "3"), ("b", "2", "4")], 0.01),
        ([("a", "1", "1")], [("a", "1", "1")], 0.0),
    ],
)
def test_what_two_results_share_cancels(ours, theirs, variance):
    levels = {"speed_stops": {"member": 0.3, "run": 0.2, "roll": 0.1}}
    rolls = ([RollPath(*each) for each in side] for side in (ours, theirs))
    found = pair_spreads(levels, *rolls)["speed_stops"]
    assert found.test + found.reference - 2 * found.shared == pytest.approx(variance)
    assert pair_spreads(levels, [], [RollPath("a", "1", "1")]) == {}


def test_a_difference_is_real_by_what_the_two_rolls_do_not_share():
    """0.3 stop apart; runs differ by 0.3, rolls of one run by 0.05."""
    rng = np.random.default_rng(14)
    fast, slow = analyse_many([roll(rng, shift=-0.3 * STOP, noise=0.002), roll(rng, noise=0.002)])
    levels = {"speed_stops": {"run": 0.3, "roll": 0.05}}
    here, there = RollPath("a", "1", "1"), RollPath("a", "2", "2")
    verdicts = {}
    for name, other in (("same run", RollPath("a", "1", "2")), ("two runs", there)):
        pair = pair_spreads(levels, [here], [other])
        verdicts[name] = compare_with_reference(fast, slow, lab_spread=pair).verdicts["speed_shift_stops"]
    assert verdicts == {"same run": "real", "two runs": "within the lab's spread"}
    plain = compare_with_reference(fast, slow, lab_spread={"speed_stops": float(np.hypot(0.3, 0.05))})
    told = compare_with_reference(fast, slow, lab_spread=pair_spreads(levels, [here], [there]))
    assert told.measures["speed_shift_stops"].low == pytest.approx(plain.measures["speed_shift_stops"].low)


def test_a_shared_spread_never_makes_a_reading_perfect():
    rng = np.random.default_rng(15)
    pair = analyse_many([roll(rng), roll(rng)])
    shared = {"speed_stops": PairSpread(1.0, 1.0, 1.1)}
    found = compare_with_reference(*pair, lab_spread=shared).measures["speed_shift_stops"]
    bare = compare_with_reference(*pair).measures["speed_shift_stops"]
    assert found.high - found.low == pytest.approx(0.2 * (bare.high - bare.low), rel=0.01)


@pytest.mark.full
def test_verdicts_on_rolls_that_do_not_differ_are_seldom_real():
    """400 labs, a pair of fresh rolls each: 5 % false verdicts, with a standard error of 1.1 %."""
    rng = np.random.default_rng(16)
    wrong = {"shared": 0, "apart": 0}
    for _ in range(400):
        rows = nested_rows(rng, stocks=2, members=6, runs=2, strips=1)
        levels = estimate_lab_spread(rows).levels
        run = RollPath("x", "1", "1"), RollPath("x", "1", "2")
        other = RollPath("y", "2", "2")
        for name, (ours, theirs) in {"shared": run, "apart": (run[0], other)}.items():
            true = sum(
                SDS[level] ** 2 for level in ("roll", *(() if name == "shared" else ("member", "run")))
            )
            found = pair_spreads(levels, [ours], [theirs])["speed_stops"]
            reach = 1.96 * np.sqrt(found.test + found.reference - 2 * found.shared)
            wrong[name] += abs(rng.normal(0, np.sqrt(2 * true))) > reach
    assert all(count / 400 <= 0.05 + 3 * 0.011 for count in wrong.values()), wrong


def test_an_older_estimate_is_that_of_rolls():
    assert told_levels({"standard_deviations": {"base": 0.02}}) == {"base": {"roll": 0.02}}
    spread = estimate_lab_spread(nested_rows(np.random.default_rng(17)))
    assert told_levels(spread.to_dict()) == spread.levels
