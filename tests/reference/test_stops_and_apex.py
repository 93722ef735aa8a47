"""Stops, densities, camera settings and meter constants against their printed values.

Sources: ISO 5-1 for density (from memory), ISO 2720 for the meter equations, APEX from ASA PH2.5-1960
(from memory). Values marked derived were worked out from those definitions with six digits.
"""

import math

import numpy as np
import pytest

from curves.sensitometry.densities import callier_factor, density_from_transmittance, mean_density
from curves.sensitometry.exposing.exposure_settings import (
    LENS_FACTOR,
    aperture_value,
    diffuse_luminance_cd_m2,
    exposure_value,
    film_plane_exposure,
    log_exposure_from_stops,
    meter_point_above_speed_point,
    reflected_exposure_value,
    speed_value,
    stops_from_log_exposure,
    true_aperture,
    true_exposure_index,
    true_shutter_s,
)
from curves.sensitometry.speed_scale import stops_between


def printed(digits):
    """Tolerance of half a unit of the last printed digit, and a hair for a value that ends in five."""
    return 0.5 * 10**-digits * 1.001


@pytest.mark.parametrize(
    ("transmittance", "density"), [(0.5, 0.3010), (0.1, 1.0), (0.01, 2.0), (0.18, 0.7447)]
)
def test_density_of_a_transmittance(transmittance, density):
    """Handbook values (from memory)."""
    assert density_from_transmittance(transmittance).value == pytest.approx(density, abs=printed(4))


def test_stop_and_its_third():
    """1 stop = log 2 = 0.30103; a third is 0.10034; ten degrees fall short of ten thirds by 0.0034."""
    assert float(log_exposure_from_stops(1)) == pytest.approx(0.30103, abs=printed(5))
    assert float(log_exposure_from_stops(1 / 3)) == pytest.approx(0.10034, abs=printed(5))
    assert float(log_exposure_from_stops(10 / 3)) - 1.0 == pytest.approx(0.0034, abs=printed(4))


@pytest.mark.parametrize(
    ("index", "box", "stops"), [(200, 250, -0.322), (320, 400, -0.322), (1600, 400, 2.0)]
)
def test_index_against_box_speed_in_stops(index, box, stops):
    """Derived: 3.3219 times the log ratio."""
    assert float(stops_between(index, box)) == pytest.approx(stops, abs=printed(3))
    assert float(stops_from_log_exposure(math.log10(index / box))) == pytest.approx(stops, abs=printed(3))


@pytest.mark.parametrize(("spread", "excess"), [(0.067, 0.0052), (0.20, 0.046)])
def test_mean_of_densities_exceeds_density_of_the_mean(spread, excess):
    """Derived: about (ln 10 / 2) sd^2. Quantiles of a normal stand for a large sample without chance."""
    from scipy.stats import norm

    densities = 1.0 + spread * norm.ppf((np.arange(20000) + 0.5) / 20000)
    assert np.mean(densities) - mean_density(densities).value == pytest.approx(excess, rel=0.02)


def test_callier_factor_of_the_handbook_example():
    """Specular 1.30 over diffuse 1.00 (from memory)."""
    assert callier_factor(1.30, 1.00).value == pytest.approx(1.30, abs=printed(2))


@pytest.mark.parametrize(
    ("mark", "true"),
    [(22, 22.627), (11, 11.314), (5.6, 5.657)],
)
def test_true_apertures(mark, true):
    """Derived from powers of the square root of two."""
    assert true_aperture(mark) == pytest.approx(true, abs=printed(3))


@pytest.mark.parametrize(("mark", "stops"), [(22, 0.081), (11, 0.081), (5.6, 0.029)])
def test_apertures_differ_from_their_marks_by_these_stops(mark, stops):
    """Derived: twice the log2 ratio of the f-numbers."""
    assert aperture_value(true_aperture(mark)) - aperture_value(mark) == pytest.approx(stops, abs=printed(3))


def test_a_thirtieth_is_a_thirty_second():
    """Derived: 0.028 in log exposure, 0.093 stop."""
    assert 1 / true_shutter_s(1 / 30) == 32
    ratio = (1 / 30) / true_shutter_s(1 / 30)
    assert math.log10(ratio) == pytest.approx(0.028, abs=printed(3))
    assert math.log2(ratio) == pytest.approx(0.093, abs=printed(3))


def test_apex_of_a_sunny_exposure_is_fifteen():
    """f/16 at 1/125 s, nominal settings, is Ev 15 (from memory); by true settings exactly."""
    assert exposure_value(16, 1 / 125) == pytest.approx(15, abs=0.05)
    assert exposure_value(true_aperture(16), true_shutter_s(1 / 125)) == 15
    assert speed_value(100) == 5
    assert speed_value(3200) == pytest.approx(10)


def test_meter_exposure_at_the_film():
    """Published as about 8/S: L 3200 cd/m2, 1/100 s, f/16, S 100 gives 0.08125 lx s (derived, q = 0.65)."""
    exposure = film_plane_exposure(3200, 16, 1 / 100)
    assert exposure == pytest.approx(0.08125, abs=printed(5))
    assert exposure * 100 == pytest.approx(8.125)
    # That is the exposure the meter itself asks for with K = 12.5: N^2/t = L S / K.
    assert reflected_exposure_value(3200, 100) == pytest.approx(exposure_value(16, 1 / 100))
    assert pytest.approx(8.125) == LENS_FACTOR * 12.5


def test_meter_point_above_the_speed_point():
    """Derived: log(8.125 / 0.8) = 1.0067, 3.344 stops; published as 1.0."""
    above = meter_point_above_speed_point()
    assert above == pytest.approx(1.0067, abs=printed(4))
    assert float(stops_from_log_exposure(above)) == pytest.approx(3.344, abs=printed(3))


def test_grey_card_in_stops():
    """18 % grey: density 0.7447, 2.474 stops below 100 %, 2.322 below a 90 % white (derived)."""
    grey = density_from_transmittance(0.18).value
    assert float(stops_from_log_exposure(grey)) == pytest.approx(2.474, abs=printed(3))
    white = density_from_transmittance(0.90).value
    assert float(stops_from_log_exposure(grey - white)) == pytest.approx(2.322, abs=printed(3))


def test_luminance_of_a_grey_card():
    """Derived: 0.18 of 10,000 lx over pi is 573.0 cd/m2."""
    assert diffuse_luminance_cd_m2(0.18, 10_000) == pytest.approx(573.0, abs=printed(1))


def test_true_index_of_a_third_stop_mark():
    """Derived: 320 stands for 317.48, two and two thirds of a stop above 50."""
    assert true_exposure_index(320) == pytest.approx(317.48, abs=printed(2))
    assert true_exposure_index(250) == pytest.approx(251.98, abs=printed(2))
    assert true_exposure_index(100) == 100
