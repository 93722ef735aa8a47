"""The speed scale and its rounding ranges.

Sources: ISO 6:1993, Table 1 (steps from memory; every one is checked against the formula here). The
ranges follow from the formula; the printed table has two decimals, so probes keep 0.005 off a boundary.
"""

import math

import pytest

from curves.sensitometry import SensitometryError
from curves.sensitometry.speed_scale import (
    ARITHMETIC,
    exact_speed,
    rounded_speed,
    speed_degree,
    speed_from_exposure,
    stops_between,
)


def test_every_step_lies_within_its_own_range():
    for degree, step in enumerate(ARITHMETIC):
        assert speed_degree(step) == degree
        # Half a degree is 12.2 %; printed steps are rounded to the trade's numbers, at most 6 % off.
        assert step == pytest.approx(exact_speed(degree), rel=0.06)


@pytest.mark.parametrize(
    ("arithmetic", "degree", "low", "high"),
    [(100, 21, 89.13, 112.20), (400, 27, 354.8, 446.7), (50, 18, 44.67, 56.23)],
)
def test_printed_ranges(arithmetic, degree, low, high):
    assert exact_speed(degree) / 10**0.05 == pytest.approx(low, abs=0.06)
    assert exact_speed(degree) * 10**0.05 == pytest.approx(high, abs=0.06)
    for speed in (low * 1.012, high / 1.012):
        assert (rounded_speed(speed), speed_degree(speed)) == (arithmetic, degree)
    assert rounded_speed(low / 1.012) != arithmetic
    assert rounded_speed(high * 1.012) != arithmetic


def test_range_of_exposures_of_one_degree():
    for log_exposure in (-2.142, -2.097, -2.052):
        assert rounded_speed(speed_from_exposure(log_exposure)) == 100
    assert rounded_speed(speed_from_exposure(-2.152)) == 125
    assert rounded_speed(speed_from_exposure(-2.042)) == 80


def test_neither_nearest_number_nor_half_to_even():
    # 359 is nearer to 320 than to 400 by plain difference, but its degree is 27.
    assert rounded_speed(359.0) == 400
    # Just above a half: half-to-even rounding would go down to an even degree.
    assert speed_degree(10 ** (2.05 + 1e-9)) == 22
    assert speed_degree(10 ** (1.95 + 1e-9)) == 21


def test_centre_and_bottom_of_the_scale():
    assert exact_speed(18) == pytest.approx(50.12, abs=0.005)
    assert ARITHMETIC[:2] == (0.8, 1)
    assert ARITHMETIC[36] == 3200
    assert rounded_speed(0.5) is None
    with pytest.raises(SensitometryError):
        speed_degree(0.0)


@pytest.mark.parametrize(
    ("index", "box", "stops"), [(200, 250, -0.322), (320, 400, -0.322), (1600, 400, 2.0)]
)
def test_exposure_index_against_box(index, box, stops):
    """Worked examples of common practice, no source; three decimals as printed."""
    assert float(stops_between(index, box)) == pytest.approx(stops, abs=0.0005)


def test_stop_and_its_third():
    assert math.log10(2) == pytest.approx(0.30103, abs=5e-6)
    assert math.log10(2) / 3 == pytest.approx(0.10034, abs=5e-6)
    assert 10 * (math.log10(2) / 3 - 0.1) == pytest.approx(0.0034, abs=5e-5)
