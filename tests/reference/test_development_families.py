"""Worked examples of development families: derived from the formulas.

The first-order law with its limit and rate is Ives's of 1920 (read in a secondary text); the contrast
condition is that of ISO 6:1993; aims are common practice, the range 2.20 and 1.05 read in a source.
"""

import math

import pytest

from curves.sensitometry.developing.development import (
    DevelopmentFamily,
    aim_contrast,
    speed_at_standard_contrast,
    time_for_contrast,
)
from curves.sensitometry.developing.development_rate import fit_time_contrast
from curves.sensitometry.developing.development_temperature import (
    coefficient_from_activation_energy,
    time_at_temperature,
)
from curves.sensitometry.speed_scale import rounded_speed, speed_degree


def test_speed_where_the_family_meets_the_contrast_condition():
    """6, 8, 11 min; 0.68, 0.78, 0.90; log Hm -2.05, -2.09, -2.13: 8.436 min, -2.09667, 99.9, ISO 100/21."""
    family = DevelopmentFamily.of([6, 8, 11], [0.68, 0.78, 0.90], 0.01)
    found = speed_at_standard_contrast(family, [-2.05, -2.09, -2.13], 0.02)
    assert found["standard_contrast_time"].value == pytest.approx(8.436, abs=0.0005)
    assert found["standard_contrast_speed_point"].value == pytest.approx(-2.09667, abs=0.000005)
    speed = found["standard_contrast_speed"].value
    assert speed == pytest.approx(99.9, abs=0.05)
    assert (rounded_speed(speed), speed_degree(speed)) == (100, 21)
    assert "ISO 100" in found["standard_contrast_speed"].note


def test_two_times_in_the_ratio_one_to_two():
    """0.50 at 6 min and 0.75 at 12 min: limit 1.000, k 0.115525; 8.376 min for 0.62, 7.509 for 0.58."""
    law = fit_time_contrast(DevelopmentFamily.of([6, 12], [0.50, 0.75], 0.01))
    assert law.contrast_limit.value == pytest.approx(1.000, abs=0.0005)
    assert law.rate_per_min.value == pytest.approx(0.115525, abs=0.0000005)
    assert law.time_for(0.62).value == pytest.approx(8.376, abs=0.0005)
    assert law.time_for(0.58).value == pytest.approx(7.509, abs=0.0005)
    # The closed form that the two times allow.
    assert law.contrast_limit.value == pytest.approx(0.5**2 / (2 * 0.5 - 0.75))
    assert law.rate_per_min.value == pytest.approx(-math.log(0.75 / 0.5 - 1) / 6)


def test_no_limit_without_levelling_off():
    """A second contrast of at least twice the first shows no limit; an aim at the limit is not reached."""
    assert (
        fit_time_contrast(DevelopmentFamily.of([6, 12], [0.4, 0.8], 0.01)).contrast_limit.reason
        == "NO_SATURATION"
    )
    law = fit_time_contrast(DevelopmentFamily.of([6, 12], [0.50, 0.75], 0.01))
    assert law.time_for(1.0 + 1e-9).reason == "NOT_REACHED"
    family = DevelopmentFamily.of([6, 8, 11], [0.68, 0.78, 0.90], 0.01)
    assert time_for_contrast(family, 0.95).reason == "NOT_REACHED"


@pytest.mark.parametrize(
    ("negative", "subject", "flare", "aim"),
    [(1.05, 2.20, 0.40, 0.583), (1.20, 2.10, 0, 0.571), (1.20, 1.80, 0, 0.667), (1.20, 2.40, 0, 0.500)],
)
def test_aim_contrasts(negative, subject, flare, aim):
    """Range and exposure scale 2.20 and 1.05 published, flare 0.40 from memory; the rest derived."""
    assert aim_contrast(negative, subject, flare).value == pytest.approx(aim, abs=0.0005)


@pytest.mark.parametrize(("temperature", "factor"), [(18, 1.2011), (22, 0.8326), (24, 0.6931)])
def test_temperature_factors_for_a_coefficient_of_two_and_a_half(temperature, factor):
    """Derived: 2.5 to the power of (20 - T) / 10."""
    assert time_at_temperature(1.0, temperature, 2.5).value == pytest.approx(factor, abs=0.00005)


def test_activation_energy_of_that_coefficient():
    """Derived: 67.7 kJ/mol between 20 and 30 degrees."""
    assert coefficient_from_activation_energy(67.7) == pytest.approx(2.5, abs=0.005)
