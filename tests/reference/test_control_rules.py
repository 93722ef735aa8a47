"""Run rules on cases worked by hand, the same rules written out point by point, and published run lengths.

False alarms: Champ, C. W. & Woodall, W. H., Technometrics 29, 393 (1987): one in 91.75 points with the four
rules together; action limits alone one in 370.4 by the normal distribution.
"""

import numpy as np
import pytest
from scipy.stats import norm

from curves.sensitometry.controlling.rule_definitions import RULE_SETS, RULES
from curves.sensitometry.controlling.run_rules import rule_signals
from curves.sensitometry.measures import SensitometryError

UP_AND_DOWN = [0.5, -0.5] * 7


@pytest.mark.parametrize(
    ("scores", "rule", "points"),
    [
        ([0.0, 3.0, 3.01, -3.2], "beyond_action", [3, 4]),
        ([0.2, 2.1, 0.5, 2.3], "two_of_three", [4]),
        ([2.1, 0.5, 0.6, 2.3], "two_of_three", []),
        ([2.1, -2.1, 2.3], "two_of_three", [3]),
        ([2.1, 2.2, 0.1], "two_of_three", [2]),  # the third point is not beyond the line itself
        ([0.5, 1.2, 1.4, -0.3, 1.6, 1.1], "four_of_five", [6]),
        ([-1.2, -1.4, 0.3, -1.6, -1.1], "four_of_five", [5]),
        ([0.1] * 8, "eight_one_side", [8]),
        ([0.1] * 8, "nine_one_side", []),
        ([0.1] * 4 + [0.0] + [0.1] * 5, "eight_one_side", []),  # on the centre is on no side
        ([-0.1] * 10, "nine_one_side", [9, 10]),
        ([0.1, 0.2, 0.3, 0.4, 0.5, 0.6], "six_steady", [6]),
        ([0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.1], "six_steady", [6]),
        ([0.1, 0.2, 0.3, 0.3, 0.4, 0.5], "six_steady", []),
        (UP_AND_DOWN, "fourteen_alternating", [14]),
        (UP_AND_DOWN[:13], "fourteen_alternating", []),
        ([*UP_AND_DOWN[:7], 0.5, *UP_AND_DOWN[:6]], "fourteen_alternating", []),
        ([0.9, -0.9, 0.2] * 5, "fifteen_inside", [15]),
        ([0.9, -0.9, 1.0] * 5, "fifteen_inside", []),
        ([1.1, -1.2] * 4, "eight_outside", [8]),
        ([1.1] * 8, "eight_outside", []),  # all on one side: that is another rule's
    ],
)
def test_cases_worked_by_hand(scores, rule, points):
    assert [signal.index + 1 for signal in rule_signals(scores, rules=[rule])] == points


def plainly(scores, rule):
    """Points that break a rule, written out point by point from its words."""
    found = []
    for i, last in enumerate(scores):
        window = scores[max(0, i - rule.window + 1) : i + 1]
        for side in (1, -1):
            ours = [side * each for each in window]
            steps = np.diff(ours)
            broken = {
                "same side": side * last > rule.line
                and sum(each > rule.line for each in ours) >= rule.needed,
                "trend": len(ours) == rule.window and all(steps > 0),
                "alternating": side == 1 and len(ours) == rule.window and all(steps[1:] * steps[:-1] < 0),
                "inside": side == 1 and len(ours) == rule.window and max(map(abs, ours)) < rule.line,
                "outside": side == 1 and len(ours) == rule.window and min(map(abs, ours)) > rule.line
                and min(ours) < 0 < max(ours),
            }[rule.kind]  # fmt: skip
            if broken:
                found.append(i)
    return found


@pytest.mark.parametrize("rule", RULES.values(), ids=list(RULES))
def test_the_same_points_as_written_out_plainly(rule):
    rng = np.random.default_rng(1)
    # Coarse values bring ties; shifts, small spreads and alternation bring every rule to speak.
    parts = [rng.normal(0, 1, 300), rng.normal(1, 1, 300), rng.normal(0, 0.4, 300)]
    parts += [np.abs(rng.normal(0, 1, 100)) * (-1.0) ** np.arange(100), np.cumsum(rng.normal(0, 0.3, 200))]
    parts += [rng.choice([-1.5, 1.5], 60), np.repeat(np.sort(rng.normal(0, 1, 40)), rng.integers(1, 3, 40))]
    scores = np.round(np.concatenate(parts), 2)
    found = [signal.index for signal in rule_signals(scores, rules=[rule.key])]
    assert found == plainly(scores.tolist(), rule)
    assert len(found) >= 3


def test_missing_points_are_passed_over():
    nan = float("nan")
    (signal,) = rule_signals([0.2, 2.1, nan, nan, 0.5, nan, 2.3], rules=["two_of_three"])
    assert (signal.index, signal.window, signal.side) == (6, (1, 4, 6), 1)
    assert rule_signals([nan] * 20) == ()
    assert rule_signals([]) == ()


def test_a_new_phase_restarts_every_window():
    for rule in RULES.values():
        scores = {
            "trend": np.arange(6.0),
            "alternating": np.array(UP_AND_DOWN),
            "outside": np.array([1.1, -1.2] * 4),
        }.get(rule.kind, np.full(rule.window, 0.5 if rule.line == 0 or rule.kind == "inside" else 3.5))
        assert len(rule_signals(scores, rules=[rule.key])) >= 1
        phase = ["old"] + ["new"] * (scores.size - 1)
        expected = max(0, len(rule_signals(scores[1:], rules=[rule.key])))
        assert len([s for s in rule_signals(scores, phase, [rule.key]) if s.index > 0]) == expected
        if rule.kind != "same side" or rule.needed == rule.window > 1:
            assert expected == 0


def test_readings_on_a_limit_are_not_beyond_it():
    """0.27 less 0.21 over 0.02 is more than 3 in binary arithmetic."""
    deviation = (0.27 - 0.21) / 0.02
    assert deviation > 3
    assert rule_signals([deviation], rules="action") == ()


def test_unknown_rules_and_unequal_lists_are_refused():
    for arguments in (([0.0], None, "lucky"), ([0.0], None, ["lucky"]), ([0.0], ["a", "b"]), ([[0.0]],)):
        with pytest.raises(SensitometryError):
            rule_signals(*arguments)


def mean_run_length(rules, runs, length, seed):
    """Points over false alarms, each run ended by its first alarm or cut; the estimate for such data."""
    scores = np.random.default_rng(seed).standard_normal(runs * length)
    ends = np.full(runs, length)
    alarmed = np.zeros(runs, dtype=bool)
    for signal in reversed(rule_signals(scores, np.repeat(np.arange(runs), length), rules)):
        run, place = divmod(signal.index, length)
        ends[run], alarmed[run] = place + 1, True
    return ends.sum() / alarmed.sum()


@pytest.mark.parametrize("key", RULE_SETS)
def test_false_alarms_come_as_rarely_as_stated(key):
    """1000 runs: a standard error of some 4 %; bound at three of them."""
    stated = RULE_SETS[key].false_alarm_points
    assert mean_run_length(key, 1000, 600, 2) == pytest.approx(stated, rel=0.12)


@pytest.mark.full
@pytest.mark.parametrize("key", RULE_SETS)
def test_false_alarms_come_as_rarely_as_stated_in_many_runs(key):
    """15000 runs: a standard error of 0.9 %."""
    estimates = [mean_run_length(key, 1500, 800, seed) for seed in range(10)]
    assert np.mean(estimates) == pytest.approx(RULE_SETS[key].false_alarm_points, rel=0.027)


def test_action_limits_alone():
    assert RULE_SETS["action"].false_alarm_points == pytest.approx(1 / (2 * norm.sf(3)), abs=0.05)
