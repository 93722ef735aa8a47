"""Every measure against the known curve: recovered within its interval, and right where algebra knows it.

What the true measures are is read off the true curve itself by the engine's reading functions, which the
closed-form curves hold to their printed digits; so this is a test of the fit and of its intervals.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from curves.sensitometry import Readings, analyse_readings
from curves.sensitometry.fitting.gridded_curves import GriddedCurves
from curves.sensitometry.measuring.curve_shape import straight_run
from curves.sensitometry.measuring.measure_rows import read_rows
from tests.sensitometry.accuracy import run_study
from tests.sensitometry.truths import SMOOTH, STEPS

EACH = 20
READ_OFF = (
    "speed_point_log_exposure", "delta_d_130", "gradient_130", "average_gradient_150", "arc_gradient_150",
    "contrast_index", "gamma", "maximum_gradient", "speed_point_gradient", "toe_length", "toe_shape",
    "toe_chord_gradient", "straight_part_start", "straight_part_end", "straight_extent", "shoulder_onset",
    "useful_range", "highlight_gradient", "fractional_gradient_log_exposure", "d_max",
)  # fmt: skip


def true_measures(truth):
    half = 1e-5

    def gradient(x):
        return (truth.density(x + half) - truth.density(x - half)) / (2 * half)

    curve = GriddedCurves.from_functions(truth.density, gradient, truth.base, -0.35, 3.0, count=2681)
    curve = replace(curve, low=np.zeros(1), inside=(280, 2681))
    return {name: float(rows[0, 0]) for name, rows in read_rows(curve, [STEPS]).values.items()}


@cache
def study():
    found = run_study(SMOOTH, EACH, seed=4242)
    return found.analyses, [true_measures(truth) for truth in found.truths]


@pytest.mark.parametrize("name", READ_OFF)
def test_interval_holds_the_true_measure(name):
    inside = []
    for analysis, truth in zip(*study(), strict=True):
        measure = analysis.measures[name]
        if measure.value is None or not np.isfinite(truth[name]):
            continue
        low = -np.inf if measure.low is None else measure.low
        high = np.inf if measure.high is None else measure.high
        inside.append(low - 1e-9 <= truth[name] <= high + 1e-9)
    assert len(inside) >= 60
    # Nominal 95 %; 60 to 240 curves have standard errors of 2.8 to 1.4 %, and the edges of the straight part
    # and of the useful range jump where a curve bends slowly.
    assert np.mean(inside) >= 0.87, f"{name}: {np.mean(inside):.3f} of {len(inside)}"


def test_unexposed_readings_alone_make_the_interval_of_base_plus_fog():
    found = run_study(SMOOTH, 10, seed=11, unexposed=4)
    for analysis in found.analyses:
        measure = analysis.measures["base_plus_fog"]
        half = 0.5 * (measure.high - measure.low)
        # Student's t over four readings with the noise as estimated: between 1.96 and 3 standard errors.
        assert 1.9 < half / (analysis.noise_sd / 2.0) < 3.1
        assert measure.note == "mean of 4 unexposed readings"
    inside = [
        analysis.measures["base_plus_fog"].low <= truth.base <= analysis.measures["base_plus_fog"].high
        for analysis, truth in zip(found.analyses, found.truths, strict=True)
    ]
    assert np.mean(inside) >= 0.88


def test_base_plus_fog_is_never_the_lowest_step():
    x = np.linspace(-3.5, -0.5, 21)
    density = 0.30 + 0.14 * np.logaddexp(0.0, (x + 2.6) / 0.2)
    with_base = analyse_readings(Readings(x, density, [0.25])).measures["base_plus_fog"]
    assert with_base.value == 0.25
    assert analyse_readings(Readings(x, density)).measures["base_plus_fog"].reason == "NO_BASE_FOG"


def test_what_stands_on_base_plus_fog_is_withheld_without_it():
    x = np.linspace(-3.5, -0.5, 21)
    measures = analyse_readings(Readings(x, 0.25 + 0.14 * np.logaddexp(0.0, (x + 2.6) / 0.2))).measures
    free = {name for name, measure in measures.items() if measure.value is not None}
    assert free == {"d_max", "gamma", "maximum_gradient", "straight_part_start", "reading_noise"}
    assert measures["iso_speed"].reason == "NO_BASE_FOG"


def test_speed_is_withheld_when_the_contrast_condition_fails_and_given_when_it_is_met():
    x = np.linspace(-3.5, -0.5, 21)
    for gamma, is_met in ((0.50, False), (0.61, True), (0.65, True), (0.75, False)):
        density = 0.25 + gamma * 0.1 * np.logaddexp(0.0, (x + 2.6) / 0.1)
        measures = analyse_readings(Readings(x, density, [0.25])).measures
        assert abs(measures["delta_d_130"].value - 0.80) <= 0.05 or not is_met
        assert (measures["iso_speed"].reason is None) == is_met
        assert is_met or measures["iso_speed"].reason == "CONTRAST_NOT_MET"
        assert measures["exposure_index"].value is not None


def test_box_difference_and_its_sign():
    x = np.linspace(-3.5, -0.5, 21)
    density = 0.25 + 0.14 * np.logaddexp(0.0, (x + 2.6) / 0.2)
    measures = analyse_readings(Readings(x, density, [0.25]), box_speed=156.2).measures
    # 312.41 by algebra against half of it: one stop faster than its box.
    assert measures["box_difference_stops"].value == pytest.approx(1.0, abs=0.02)
    assert measures["box_difference_stops"].low < 1.0 < measures["box_difference_stops"].high


def test_straight_run_by_hand():
    assert straight_run([0, 1, 2, 3, 4, 5], [0, 0, 1, 2, 3, 4]) == (1, 5)
    assert straight_run([0, 1, 2], [0, 1, 2]) is None
    # A parabola of second difference 0.2: no four steps lie within 0.02 D of a line.
    x = np.arange(8.0)
    assert straight_run(x, 0.1 * x**2) is None
    # Of two equally long lines the steeper is the straight part.
    assert straight_run(np.arange(8.0), [0, 0.2, 0.4, 0.6, 0.8, 1.8, 2.8, 3.8]) == (0, 4)
    assert straight_run(np.arange(7.0), [0, 0.2, 0.4, 0.6, 1.6, 2.6, 3.6]) == (3, 6)


def test_straight_part_toe_and_shoulder_of_a_known_curve():
    """The logistic: 0.9 of a slope is reached at places that algebra knows."""
    rate, middle, rise = 2.11059099, -0.70, 2.0
    x = np.linspace(-2.8, 1.4, 85)
    density = 0.10 + rise / (1.0 + np.exp(-rate * (x - middle)))
    measures = analyse_readings(Readings(x, density, [0.10] * 4)).measures
    share = 0.9 * measures["gamma"].value / (rate * rise / 4.0)
    edge = np.log((1.0 + np.sqrt(1.0 - share)) / (1.0 - np.sqrt(1.0 - share))) / rate
    # The fit is within 0.001 D of the curve here; the slope is flat at its edges, so 0.01 in exposure.
    assert measures["straight_part_start"].value == pytest.approx(middle - edge, abs=0.01)
    assert measures["shoulder_onset"].value == pytest.approx(middle + edge, abs=0.01)
    assert measures["straight_extent"].value == pytest.approx(2 * edge, abs=0.02)
    place = measures["speed_point_log_exposure"].value
    assert measures["toe_length"].value == pytest.approx(middle - edge - place, abs=0.01)
    assert not measures["d_max"].is_lower_bound
    assert measures["latitude"].value == pytest.approx(measures["useful_range"].value - 2.20, abs=1e-6)
