"""What holds for every figure: valid for the drawing library, JSON-safe, rounded, free of theme colours."""

import json
import math
import re

import plotly.graph_objects as go
import pytest

from curves.figures import (
    characteristic_figure,
    comparison_figure,
    difference_figure,
    figure_description,
    gradient_figure,
    line_style,
)
from curves.figures.styles import HUES
from curves.sensitometry import compare_with_reference
from tests.figures.films import film, hopeless_film, straight_film

REFERENCE = ("House reference", film(0))


def stocks(count):
    return [(f"Stock {n}", film(n), line_style(n - 1, f"stock-{n}")) for n in range(1, count + 1)]


def differences(count):
    return [
        (label, compare_with_reference(test, REFERENCE[1]), style) for label, test, style in stocks(count)
    ]


FIGURES = {
    "characteristic": lambda: characteristic_figure(film(2)),
    "characteristic, straight": lambda: characteristic_figure(straight_film()),
    "characteristic, no curve": lambda: characteristic_figure(hopeless_film()),
    "comparison": lambda: comparison_figure(REFERENCE, stocks(8)),
    "comparison, bands": lambda: comparison_figure(
        REFERENCE, stocks(3), align="speed_point", density="net", bands=True
    ),
    "comparison, empty": lambda: comparison_figure(None, []),
    "gradient": lambda: gradient_figure(REFERENCE, stocks(3)),
    "difference": lambda: difference_figure("House reference", differences(3)),
    "difference, aligned": lambda: difference_figure("House reference", differences(2), align="speed_point"),
}

anyfigure = pytest.mark.parametrize("make", FIGURES.values(), ids=FIGURES)


@anyfigure
def test_the_drawing_library_accepts_it(make):
    figure = make()
    drawn = go.Figure(data=figure["data"], layout=figure["layout"])
    assert len(drawn.data) == len(figure["data"])
    # Trace types outside the basic bundle would silently be drawn as scatter.
    assert {trace.type for trace in drawn.data} <= {"scatter"}


@anyfigure
def test_it_is_plain_json_without_missing_numbers(make):
    text = json.dumps(make(), allow_nan=False)
    assert json.loads(text) == make()


@anyfigure
def test_numbers_are_rounded_to_four_decimals(make):
    for trace in make()["data"]:
        for value in [*trace["x"], *trace["y"]]:
            assert value == round(value, 4)
            assert not (value == 0 and math.copysign(1, value) < 0)


@anyfigure
def test_no_colour_depends_on_the_theme(make):
    """Only the four hues that pass in both themes may stand in a figure."""
    found = re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\([^)]*\)", json.dumps(make()))
    assert set(found) <= set(HUES)


@anyfigure
def test_texts_hold_no_markup_that_becomes_a_style_attribute(make):
    """The content security policy blocks style attributes, into which the library turns b, i, sub, span."""
    tags = set(re.findall(r"</?(\w+)[^>]*>", json.dumps(make())))
    assert tags <= {"br", "extra"}


@anyfigure
def test_every_trace_says_what_it_is(make):
    for trace in make()["data"]:
        meta = trace["meta"]
        assert meta["role"] in {"reference", "stock", "band", "point", "construction"}
        assert ("key" in meta) == (meta["role"] != "construction")
        if "ink" in meta:
            assert meta["ink"] == "reference" or meta["ink"] >= 0


@anyfigure
def test_axes_carry_their_units(make):
    layout = make()["layout"]
    x, y = layout["xaxis"]["title"]["text"], layout["yaxis"]["title"]["text"]
    assert "log exposure" in x
    assert "log₁₀" in x
    assert "density" in y


@anyfigure
def test_the_description_is_one_line_about_this_figure(make):
    figure = make()
    text = figure["meta"]["description"]
    assert text == figure_description(figure)
    assert "\n" not in text
    assert text.endswith(".")


def test_the_range_is_that_of_the_curves_whatever_their_labels_need():
    figure = comparison_figure(REFERENCE, stocks(3))
    low, high = figure["layout"]["xaxis"]["range"]
    x = [value for trace in figure["data"] for value in trace["x"]]
    assert low < min(x) and max(x) < high
    assert high - low < 1.05 * (max(x) - min(x))


def test_a_figure_does_not_change_between_calls():
    assert comparison_figure(REFERENCE, stocks(3)) == comparison_figure(REFERENCE, stocks(3))


def test_a_comparison_of_24_stocks_is_small():
    """Rounded lists: 24 curves stay below 150 kB of JSON before compression."""
    tests = [(f"Stock {n}", film(n % 9), line_style(n, f"stock-{n}")) for n in range(24)]
    assert len(json.dumps(comparison_figure(REFERENCE, tests))) < 150_000
