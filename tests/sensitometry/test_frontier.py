"""The frontier of two goals: a case worked by hand, invariances, how often a certain verdict is wrong."""

import numpy as np
import pytest

from curves.sensitometry import SensitometryError
from curves.sensitometry.comparing.frontier import BEATEN, CERTAIN, POSSIBLE, frontier_of

FAST_AND_FINE = (True, False)
# Worked by hand: speed (more is better), granularity (less is better).
#   A 400, 14 and B 100, 9 beat each other nowhere and lie apart in both: on the frontier.
#   C 300, 16: its best corner (330, 15.5) is beaten by A's worst (360, 15): off.
#   D 120, 10: B's best corner is 110 fast, D's worst 112, so B never beats it; A's best grain is 13,
#     D's worst 10.8: on the frontier. D's best grain is 9.7, B's worst 9.6, so D never beats B.
#   E 390, 14.2: beaten by A's value, but its best corner (430, 13.2) not by A's worst (360, 15): possible.
VALUES = [[400, 14], [100, 9], [300, 16], [120, 10], [390, 14.2]]
LOW = [[360, 13], [90, 8.4], [270, 15.5], [112, 9.7], [350, 13.2]]
HIGH = [[440, 15], [110, 9.6], [330, 17], [128, 10.8], [430, 15.2]]


def test_a_case_worked_by_hand():
    found = frontier_of(VALUES, LOW, HIGH, is_more_better=FAST_AND_FINE)
    # A is not certain any more: E's best corner (430, 13.2) beats A's worst (360, 15).
    assert found.verdicts == (POSSIBLE, CERTAIN, BEATEN, CERTAIN, POSSIBLE)
    assert found.best == (1, 3, 0)
    assert found.edge.tolist() == [[100, 9], [100, 10], [120, 10], [120, 14], [400, 14]]
    # What is reached for certain, and at most: the same steps through worst and best corners.
    assert found.sure_edge.tolist() == [[90, 9.6], [90, 10.8], [112, 10.8], [112, 15], [360, 15]]
    assert found.hoped_edge.tolist() == [[110, 8.4], [110, 9.7], [128, 9.7], [128, 13], [440, 13]]


def test_without_the_twin_the_fastest_is_certain():
    keep = [0, 1, 2, 3]
    found = frontier_of(*(np.array(each)[keep] for each in (VALUES, LOW, HIGH)), is_more_better=FAST_AND_FINE)
    assert found.verdicts == (CERTAIN, CERTAIN, BEATEN, CERTAIN)


def test_order_scale_and_turning_a_goal_round_change_nothing():
    first = frontier_of(VALUES, LOW, HIGH, is_more_better=FAST_AND_FINE)
    order = [3, 0, 4, 2, 1]
    values, low, high = (np.array(each, dtype=float) for each in (VALUES, LOW, HIGH))
    again = frontier_of(values[order], low[order], high[order], is_more_better=FAST_AND_FINE)
    assert tuple(again.verdicts[order.index(each)] for each in range(5)) == first.verdicts
    logs = frontier_of(np.log(values), np.log(low), np.log(high), is_more_better=FAST_AND_FINE)
    assert logs.verdicts == first.verdicts
    turn = np.array([1.0, -1.0])
    ends = np.sort([low * turn, high * turn], axis=0)
    turned = frontier_of(values * turn, *ends, is_more_better=(True, True))
    assert turned.verdicts == first.verdicts


@pytest.mark.parametrize(
    ("values", "verdicts", "edge_length"),
    [([], (), 0), ([[5, 5]], (CERTAIN,), 1), ([[5, 5], [5, 5]], (CERTAIN, CERTAIN), 1)],
)
def test_none_one_and_equal_points(values, verdicts, edge_length):
    found = frontier_of(values, values, values, is_more_better=FAST_AND_FINE)
    assert found.verdicts == verdicts and len(found.edge) == edge_length


@pytest.mark.parametrize(
    ("values", "low", "high", "code"),
    [
        ([[1, 2]], [[1, 2], [1, 2]], [[1, 2]], "BAD_SHAPE"),
        ([[1, np.nan]], [[1, 2]], [[1, 2]], "NOT_FINITE"),
        ([[1, 2]], [[1.5, 2]], [[2, 2]], "NOT_FINITE"),
    ],
)
def test_what_is_no_point_is_refused(values, low, high, code):
    with pytest.raises(SensitometryError) as refusal:
        frontier_of(values, low, high, is_more_better=FAST_AND_FINE)
    assert refusal.value.code == code


def test_a_certain_verdict_about_two_stocks_is_wrong_in_at_most_one_of_twenty():
    rng = np.random.default_rng(11)
    sd, wrong, certain = 1.0, 0, 0
    for _ in range(1000):
        # The second is beaten by a hair, or beats nothing by a hair: the hardest truths to tell apart.
        truth = np.array([[0.0, 0.0], rng.choice([-0.01, 0.01], 2)])
        seen = truth + rng.normal(0, sd, (2, 2))
        found = frontier_of(seen, seen - 1.96 * sd, seen + 1.96 * sd, is_more_better=(True, True))
        really = frontier_of(truth, truth, truth, is_more_better=(True, True)).verdicts[1]
        if found.verdicts[1] != POSSIBLE:
            certain += 1
            wrong += found.verdicts[1] != really
    assert certain > 0
    # What the verdict promises; most tries are left open, so there is room below it.
    assert wrong / 1000 <= 0.05
