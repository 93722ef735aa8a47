"""About the measurements: complete by the registry, and drawn on a curve whose truth is known."""

import re

import numpy as np
import pytest
from django.urls import reverse
from scipy.optimize import brentq

from curves.pages.desk.measures import VERDICT_WORDS, chapters
from curves.pages.desk.sample import OTHER, SAMPLE, SHOWN, STEPS, worked_sample
from curves.sensitometry import FLAGS, MEASURES, REASONS, VERDICTS

pytestmark = pytest.mark.django_db


def speed_point(film) -> float:
    """Where the closed form is 0.10 above its base, to 1e-12."""
    return brentq(lambda x: film.density(np.array([x]))[0] - film.base - 0.10, -4.0, 0.0)


def test_every_measure_stands_on_the_page_once_with_its_anchor(visitor, client_for):
    explained = [each.definition.name for chapter in chapters() for each in chapter.measures]
    assert sorted(explained) == sorted(MEASURES)
    answer = client_for(visitor).get(reverse("measures"))
    assert answer.status_code == 200
    anchors = re.findall(r'id="([^"]+)"', answer.text)
    assert len(anchors) == len(set(anchors)), "no anchor stands twice"
    assert {*MEASURES, *(f"reason-{code}" for code in REASONS), *(f"flag-{code}" for code in FLAGS)} <= {
        *anchors
    }
    for anchor in re.findall(r'href="#([^"]+)"', answer.text):
        assert anchor in anchors, f"#{anchor} leads nowhere"


def test_each_measure_says_how_it_may_be_withheld():
    for chapter in chapters():
        for each in chapter.measures:
            assert [code for code, _ in each.reasons] == list(each.definition.reasons)
            assert all(sentence.endswith(".") for _, sentence in each.reasons)


def test_each_verdict_is_explained(visitor, client_for):
    assert set(VERDICT_WORDS) == set(VERDICTS)
    text = client_for(visitor).get(reverse("measures")).text
    assert all(f"<dt>{verdict}</dt>" in text.replace("&#x27;", "'") for verdict in VERDICTS)


def test_the_sample_is_the_closed_form_that_it_says_it_is():
    """By algebra: level at B far below, slope g in the middle, level at B + g(x1 - x0) far above."""
    far_below, far_above = SAMPLE.density(np.array([-40.0, 40.0]))
    assert far_below == pytest.approx(SAMPLE.base, abs=1e-9)
    top = SAMPLE.base + SAMPLE.gradient * (SAMPLE.shoulder_at - SAMPLE.toe_at)
    assert far_above == pytest.approx(top, abs=1e-9)
    middle = (SAMPLE.toe_at + SAMPLE.shoulder_at) / 2
    low, high = SAMPLE.density(np.array([middle - 0.01, middle + 0.01]))
    # Toe and shoulder, six softnesses away, still take e^-6 of the slope each.
    assert (high - low) / 0.02 == pytest.approx(SAMPLE.gradient, rel=0.006)


def test_the_values_on_the_sample_hold_the_truth_of_the_curve():
    measures = worked_sample().analysis.measures
    place = speed_point(SAMPLE)
    rise = SAMPLE.density(np.array([place, place + 1.3, place + 1.5])) - SAMPLE.base
    truth = {
        "base_plus_fog": SAMPLE.base,
        "speed_point_log_exposure": place,
        "exposure_index": 0.8 / 10**place,
        "delta_d_130": rise[1] - rise[0],
        "average_gradient_150": (rise[2] - rise[0]) / 1.5,
    }
    for name, value in truth.items():
        assert measures[name].low <= value <= measures[name].high, name
    assert measures["iso_speed"].value == 100, "the contrast condition is met, so a speed is stated"
    shift = worked_sample().comparison.measures["speed_shift_stops"]
    assert shift.low <= (place - speed_point(OTHER)) / np.log10(2.0) <= shift.high


def test_nothing_is_withheld_on_the_sample_but_what_one_strip_cannot_tell():
    sample = worked_sample()
    measures = {**sample.analysis.measures, **sample.comparison.measures}
    assert [name for name, measure in measures.items() if measure.value is None] == ["between_strip_stops"]


def test_every_construction_is_drawn_in_one_figure_or_another():
    figures = worked_sample().figures
    drawn = {name for names in SHOWN.values() for name in names}
    assert drawn == set(worked_sample().analysis.constructions)
    for name, constructions in SHOWN.items():
        lines = [trace for trace in figures[name]["data"] if trace["meta"]["role"] == "construction"]
        assert len(lines) == len(constructions)


def test_the_example_is_worked_out_once():
    assert worked_sample() is worked_sample()
    assert len(worked_sample().steps) == len(STEPS)
