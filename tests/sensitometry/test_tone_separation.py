"""Where tones run together: known places, open ends, and what was not measured."""

import numpy as np
import pytest

from curves.sensitometry.measures import SensitometryError
from curves.sensitometry.printing.tone_reproduction import reproduce_tones
from curves.sensitometry.printing.tone_separation import merging_tones
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

X = np.linspace(-3.0, 3.0, 121)
TONES = np.linspace(-2.0, 0.0, 201)
SETTINGS = {"highlight_log_exposure": 0.0, "print_log_exposure": 1.5}


def film_and_paper(sd=0.0, noise=None):
    """A straight film of slope 1 and a logistic paper, so the print's slope is the paper's."""
    paper = 2.0 / (1 + np.exp(-4 * X))
    if noise is not None:
        paper = np.maximum.accumulate(paper + noise)
    return SampledCurve.through(X, X + 3.0), SampledCurve.through(X, paper, sd)


def expected_distance(threshold):
    """Where the logistic's slope R k p (1 - p) falls to the threshold, from its middle."""
    p = (1 + np.sqrt(1 - 4 * threshold / (2.0 * 4))) / 2
    return np.log(p / (1 - p)) / 4


def tones_at(print_exposure, sd=0.0, noise=None):
    settings = {**SETTINGS, "print_log_exposure": print_exposure}
    return reproduce_tones(*film_and_paper(sd, noise), TONES, **settings)


def test_highlights_and_shadows_merge_where_the_slope_falls_to_the_threshold():
    """With exposure 2.0 the paper's middle falls on log luminance -1: x_p = 2 - (logL + 3) = -1 - logL.

    The slope is read from cubic pieces 0.05 apart and between tones 0.01 apart: 0.01 is the tolerance,
    in log luminance. Places are told in stops.
    """
    merging = merging_tones(tones_at(2.0), least_separation=0.10)
    distance = expected_distance(0.10 * 3 / STOP)
    assert merging["highlights_merge"].value == pytest.approx((-1.0 + distance) / STOP, abs=0.01 / STOP)
    assert merging["shadows_merge"].value == pytest.approx((-1.0 - distance) / STOP, abs=0.01 / STOP)
    assert "without their errors" in merging["highlights_merge"].note


def test_tones_that_stay_apart_do_not_merge():
    merging = merging_tones(tones_at(2.0), least_separation=0.001)
    assert {measure.reason for measure in merging.values()} == {"NOT_REACHED"}


def test_tones_that_never_part_have_no_place():
    merging = merging_tones(tones_at(2.0), least_separation=5.0)
    assert {measure.reason for measure in merging.values()} == {"ILL_DEFINED"}


def test_unmeasured_tones_hand_on_their_reason():
    film, paper = film_and_paper()
    short = SampledCurve.through(X[X < -0.5], X[X < -0.5] + 3.0)
    merging = merging_tones(reproduce_tones(short, paper, TONES, **SETTINGS))
    assert merging["highlights_merge"].reason == "NOT_REACHED"
    assert "past what was measured" in merging["highlights_merge"].note
    none = SampledCurve.through([5.0, 6.0], [0.1, 1.0])
    merging = merging_tones(reproduce_tones(none, paper, TONES, **SETTINGS))
    assert {measure.reason for measure in merging.values()} == {"BELOW_RANGE"}
    assert film.density.size


def test_interval_lies_about_the_place_and_widens_with_the_error():
    """Errors smooth along the curve, as a fitted one has them: one mode of a slow wave."""
    film, paper = film_and_paper()
    places = []
    for size in (0.002, 0.004):
        smooth = SampledCurve(
            paper.log_exposure, paper.density, paper.gradient, size * np.sin(3 * X)[None, :]
        )
        tones = reproduce_tones(film, smooth, TONES, **{**SETTINGS, "print_log_exposure": 2.0})
        places.append(merging_tones(tones, least_separation=0.10)["highlights_merge"])
    for place in places:
        assert place.low < place.value < place.high
    assert places[1].high - places[1].low > 1.8 * (places[0].high - places[0].low)


def test_an_end_that_the_errors_do_not_bound_is_left_open():
    """The threshold just above the slope at the end of the subject: a little more slope and none merge."""
    film, paper = film_and_paper()
    smooth = SampledCurve(paper.log_exposure, paper.density, paper.gradient, 0.01 * np.sin(3 * X)[None, :])
    tones = reproduce_tones(film, smooth, TONES, **{**SETTINGS, "print_log_exposure": 2.0})
    threshold = (tones.separation[-1] + 0.5 * tones.separation_sd[-1]) * STOP / 3
    highlights = merging_tones(tones, threshold)["highlights_merge"]
    assert highlights.high is None
    assert highlights.low < highlights.value


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan")])
def test_impossible_separation_is_refused(bad):
    with pytest.raises(SensitometryError):
        merging_tones(tones_at(2.0), bad)
