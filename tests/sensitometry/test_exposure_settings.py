"""True settings, exposure values and refusals of impossible ones."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curves.sensitometry.exposing.exposure_settings import (
    exposure_value,
    film_plane_exposure,
    incident_exposure_value,
    log_exposure_from_stops,
    reflected_exposure_value,
    stops_from_log_exposure,
    true_aperture,
    true_exposure_index,
    true_shutter_s,
)
from curves.sensitometry.measures import SensitometryError

SHUTTERS = {
    1: 1,
    2: 2,
    4: 4,
    8: 8,
    15: 16,
    30: 32,
    60: 64,
    125: 128,
    250: 256,
    500: 512,
    1000: 1024,
    2000: 2048,
}
APERTURES = (1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64)
THIRD_STOPS = (4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22)


@pytest.mark.parametrize(("mark", "true"), list(SHUTTERS.items()))
def test_whole_stop_shutter_marks_are_powers_of_two(mark, true):
    assert 1 / true_shutter_s(1 / mark) == true


@pytest.mark.parametrize(("mark", "true"), [(15, 16), (30, 32), (0.3, 2 ** (-5 / 3)), (0.8, 2 ** (-1 / 3))])
def test_long_times(mark, true):
    assert true_shutter_s(mark) == pytest.approx(true)


@pytest.mark.parametrize(("stops", "mark"), list(enumerate(APERTURES)))
def test_whole_stop_apertures_are_powers_of_the_root_of_two(stops, mark):
    assert true_aperture(mark) == pytest.approx(2 ** (stops / 2))


@pytest.mark.parametrize(("thirds", "mark"), list(enumerate(THIRD_STOPS)))
def test_third_stop_apertures_are_a_third_apart(thirds, mark):
    assert true_aperture(mark) == pytest.approx(4 * 2 ** (thirds / 6))


def test_half_stop_settings():
    assert true_aperture(6.7, per_stop=2) == pytest.approx(2 ** (5.5 / 2))
    assert 1 / true_shutter_s(1 / 45, per_stop=2) == pytest.approx(2**5.5)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.integers(-12, 24))
def test_true_settings_are_their_own_marks(thirds):
    index = 100 * 2 ** (thirds / 3)
    assert true_exposure_index(index) == pytest.approx(index)
    assert true_shutter_s(2 ** (-thirds / 3)) == pytest.approx(2 ** (-thirds / 3))
    assert true_aperture(2 ** (thirds / 6)) == pytest.approx(2 ** (thirds / 6))


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(-20, 20))
def test_stops_and_log_exposure_undo_each_other(stops):
    assert float(stops_from_log_exposure(log_exposure_from_stops(stops))) == pytest.approx(stops, abs=1e-12)


@settings(deadline=None, max_examples=60)  # other work may share the machine
@given(st.floats(1, 30000), st.floats(1, 6400), st.floats(10.6, 13.4))
def test_settings_that_the_meter_asks_for_give_the_film_q_k_over_s(luminance, speed, constant):
    value = reflected_exposure_value(luminance, speed, constant)
    aperture, shutter = 8.0, 64 / 2**value
    assert exposure_value(aperture, shutter) == pytest.approx(value)
    assert film_plane_exposure(luminance, aperture, shutter) * speed == pytest.approx(0.65 * constant)


def test_incident_and_reflected_meters_agree_on_a_grey_of_pi_k_over_c():
    """L = rho E / pi, so both ask for the same when rho = pi K / C: 15.7 % for K 12.5 and C 250."""
    illuminance, reflectance = 5000, math.pi * 12.5 / 250
    reflected = reflected_exposure_value(reflectance * illuminance / math.pi, 100)
    assert incident_exposure_value(illuminance, 100, 250) == pytest.approx(reflected)


@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e300])
@pytest.mark.parametrize("function", [true_shutter_s, true_aperture, true_exposure_index])
def test_impossible_settings_are_named(function, bad):
    with pytest.raises(SensitometryError, match="above zero") as caught:
        function(bad)
    assert caught.value.code == "IMPOSSIBLE_SETTING"
