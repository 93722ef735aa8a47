"""Control charts on published examples, to the digits printed.

NIST/SEMATECH e-Handbook of Statistical Methods: individuals 6.3.2.2, cumulative sums 6.3.2.3 (both from
memory, recomputed) and the weighted moving average 6.3.2.4 (quoted). Means and ranges: piston rings, from
Montgomery, Introduction to Statistical Quality Control, from memory; that the mean of 74.00118 and the sum
of ranges of 0.581 come out as printed speaks for the memory. Package beside: pandas.
"""

import numpy as np
import pandas
import pytest

from curves.sensitometry.controlling.charts import individuals_charts
from curves.sensitometry.controlling.control_constants import control_constants
from curves.sensitometry.controlling.mean_charts import mean_range_charts
from curves.sensitometry.controlling.memory_charts import cusum_charts, ewma_chart

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
EWMA = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, *FLOW]
AVERAGES = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip
CUSUM = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip
RINGS = 74 + np.array([
    30, 2, 19, -8, 8, -5, -8, 1, 11, 4, -12, 24, 21, 5, 2, 2, -4, -7, 15, 9, -8, 7, 15, -11, 14,
    9, -6, -3, -15, -7, -5, 6, -6, 0, 5, -15, 3, -7, 15, -12, 8, -5, 9, 5, 4, -2, 0, -10, 7, -5,
    -6, -2, -6, -5, -10, 4, 0, 7, 0, -4, -17, 2, -2, -3, 12, 6, -33, -6, 0, -16, 12, 14, -2, -1, 7,
    0, -16, 5, -2, -4, -6, 12, -14, 5, 7, 6, 10, 18, 3, 0, -16, 2, 3, 5, -3, 0, 10, 13, 20, 3,
    -18, 1, 15, 5, -4, 4, -1, -10, 6, 9, 10, -11, -10, 9, 14, 15, 8, -7, 0, 10, -18, -16, -5, 17, 13,
]).reshape(25, 5) / 1000  # fmt: skip


def test_individuals_and_moving_range():
    points, ranges = individuals_charts(FLOW, unit="counts")
    assert points.centre[0] == pytest.approx(50.81, abs=5e-3)
    # Printed with d2 cut to 1.128; the whole constant draws the limits 0.0017 closer.
    printed, _ = individuals_charts(FLOW, standard_deviation=1.8778 / 1.128, unit="counts")
    assert printed.action_high[0] == pytest.approx(55.8041, abs=1.1e-4)
    assert printed.action_low[0] == pytest.approx(45.8159, abs=1.1e-4)
    assert points.action_high[0] == pytest.approx(55.8041, abs=0.002)
    assert points.action_low[0] == pytest.approx(45.8159, abs=0.002)
    assert np.nanmean(ranges.values) == pytest.approx(1.8778, abs=5e-5)
    assert ranges.centre[0] == pytest.approx(1.8778, abs=5e-5)
    # Printed with D4 rounded to 3.267; the whole constant is 3.2665.
    assert ranges.action_high[0] == pytest.approx(6.135, abs=1.5e-3)
    assert ranges.action_low[0] == 0
    assert [s for s in points.signals if s.rule == "beyond_action"] == []
    assert ranges.signals == ()
    assert not points.phases[0].is_provisional


def test_weighted_moving_average():
    chart = ewma_chart(
        EWMA, centre=50, standard_deviation=2.0539, weight=0.3, width=3, is_exact=False, unit="counts"
    )
    assert chart.values == pytest.approx(AVERAGES, abs=5.1e-3)
    # The lower limit is 47.41157 and printed cut, not rounded.
    assert (chart.action_high[0], chart.action_low[0]) == pytest.approx((52.5884, 47.4115), abs=1e-4)
    assert chart.signals == ()


def test_exact_limits_of_the_weighted_moving_average():
    chart = ewma_chart(EWMA, centre=50, standard_deviation=2.0539, weight=0.3)
    assert chart.action_high[0] == pytest.approx(51.8485, abs=5e-5)
    assert chart.action_high[-1] == pytest.approx(52.5884, abs=3e-4)
    assert np.all(np.diff(chart.action_high) > 0)


def test_weighted_moving_average_beside_pandas():
    """pandas' ewm without adjustment is the same recursion when the aim is put before the readings."""
    series = pandas.Series([50.0, *EWMA]).ewm(alpha=0.3, adjust=False).mean()
    chart = ewma_chart(EWMA, centre=50, standard_deviation=2.0539, weight=0.3)
    assert chart.values == pytest.approx(series.to_numpy()[1:], abs=1e-12)


def test_cumulative_sums():
    high, low = cusum_charts(CUSUM, centre=325, allowance=0.3175, decision=4.1959, unit="mm")
    assert high.values[12] == pytest.approx(3.0075, abs=5e-5)
    assert high.values[13] == pytest.approx(4.9400, abs=5e-5)
    assert high.values[19] == pytest.approx(19.0350, abs=5e-5)
    assert high.signals[0].index + 1 == 14
    assert [index + 1 for index in high.signals[0].window] == [13, 14]
    assert (np.argmax(low.values) + 1, low.values.max()) == (8, pytest.approx(0.7150, abs=5e-5))
    assert low.signals == ()


def test_means_and_ranges():
    means, ranges = mean_range_charts(RINGS, unit="mm")
    assert means.centre[0] == pytest.approx(74.00118, abs=5e-6)
    assert ranges.values.sum() == pytest.approx(0.581, abs=1e-9)
    assert (means.action_low[0], means.action_high[0]) == pytest.approx((73.988, 74.014), abs=1e-3)
    assert ranges.centre[0] == pytest.approx(0.02324, abs=5e-6)
    assert ranges.action_high[0] == pytest.approx(0.049, abs=5e-4)
    assert ranges.action_low[0] == 0
    assert [s.rule for s in means.signals if s.rule == "beyond_action"] == []


def test_means_and_ranges_from_the_rounded_summary():
    """The same book's limits from 74.001 and 0.023: 74.01427, 73.98773, and 0.04862 for the range."""
    sd = 0.023 / control_constants(5).d2
    means, ranges = mean_range_charts(RINGS, centre=74.001, standard_deviation=sd, unit="mm")
    assert (means.action_low[0], means.action_high[0]) == pytest.approx((73.98773, 74.01427), abs=6e-6)
    # The book's factors have three decimals: half of the last on 0.023.
    assert ranges.action_high[0] == pytest.approx(0.04862, abs=1.5e-5)
