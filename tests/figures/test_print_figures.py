"""Figures of prints and colours: valid for the drawing library, JSON-safe, honest about what is left out."""

import json

import numpy as np
import plotly.graph_objects as go

from curves.figures.colour_response import colour_figure
from curves.figures.styles import line_style
from curves.figures.tone_reproduction import paper_figure, print_density_figure, quadrant_figure
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.printing.tone_reproduction import reproduce_tones
from curves.sensitometry.sampled_curve import SampledCurve

FILM = SampledCurve.through([-3.0, -2.0, -1.0, 0.0, 1.0], [0.3, 0.35, 0.8, 1.4, 2.0], 0.01)
PAPER = SampledCurve.through([-2.0, -1.0, -0.5, 0.0, 1.0], [0.05, 0.1, 0.8, 1.9, 2.0], 0.01)


def _tones(highlight):
    return reproduce_tones(
        FILM, PAPER, np.linspace(-2.1, 0, 40), highlight_log_exposure=highlight, print_log_exposure=0.9
    )


ENTRIES = [("Reference", _tones(0.0), None), ("Stock", _tones(0.3), line_style(0, "stock-1"))]


def _is_good(figure):
    drawn = go.Figure(data=figure["data"], layout=figure["layout"])
    assert {trace.type for trace in drawn.data} == {"scatter"}
    text = json.dumps(figure, allow_nan=False)
    assert "NaN" not in text
    assert figure["meta"]["description"].endswith(".") and "-0" not in figure["meta"]["description"]


def test_every_figure_is_accepted_and_described():
    _is_good(paper_figure(PAPER, is_absolute=False, marks={"T": -1.0}))
    _is_good(print_density_figure(ENTRIES))
    _is_good(quadrant_figure(ENTRIES))


def test_the_quadrants_share_their_axes_and_follow_one_tone_around():
    figure = quadrant_figure(ENTRIES[:1])
    camera, negative, print_, overall = figure["data"]
    assert camera["y"] == negative["y"] and negative["x"] == print_["x"]
    assert print_["y"] == overall["y"] and camera["x"] == overall["x"]
    assert figure["layout"]["xaxis2"]["range"][0] > figure["layout"]["xaxis2"]["range"][1]


def test_a_stock_without_any_tone_is_named_and_not_drawn():
    lost = ("Lost", _tones(9.0), line_style(1, "stock-2"))
    figure = print_density_figure([ENTRIES[0], lost])
    assert figure["meta"]["left_out"] == [{"label": "Lost", "key": "stock-2", "reason": "NOT_REACHED"}]


def test_colour_marks_stand_for_known_patches_only():
    shifts = {
        "Red": Measure("colour_shift", -0.5, -0.7, -0.3, "stop"),
        "Blue": withheld("colour_shift", "IN_TOE", "stop"),
    }
    figure = colour_figure(["Red", "Blue"], [("Stock", shifts, line_style(0, "stock-1")), ("None", {}, None)])
    _is_good(figure)
    (marks,) = [trace for trace in figure["data"] if trace["meta"]["role"] == "point"]
    assert marks["y"] == [-0.5] and marks["error_y"]["array"] == [0.2]
    assert [left["label"] for left in figure["meta"]["left_out"]] == ["None"]
