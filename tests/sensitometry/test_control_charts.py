"""Charts beyond the published examples: phases, missing values, honest spread, hostile input, speed."""

import json
import time

import numpy as np
import pytest

from curves.sensitometry.controlling.charts import individuals_charts
from curves.sensitometry.controlling.mean_charts import mean_range_charts
from curves.sensitometry.controlling.memory_charts import cusum_charts, ewma_chart
from curves.sensitometry.controlling.within_spread import (
    moving_ranges,
    spread_from_moving_ranges,
    spread_from_sample_ranges,
)
from curves.sensitometry.measures import SensitometryError

NAN = float("nan")


def test_spread_is_found_again_and_its_interval_holds_it():
    """Ten strips, 4000 labs: bias of the mean below 1 %, coverage near 95 % (standard error 0.35 points)."""
    rng = np.random.default_rng(11)
    found = [spread_from_moving_ranges(rng.normal(0.6, 0.02, 10)).standard_deviation for _ in range(4000)]
    assert np.mean([each.value for each in found]) == pytest.approx(0.02, rel=0.015)
    assert 0.93 < np.mean([each.low <= 0.02 <= each.high for each in found]) < 0.97


def test_degrees_of_freedom_are_those_of_the_simulated_variance():
    rng = np.random.default_rng(12)
    phase = ["a"] * 9 + ["b"] + ["c"] * 5
    found = [spread_from_moving_ranges(rng.standard_normal(15), phase) for _ in range(6000)]
    values = np.array([each.standard_deviation.value for each in found])
    assert found[0].ranges == 12
    # A chi of so many degrees has this relative variance; its own standard error is some 2 %.
    assert 1 / (2 * (values.std() / values.mean()) ** 2) == pytest.approx(
        found[0].degrees_of_freedom, rel=0.08
    )


def test_spread_from_samples_of_unequal_size():
    rng = np.random.default_rng(13)
    values = []
    for _ in range(3000):
        samples = [rng.normal(0, 0.05, size) for size in (2, 3, 5, 1)]
        ranges = [np.ptp(sample) for sample in samples]
        values.append(spread_from_sample_ranges(ranges, [2, 3, 5, 1]).standard_deviation)
    assert np.mean([each.value for each in values]) == pytest.approx(0.05, rel=0.02)
    assert 0.93 < np.mean([each.low <= 0.05 <= each.high for each in values]) < 0.97


def test_a_drift_does_not_widen_the_limits():
    rng = np.random.default_rng(14)
    steady = rng.normal(0.6, 0.02, 200)
    drifting = steady + 0.002 * np.arange(200)
    sd = [individuals_charts(each)[0].phases[0].spread.value for each in (steady, drifting)]
    assert sd[1] == pytest.approx(sd[0], rel=0.05)
    assert drifting.std() > 5 * sd[1]


def test_rounded_readings_that_are_all_alike():
    alike = [0.60] * 12
    plain, _ = individuals_charts([*alike, 0.61])
    assert plain.phases[0].spread.value < 0.001
    kept, _ = individuals_charts([*alike, 0.61], least_sd=0.005)
    assert kept.phases[0].spread.value == 0.005
    assert "least" in kept.phases[0].spread.note
    assert [s.rule for s in kept.signals if s.rule != "eight_one_side"] == []
    zero, ranges = individuals_charts(alike)
    assert zero.signals == ranges.signals == ()
    assert json.dumps(zero.to_dict(), allow_nan=False)


def test_phases_restart_windows_ranges_and_limits():
    values = [0.60, 0.62, 0.61, 0.63, 0.60, 0.70, 0.72, 0.71, 0.73, 0.70]
    phase = ["batch 1"] * 5 + ["batch 2"] * 5
    points, ranges = individuals_charts(values, phase=phase)
    assert [p.label for p in points.phases] == ["batch 1", "batch 2"]
    assert points.centre == pytest.approx(np.repeat([0.612, 0.712], 5))
    assert all(p.is_provisional for p in points.phases)
    assert np.isnan(ranges.values[[0, 5]]).all()
    assert points.signals == ()
    together, _ = individuals_charts(values, phase=phase, limits_by_phase=False)
    assert together.centre == pytest.approx(np.full(10, 0.662))
    assert together.phases[0].spread.value == pytest.approx(points.phases[0].spread.value)
    eight = individuals_charts([0.605] * 8, centre=0.6, standard_deviation=0.02)[0]
    assert [s.rule for s in eight.signals] == ["eight_one_side"]
    halves = individuals_charts([0.605] * 8, centre=0.6, standard_deviation=0.02, phase=[1] * 4 + [2] * 4)[0]
    assert halves.signals == ()


def test_missing_values_are_passed_over_everywhere():
    values = [0.60, NAN, 0.63, None, 0.61, 0.60]
    assert moving_ranges(values)[[2, 4, 5]] == pytest.approx([0.03, 0.02, 0.01])
    points, _ = individuals_charts(values)
    assert np.isnan(points.values[[1, 3]]).all()
    assert points.centre[0] == pytest.approx(0.61)
    chart = ewma_chart(values, centre=0.6, standard_deviation=0.02, weight=0.5)
    assert chart.values[[0, 2, 4, 5]] == pytest.approx([0.60, 0.615, 0.6125, 0.60625])
    # The third point is the second reading, and its limit is that of a second reading.
    full = ewma_chart([0.60, 0.63], centre=0.6, standard_deviation=0.02, weight=0.5)
    assert chart.action_high[2] == pytest.approx(full.action_high[1])
    high, _ = cusum_charts(values, centre=0.6, allowance=0.005, decision=0.05)
    assert high.values[[0, 2, 4, 5]] == pytest.approx([0, 0.025, 0.03, 0.025])
    assert high.to_dict()["values"][1] is None


def test_replicates_of_unequal_number():
    means, ranges = mean_range_charts([[0.60, 0.62], [0.61, NAN], [NAN, NAN]], standard_deviation=0.02)
    width = means.action_high - means.centre
    assert width[:2] == pytest.approx([0.06 / np.sqrt(2), 0.06])
    assert np.isnan(means.values[2])
    assert np.isnan(ranges.values[1:]).all()


def test_memory_charts_restart_at_a_phase():
    values, phase = [0.65] * 6, ["old"] * 3 + ["new"] * 3
    chart = ewma_chart(values, centre=0.6, standard_deviation=0.05, phase=phase)
    assert chart.values[:3] == pytest.approx(chart.values[3:])
    assert chart.action_high[:3] == pytest.approx(chart.action_high[3:])
    high, _ = cusum_charts(values, centre=0.6, allowance=0.01, decision=0.1, phase=phase)
    assert high.values == pytest.approx([0.04, 0.08, 0.12, 0.04, 0.08, 0.12])
    assert [(s.index, s.window) for s in high.signals] == [(2, (0, 1, 2)), (5, (3, 4, 5))]


def test_cusum_is_the_step_by_step_sum():
    rng = np.random.default_rng(15)
    values = rng.normal(0.1, 1, 500)
    expected, total = [], 0.0
    for value in values:
        total = max(0.0, total + value - 0.5)
        expected.append(total)
    high, low = cusum_charts(values, centre=0, allowance=0.5, decision=4)
    assert high.values == pytest.approx(expected, abs=1e-12)
    assert cusum_charts(-values, centre=0, allowance=0.5, decision=4)[0].values == pytest.approx(low.values)


@pytest.mark.parametrize(
    "call",
    [
        lambda: individuals_charts(["a"]),
        lambda: individuals_charts([[0.6]]),
        lambda: individuals_charts([0.6, 0.7], standard_deviation=0),
        lambda: individuals_charts([0.6, 0.7], standard_deviation=NAN),
        lambda: individuals_charts([0.6, 0.7], centre=NAN),
        lambda: individuals_charts([0.6, 0.7], centre=0.6, standard_deviation=1e300),
        lambda: individuals_charts([0.6, 0.7], phase=["a"]),
        lambda: individuals_charts([0.6, 0.7], baseline=[True]),
        lambda: individuals_charts([0.6, 0.7], rules="lucky"),
        lambda: mean_range_charts([0.6, 0.7]),
        lambda: mean_range_charts([[0.6], [0.7]]),
        lambda: mean_range_charts([[0.6, 0.7], [0.6]]),
        lambda: ewma_chart([0.6], centre=0.6, standard_deviation=0.02, weight=0),
        lambda: ewma_chart([0.6], centre=NAN, standard_deviation=0.02),
        lambda: ewma_chart([0.6], centre=0.6, standard_deviation=-1),
        lambda: ewma_chart([0.6], centre=None, standard_deviation=0.02),
        lambda: cusum_charts([0.6], centre=None, allowance=0.01, decision=1),
        lambda: cusum_charts([0.6], centre=0.6, allowance=-1, decision=1),
        lambda: cusum_charts([0.6], centre=0.6, allowance=0, decision=0),
    ],
)
def test_misuse_is_told(call):
    with pytest.raises(SensitometryError):
        call()


@pytest.mark.parametrize("values", [[], [0.6], [NAN] * 4, [None, 0.6, None], [1e300, -1e300, np.inf, 0.6]])
def test_thin_and_odd_data_give_charts_without_limits(values):
    made = [
        *individuals_charts(values),
        ewma_chart(values, centre=0.6, standard_deviation=0.02),
        *cusum_charts(values, centre=0.6, allowance=0.01, decision=0.1),
        *mean_range_charts(np.array([values, values], dtype=float).T),
    ]
    for chart in made:
        assert chart.signals == ()
        assert json.dumps(chart.to_dict(), allow_nan=False)
    points = made[0]
    assert np.isnan(points.action_high).all()
    if values:
        assert points.phases[0].spread.reason == "TOO_FEW_STRIPS"


@pytest.mark.parametrize(
    "draw",
    [
        lambda values, phase: individuals_charts(values, phase=phase, limits_by_phase=False),
        lambda values, phase: individuals_charts(values, rules="nelson"),
        lambda values, phase: ewma_chart(values, centre=0.6, standard_deviation=0.02, phase=phase),
        lambda values, phase: cusum_charts(values, centre=0.6, allowance=0.01, decision=0.1, phase=phase),
    ],
    ids=["individuals", "nelson", "ewma", "cusum"],
)
def test_five_thousand_strips_in_well_below_fifty_milliseconds(draw):
    values = np.random.default_rng(16).normal(0.6, 0.02, 5000)
    phase = np.repeat(np.arange(100), 50)
    taken = []
    for _ in range(7):
        begun = time.process_time()
        draw(values, phase)
        taken.append(time.process_time() - begun)
    # 4 to 10 ms of processor time on a quiet core.
    assert min(taken) < 0.04
