"""The figure of one roll shows its curve, band, steps, and how each measure was read from the curve."""

import numpy as np
import pytest

from curves.figures import characteristic_figure
from tests.figures.films import film, hopeless_film, straight_film, traces

HALF_DIGIT = 6e-5  # figures are rounded to four decimals


def construction(figure, name):
    (found,) = [trace for trace in traces(figure, "construction") if trace["name"] == name]
    return found


def test_the_curve_is_the_analysis_rounded():
    analysis = film(1)
    (line,) = traces(characteristic_figure(analysis), "stock")
    assert np.allclose(line["x"], analysis.curve.log_exposure, atol=HALF_DIGIT)
    assert np.allclose(line["y"], analysis.curve.density, atol=HALF_DIGIT)


def test_the_band_goes_up_on_one_side_and_back_on_the_other():
    curve = film(1).curve
    (band,) = traces(characteristic_figure(film(1)), "band")
    count = len(curve.density)
    assert np.allclose(band["y"][:count], curve.high, atol=HALF_DIGIT)
    assert np.allclose(band["y"][count:], curve.low[::-1], atol=HALF_DIGIT)
    assert band["x"][0] == band["x"][-1]
    assert band["fill"] == "toself"


def test_steps_left_out_of_the_fit_are_crosses():
    analysis = straight_film()
    used, left_out = traces(characteristic_figure(analysis), "point")
    assert len(left_out["x"]) == int(analysis.points.is_flagged.sum()) == 1
    assert left_out["marker"]["symbol"] == "x"
    assert left_out["text"][0].startswith("step 13, mean of 1, +0.4")
    assert len(used["x"]) == 30


def test_the_speed_point_stands_a_tenth_above_the_base():
    analysis = film(1)
    point = construction(characteristic_figure(analysis), "speed point")
    assert point["x"][1] == pytest.approx(analysis.measures["speed_point_log_exposure"].value, abs=HALF_DIGIT)
    assert point["y"][1] - point["y"][0] == pytest.approx(0.10, abs=2 * HALF_DIGIT)


def test_the_marks_of_the_contrast_index_lie_0_2_and_2_2_from_the_origin_on_the_curve():
    """The exact construction: both marks on one line through the origin and on the curve."""
    analysis = film(1)
    marks = construction(characteristic_figure(analysis), "contrast index")
    x, y = np.array(marks["x"]), np.array(marks["y"])
    distances = np.hypot(x - x[0], y - y[0])
    assert distances == pytest.approx([0.0, 0.2, 2.2], abs=3 * HALF_DIGIT)
    curve = np.interp(x[1:], analysis.curve.log_exposure, analysis.curve.density)
    assert y[1:] == pytest.approx(curve, abs=0.004)  # the curve is stored as samples and is a mean of draws


def test_what_is_withheld_is_not_drawn():
    names = {trace["name"] for trace in traces(characteristic_figure(straight_film()), "construction")}
    assert "start of the shoulder" not in names
    assert {"base plus fog", "speed point", "straight part", "useful range"} <= names
    assert "start of the shoulder" in {
        t["name"] for t in traces(characteristic_figure(film(1)), "construction")
    }


def test_an_open_useful_range_ends_in_an_arrow():
    open_range = construction(characteristic_figure(straight_film()), "useful range")
    assert open_range["marker"]["symbol"][1] == "triangle-right"
    assert "at least" in open_range["hovertemplate"]
    closed = construction(characteristic_figure(film(1)), "useful range")
    assert closed["marker"]["symbol"][1] == "line-ns-open"


def test_parts_can_be_left_away():
    figure = characteristic_figure(film(1), points=False, band=False, constructions=False)
    assert [trace["meta"]["role"] for trace in figure["data"]] == ["stock"]
    assert figure["layout"]["annotations"] == []


def test_readings_without_a_curve_are_still_shown():
    figure = characteristic_figure(hopeless_film())
    assert [trace["meta"]["role"] for trace in figure["data"]] == ["stock", "point"]
    assert figure["data"][1]["y"] == [0.2, 0.6, 1.2]
    assert figure["meta"]["description"] == "Characteristic curve; no curve could be drawn."


def test_relative_exposure_is_named_as_such():
    title = characteristic_figure(film(1, exposure="relative"))["layout"]["xaxis"]["title"]["text"]
    assert title.startswith("relative log exposure (log₁₀)")
    absolute = characteristic_figure(film(1))["layout"]["xaxis"]["title"]["text"]
    assert absolute.startswith("log exposure (log₁₀ lux·s)")
