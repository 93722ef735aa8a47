"""Figures of the lab's spread and of an instrument's checks: what they say without being seen."""

import json

from curves.figures.instrument_checks import check_figure
from curves.figures.spread import spread_figure
from curves.sensitometry.agreeing.check_trend import check_trend
from curves.sensitometry.measures import Measure, withheld


def test_the_spread_is_drawn_with_open_ends_and_untold_levels_named():
    components = {
        "member": withheld("variance_component", "TOO_FEW_GROUPS", "stop"),
        "run": Measure("variance_component", 0.05, 0.02, None, "stop"),
        "roll": Measure("variance_component", 0.10, 0.08, 0.14, "stop"),
    }
    figure = spread_figure(components, title="Speed", unit="stops")
    bars, marks = figure["data"]
    assert (marks["x"], marks["y"]) == ([0.05, 0.10], [2, 1])
    assert bars["x"] == [0.02, 0.161, None, 0.08, 0.14, None]
    assert figure["layout"]["xaxis"]["range"][1] > 0.161
    assert "run 0.05 (0.02 without a known upper end)" in figure["meta"]["description"]
    assert "not told: member" in figure["meta"]["description"]
    assert json.dumps(figure, allow_nan=False)


def test_a_spread_of_nothing_but_zeros_has_an_axis():
    figure = spread_figure({"roll": Measure("variance_component", 0.0, 0.0, 0.0, "D")}, title="x", unit="D")
    assert figure["layout"]["xaxis"]["range"][1] > 0


def test_checks_are_drawn_between_their_limits():
    certified = {"zero": (0.05, 0.005), "mid": (1.55, 0.005), "high": (3.05, 0.005)}
    readings = {"zero": [0.05, 0.04], "mid": [1.55, 1.55], "high": [3.05, 3.07]}
    trend = check_trend([0, 30], readings, certified)
    figure = check_figure(trend, ["2026-05-04", "2026-06-03"])
    lows, highs, zero, span, bend = figure["data"]
    assert (lows["y"], highs["y"]) == ([-0.02, -0.02], [0.02, 0.02])
    assert (zero["y"], span["y"], bend["y"]) == ([0.0, -0.01], [0.0, 0.03], [0.0, -0.005])
    assert "2 checks from 2026-05-04 to 2026-06-03" in figure["meta"]["description"]
    assert "zero −0.010 to 0.000 D" in figure["meta"]["description"]
    assert json.dumps(figure, allow_nan=False)
