"""Precision of members and instruments: intervals that hold the truth, refusals, hostile input."""

import json

import numpy as np
import pytest

from curves.sensitometry.agreeing.outlier_limits import (
    cochran_critical,
    grubbs_critical,
    grubbs_pair_critical,
    grubbs_pair_probability,
)
from curves.sensitometry.agreeing.outlier_tests import cochran_test, grubbs_tests
from curves.sensitometry.agreeing.precision import repeatability_and_reproducibility
from curves.sensitometry.controlling.variance_intervals import (
    variance_difference_interval,
    variance_sum_interval,
)
from curves.sensitometry.measures import SensitometryError

NAN = float("nan")
SIZES = (4, 3, 3, 3, 5, 2, 3, 1)


def members(rng, between, within, sizes=SIZES):
    labels, values = [], []
    for number, size in enumerate(sizes):
        own = rng.normal(0.7, between)
        labels += [f"member {number}"] * size
        values += (own + rng.normal(0, within, size)).tolist()
    return labels, values


@pytest.mark.parametrize("between", [0.0, 0.005, 0.03])
def test_intervals_hold_the_truth(between):
    """800 labs with unequal numbers of readings: 95 % nominal, standard error 0.8 points."""
    rng = np.random.default_rng(41)
    truth = {
        "repeatability_sd": 0.01,
        "between_sd": between,
        "reproducibility_sd": float(np.hypot(between, 0.01)),
        "precision_mean": 0.7,
    }
    held = dict.fromkeys(truth, 0)
    for _ in range(800):
        result = repeatability_and_reproducibility(*members(rng, between, 0.01))
        for measure in (result.mean, result.repeatability_sd, result.between_sd, result.reproducibility_sd):
            held[measure.name] += measure.low <= truth[measure.name] <= measure.high
    for name, count in held.items():
        # Where there is no spread between members, an interval from zero holds it more often.
        assert 0.925 <= count / 800 <= (1.0 if between == 0 and name == "between_sd" else 0.985), name


def test_order_and_labels_do_not_matter():
    labels, values = members(np.random.default_rng(42), 0.02, 0.01)
    order = np.random.default_rng(43).permutation(len(values))
    first = repeatability_and_reproducibility(labels, values)
    second = repeatability_and_reproducibility([labels[i] for i in order], np.array(values)[order])
    assert first.reproducibility_sd.value == pytest.approx(second.reproducibility_sd.value, rel=1e-12)
    shifted = repeatability_and_reproducibility(labels, np.array(values) + 1)
    assert shifted.reproducibility_sd.value == pytest.approx(first.reproducibility_sd.value, rel=1e-9)


def test_house_limits_for_densitometers():
    rng = np.random.default_rng(44)
    assert repeatability_and_reproducibility(*members(rng, 0.002, 0.003, [5] * 8)).passes_house_limits
    assert not repeatability_and_reproducibility(*members(rng, 0.05, 0.003, [5] * 8)).passes_house_limits


def test_an_instrument_off_its_zero_is_named_and_can_be_left_out():
    rng = np.random.default_rng(45)
    labels, values = members(rng, 0.002, 0.003, [4] * 7)
    values = np.array(values)
    values[np.array(labels) == "member 3"] += 0.05
    found = repeatability_and_reproducibility(labels, values)
    named = {test.test for test in found.tests if test.verdict == "outlier" and test.groups == (3,)}
    assert named == {"grubbs_high"}
    assert found.groups[3].h_place == "beyond_1"
    without = repeatability_and_reproducibility(labels, values, left_out=["member 3"])
    assert without.left_out == ("member 3",)
    assert without.reproducibility_sd.value < 0.5 * found.reproducibility_sd.value


def test_a_member_who_reads_unsteadily_is_named():
    rng = np.random.default_rng(46)
    labels, values = members(rng, 0.002, 0.003, [4] * 7)
    values = np.array(values)
    values[np.array(labels) == "member 5"] += [0.05, -0.05, 0.05, -0.05]
    found = repeatability_and_reproducibility(labels, values)
    assert (found.tests[0].verdict, found.tests[0].groups) == ("outlier", (5,))
    assert found.groups[5].k_place == "beyond_1"


@pytest.mark.parametrize(
    ("labels", "values"),
    [
        ([], []),
        (["a"] * 4, [0.7, 0.71, 0.70, 0.72]),
        (["a", "b", "c"], [0.7, 0.71, 0.72]),
        (["a", "a", "b"], [NAN, None, np.inf]),
        (["a", "a", "b", "b"], [0.7, 0.7, NAN, NAN]),
    ],
)
def test_too_few_members_or_repetitions_are_withheld(labels, values):
    result = repeatability_and_reproducibility(labels, values)
    assert result.reproducibility_sd.reason == "TOO_FEW_LABS"
    assert result.passes_house_limits is None
    assert json.dumps(result.to_dict(), allow_nan=False)


def test_readings_that_are_all_alike():
    result = repeatability_and_reproducibility(["a", "a", "b", "b", "c", "c"], [0.7] * 6)
    assert result.reproducibility_sd.value < 1e-12
    assert {test.verdict for test in result.tests} == {"untested"}
    assert json.dumps(result.to_dict(), allow_nan=False)


@pytest.mark.parametrize(
    "call",
    [
        lambda: repeatability_and_reproducibility(["a"], [0.7, 0.8]),
        lambda: repeatability_and_reproducibility(["a"], ["dark"]),
        lambda: cochran_critical(1, 3),
        lambda: cochran_critical(5, 1),
        lambda: grubbs_critical(2),
        lambda: grubbs_pair_probability(3, 0.5),
        lambda: grubbs_pair_critical(41),
    ],
)
def test_misuse_is_told(call):
    with pytest.raises(SensitometryError):
        call()


def test_tests_without_enough_members_are_untested():
    assert cochran_test([0.1], [3]).verdict == "untested"
    assert {test.verdict for test in grubbs_tests([0.7, 0.8])} == {"untested"}
    assert {test.verdict for test in grubbs_tests([])} == {"untested"}
    three = grubbs_tests([0.7, 0.8, 0.9])
    assert [test.verdict for test in three] == ["correct", "correct", "untested", "untested"]


def test_false_alarms_of_the_outlier_tests_keep_their_level():
    """4000 sets of eight members: each side of Grubbs' at 2.5 %, Cochran's at 5 %; three standard errors."""
    rng = np.random.default_rng(47)
    named = np.zeros(5)
    for _ in range(4000):
        sets = rng.normal(0, 1, (8, 3))
        tests = (cochran_test(sets.var(axis=1, ddof=1), [3] * 8), *grubbs_tests(sets.mean(axis=1)))
        named += [test.verdict != "correct" for test in tests]
    assert named[0] / 4000 == pytest.approx(0.05, abs=0.0105)
    assert named[1:] / 4000 == pytest.approx(np.full(4, 0.025), abs=0.0075)


def test_intervals_of_sums_and_differences_hold_the_truth():
    rng = np.random.default_rng(48)
    held = np.zeros(2)
    for _ in range(3000):
        first, second = 3.0 * rng.chisquare(6) / 6, 1.0 * rng.chisquare(12) / 12
        low, high = variance_sum_interval([first, second], [6, 12])
        held[0] += low <= 4.0 <= high
        low, high = variance_difference_interval(first, second, 6, 12)
        held[1] += low <= 2.0 <= high
    assert held / 3000 == pytest.approx([0.95, 0.95], abs=0.02)
