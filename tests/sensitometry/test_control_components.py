"""Variance components and plans: intervals that hold the truth, what cannot be told, what to do next."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import ttest_ind

from curves.sensitometry.controlling.nested_likelihood import NestedReadings
from curves.sensitometry.controlling.planning import (
    CONTRAST_SHARE,
    THIRD_OF_A_STOP,
    Design,
    difference_error,
    rolls_needed,
    what_shrinks_most,
)
from curves.sensitometry.controlling.variance_components import VarianceComponents, variance_components
from curves.sensitometry.measures import Measure, SensitometryError
from tests.sensitometry.control_lab import COMPONENTS, nested_readings

NAN = float("nan")


def coverage(count, seed, **conditions):
    """Share of labs whose interval holds the true component, by level, and the first stock's mean."""
    rng = np.random.default_rng(seed)
    held = {name: [] for name in (*COMPONENTS, "mean")}
    for _ in range(count):
        values, levels, stock = nested_readings(rng, **conditions)
        found = variance_components(values, levels, stock=stock)
        for name, each in found.components.items():
            held[name].append(each.low <= COMPONENTS[name] and not (each.high or np.inf) < COMPONENTS[name])
        mean = found.means["stock 0"]
        held["mean"].append(mean.low <= 0.6 <= mean.high)
    return {name: float(np.mean(each)) for name, each in held.items()}


def test_intervals_hold_the_truth():
    """Twelve unbalanced labs of eight members and two stocks; the exact share is for the long run."""
    held = coverage(12, 81, unbalanced=True, stocks=2)
    assert all(share >= 0.75 for share in held.values()), held
    assert np.mean(list(held.values())) >= 0.88


@pytest.mark.full
def test_intervals_hold_the_truth_in_many_labs():
    """400 labs: standard error 1.1 points, so three of them about 92 to 98 % for each component."""
    held = coverage(400, 82, unbalanced=True, stocks=2)
    assert all(0.92 - 0.02 <= share <= 0.98 + 0.015 for share in held.values()), held


@pytest.mark.full
def test_estimates_are_not_biased():
    rng = np.random.default_rng(83)
    squares = {name: [] for name in COMPONENTS}
    for _ in range(100):
        values, levels, _ = nested_readings(rng, members=10, unbalanced=True)
        for name, found in variance_components(values, levels).components.items():
            squares[name].append(found.value**2)
    for name, sd in COMPONENTS.items():
        # Three standard errors of the mean of a hundred estimates.
        error = 3 * np.std(squares[name]) / 10
        assert np.mean(squares[name]) == pytest.approx(sd**2, abs=error), name


def test_order_and_labels_do_not_matter():
    rng = np.random.default_rng(84)
    values, levels, stock = nested_readings(rng, members=5, runs=3, unbalanced=True, stocks=2)
    order = rng.permutation(len(values))
    shuffled = variance_components(
        values[order],
        {name: [f"{name} {labels[i]}" for i in order] for name, labels in levels.items()},
        stock=[stock[i] for i in order],
    )
    plain = variance_components(values, levels, stock=stock)
    for name, found in plain.components.items():
        assert shuffled.components[name].value == pytest.approx(found.value, rel=1e-3, abs=1e-5)
    moved = variance_components(100 * values + 7, levels, stock=stock)
    assert moved.components["roll"].value == pytest.approx(100 * plain.components["roll"].value, rel=1e-3)


def test_means_of_stocks():
    rng = np.random.default_rng(85)
    values, levels, stock = nested_readings(rng, members=10, unbalanced=True, stocks=2)
    means = variance_components(values, levels, stock=stock).means
    assert means["stock 0"].value == pytest.approx(0.6, abs=0.02)
    assert means["stock 0"].standard_error == pytest.approx(0.006, rel=0.5)
    difference = means["stock 1"].value - means["stock 0"].value
    assert difference == pytest.approx(0.05, abs=0.015)


def test_few_groups_are_withheld_but_still_taken_off():
    rng = np.random.default_rng(86)
    values, levels, _ = nested_readings(rng, members=3, runs=8)
    found = variance_components(values, levels)
    assert found.components["member"].reason == "TOO_FEW_GROUPS"
    assert found.degrees["member"] == 2
    assert found.components["run"].value is not None
    single, single_levels, _ = nested_readings(rng, members=1, runs=8)
    assert variance_components(single, single_levels).components["member"].reason == "TOO_FEW_GROUPS"


def test_what_is_not_repeated_cannot_be_told_apart():
    rng = np.random.default_rng(87)
    values, levels, _ = nested_readings(rng, strips=1, readings=2)
    found = variance_components(values, levels)
    assert found.components["strip"].reason == "NOT_SEPARABLE"
    assert found.merged == {"strip": "roll"}
    values, levels, _ = nested_readings(rng, readings=1)
    found = variance_components(values, levels)
    assert found.merged == {"strip": "reading"}
    # What is left holds both.
    both = np.hypot(COMPONENTS["strip"], COMPONENTS["reading"])
    assert found.components["reading"].value == pytest.approx(both, rel=0.3)
    values, levels, _ = nested_readings(rng, rolls=1, strips=1, readings=1)
    assert set(variance_components(values, levels).merged.values()) <= {"run", "reading"}


def test_stocks_that_each_have_a_member_of_their_own_leave_no_member_to_tell():
    rng = np.random.default_rng(88)
    values, levels, _ = nested_readings(rng, members=6)
    found = variance_components(values, levels, stock=levels["member"])
    assert found.components["member"].reason == "TOO_FEW_GROUPS"
    assert found.degrees["member"] == 0


@pytest.mark.parametrize("values", [[], [0.6], [0.6, 0.6], [0.6] * 12, [NAN] * 12, [None, 0.6, 0.7]])
def test_thin_or_equal_readings_are_withheld(values):
    labels = list(range(len(values)))
    found = variance_components(values, {"run": labels})
    assert {each.value for each in found.components.values()} == {None}
    assert json.dumps(found.to_dict(), allow_nan=False)


def test_a_component_that_is_not_there_begins_at_zero():
    rng = np.random.default_rng(89)
    none = {**COMPONENTS, "run": 0.0}
    lows = []
    for _ in range(6):
        values, levels, _ = nested_readings(rng, components=none, members=5)
        lows.append(variance_components(values, levels).components["run"].low)
    assert sum(low == 0 for low in lows) >= 5


def test_misuse_is_told():
    for arguments in (([0.6], {"run": []}), ([0.6], {"reading": [1]}), (["dark"], {"run": [1]})):
        with pytest.raises(SensitometryError):
            variance_components(*arguments)
    with pytest.raises(SensitometryError):
        variance_components([0.6], {"run": [1]}, stock=[])
    with pytest.raises(SensitometryError):
        Design(rolls=0)


@pytest.fixture(scope="module")
def lab():
    """A large lab, so that components are near the truth."""
    values, levels, stock = nested_readings(np.random.default_rng(90), members=30, stocks=2)
    return variance_components(values, levels, stock=stock)


def test_the_error_of_a_difference_is_that_of_simulated_differences(lab):
    """Two stocks tested alike many times over; their difference's spread is what was predicted."""
    rng = np.random.default_rng(91)
    design = Design(members=2, runs=2, rolls=1, strips=2, readings=2)
    differences = []
    for _ in range(1500):
        values, _, stock = nested_readings(rng, members=2, runs=2, rolls=2, stocks=2)
        is_second = np.array(stock) == "stock 1"
        differences.append(values[is_second].mean() - values[~is_second].mean())
    predicted = difference_error(lab, design)
    # The simulated spread has a standard error of 1.8 %, the estimated components some 5 %.
    assert np.std(differences) == pytest.approx(predicted.value, rel=0.12)
    assert predicted.low < predicted.value < predicted.high
    assert predicted.unit == "D"
    apart = difference_error(lab, Design(2, 2, 1, 2, 2, shares_runs=False))
    counts = {"member": 2, "run": 4, "roll": 4, "strip": 8, "reading": 16}
    expected = 2 * sum(lab.components[name].value ** 2 / count for name, count in counts.items())
    assert apart.value == pytest.approx(np.sqrt(expected), rel=1e-9)


def test_what_shrinks_the_error_most(lab):
    gains = what_shrinks_most(lab, Design(members=1, runs=1, rolls=1, strips=1, readings=1))
    shares = {gain.level: gain.share for gain in gains}
    # Rolls weigh most where runs are shared; twice the members or runs is twice the rolls as well.
    assert shares["roll"] == pytest.approx(100 * (1 - 1 / np.sqrt(2)), abs=0.1)
    assert shares["member"] == pytest.approx(shares["roll"])
    assert shares["roll"] > shares["strip"] > shares["reading"] > 0
    assert [gain.share for gain in gains] == sorted((gain.share for gain in gains), reverse=True)
    apart = {g.level: g.share for g in what_shrinks_most(lab, Design(shares_runs=False))}
    assert apart["member"] > apart["run"] > apart["roll"]
    assert json.dumps([gain.to_dict() for gain in gains], allow_nan=False)


def test_a_merged_level_has_no_gain_of_its_own():
    rng = np.random.default_rng(92)
    values, levels, stock = nested_readings(rng, members=10, readings=1, stocks=2)
    found = variance_components(values, levels, stock=stock)
    gains = {gain.level: gain for gain in what_shrinks_most(found, Design())}
    assert gains["reading"].standard_error.reason == "NOT_SEPARABLE"
    assert gains["strip"].standard_error.reason == "NOT_SEPARABLE"
    assert gains["roll"].share is not None


def test_rolls_needed_for_a_third_of_a_stop():
    """Speed varies by 0.12 stop from roll to roll and 0.10 from run to run; shared runs need fewer rolls."""
    rng = np.random.default_rng(93)
    spread = {"member": 0.05, "run": 0.10, "roll": 0.12, "strip": 0.06, "reading": 0.04}
    values, levels, stock = nested_readings(rng, members=12, components=spread, stocks=2)
    found = variance_components(values, levels, stock=stock, unit="stop")
    together = rolls_needed(found, THIRD_OF_A_STOP)
    apart = rolls_needed(found, THIRD_OF_A_STOP, design=Design(shares_runs=False))
    assert (together.unit, together.reason) == ("roll", None)
    assert 3 <= together.low <= together.value <= together.high <= 12
    assert apart.value > together.value
    assert rolls_needed(found, THIRD_OF_A_STOP / 2).value > 2 * together.value
    assert rolls_needed(found, THIRD_OF_A_STOP, power=0.5).value < together.value
    assert rolls_needed(found, 100.0).value == 2
    assert rolls_needed(found, 1e-4).reason == "NOT_REACHED"


def test_the_promised_power_is_kept():
    """4000 simulated t tests with the rolls that were promised for a roll's spread of 3 %."""
    rng = np.random.default_rng(94)
    alone = {"roll": Measure("variance_component", 0.03, 0.02, 0.04)}
    found = VarianceComponents(alone, {}, {}, {}, {})
    count = int(rolls_needed(found, CONTRAST_SHARE).value)
    first, second = rng.normal(0, 0.03, (2, 4000, count))
    shown = ttest_ind(first + CONTRAST_SHARE, second, axis=1).pvalue < 0.05
    # Standard error 0.5 points; one roll more than strictly needed adds up to a point.
    assert 0.885 <= shown.mean() <= 0.925


def test_what_cannot_be_told_withholds_the_plan():
    rng = np.random.default_rng(95)
    values, levels, _ = nested_readings(rng, members=1, runs=2, rolls=1)
    found = variance_components(values, levels)
    assert rolls_needed(found, 0.03).reason in ("TOO_FEW_GROUPS", "NOT_SEPARABLE")
    assert difference_error(found, Design()).value is None
    assert {gain.share for gain in what_shrinks_most(found, Design())} == {None}
    with pytest.raises(SensitometryError):
        rolls_needed(found, 0.0)
    with pytest.raises(SensitometryError):
        rolls_needed(found, NAN)
    with pytest.raises(SensitometryError):
        rolls_needed(found, 0.1, power=1.5)


def test_an_open_interval_leaves_the_plan_open():
    rng = np.random.default_rng(96)
    values, levels, stock = nested_readings(rng, members=12, stocks=2)
    found = variance_components(values, levels, stock=stock)
    roll = found.components["roll"]
    found.components["roll"] = Measure(roll.name, roll.value, roll.low, None, roll.unit)
    needed = rolls_needed(found, 0.05)
    assert needed.high is None
    assert "no upper end" in needed.note


def test_levels_of_one_stock_need_no_other_columns():
    """The short way through levels whose groups are each of one stock is the long way, whatever is nested."""
    rng = np.random.default_rng(97)
    for stocks in (1, 3):
        values, levels, stock = nested_readings(rng, members=4, unbalanced=True, stocks=stocks)
        names, which = np.unique(stock, return_inverse=True)
        fixed = (which[:, None] == np.arange(names.size)).astype(float)
        for kept in (list(levels), ["run", "roll"], ["roll"]):
            readings = NestedReadings.of(values, fixed, [levels[name] for name in kept])
            assert readings.stocks
            plain = replace(readings, stocks=())
            variances = np.exp(rng.normal(-6, 1, (5, len(kept) + 1)))
            assert readings.deviance(variances) == pytest.approx(plain.deviance(variances), rel=1e-9)
            means, covariance = readings.means(variances[0])
            assert means == pytest.approx(plain.means(variances[0])[0], rel=1e-9)
            assert covariance == pytest.approx(plain.means(variances[0])[1], rel=1e-9)
