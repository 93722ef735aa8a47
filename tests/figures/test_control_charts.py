"""Figures of control charts: every run drawn, gaps where phases end, marks where a rule is broken."""

import math

import numpy as np

from curves.figures.control_charts import MOST_MARKED, control_chart_figure
from curves.sensitometry.controlling.charts import individuals_charts
from curves.sensitometry.controlling.memory_charts import cusum_charts


def figure_of(values, *, notes=(), **how):
    chart, _ = individuals_charts(values, centre=0.6, standard_deviation=0.01, **how)
    texts = [f"run {number}" for number in range(len(values))]
    return chart, control_chart_figure(chart, texts, title="speed step, D", notes=notes)


def trace(figure, name):
    return next(each for each in figure["data"] if each["name"] == name)


def test_every_run_is_drawn_in_its_place_whatever_their_number():
    values = 0.6 + np.random.default_rng(3).normal(0, 0.01, 5000)
    _, figure = figure_of(values)
    runs = trace(figure, "runs")
    assert runs["x"] == list(range(1, 5001))
    assert np.allclose(runs["y"], values, atol=5e-5)
    assert runs["mode"] == "lines"
    assert "5000 runs" in figure["meta"]["description"]


def test_few_runs_have_a_mark_each():
    _, figure = figure_of(np.full(MOST_MARKED, 0.6))
    assert trace(figure, "runs")["mode"] == "lines+markers"


def test_a_broken_rule_has_its_mark_and_its_words():
    chart, figure = figure_of([0.60, 0.61, 0.59, 0.66])
    marks = trace(figure, "breaks a rule")
    assert (marks["x"], marks["y"]) == ([4], [0.66])
    assert chart.signals[0].text in marks["text"][0]
    assert "1 run breaks a rule" in figure["meta"]["description"]


def test_the_line_ends_where_a_phase_does_and_limits_step():
    first, _ = individuals_charts([0.60, 0.61], centre=0.60, standard_deviation=0.01)
    _, figure = figure_of([0.60, 0.61, 0.62], phase=["a", "a", "b"])
    runs = trace(figure, "runs")
    assert runs["x"] == [1, 2, None, 3]
    assert runs["text"] == ["run 0", "run 1", None, "run 2"]
    assert trace(figure, "phases")["x"] == [2.5, 2.5, None]
    assert [note["text"] for note in figure["layout"]["annotations"]] == ["a", "b"]
    assert trace(figure, "aim")["x"] == [0.5, 3.5, None]
    assert first.action_high[0] == 0.63
    assert trace(figure, "action limit")["y"][0] == 0.57


def test_a_missing_value_is_a_gap():
    _, figure = figure_of([0.60, math.nan, 0.61])
    assert trace(figure, "runs")["y"] == [0.6, None, 0.61]


def test_nothing_known_draws_nothing_and_says_so():
    _, figure = figure_of([math.nan, math.nan])
    assert "no run could be charted" in figure["meta"]["description"]


def test_a_note_stands_at_its_run():
    _, figure = figure_of([0.60, 0.61], notes=[(1, "thermometer checked")])
    notes = trace(figure, "notes")
    assert (notes["x"], notes["text"]) == ([2], ["thermometer checked"])


def test_sums_have_one_limit():
    high, _ = cusum_charts([0.62, 0.64, 0.66], centre=0.60, allowance=0.01, decision=0.08)
    figure = control_chart_figure(high, ["a", "b", "c"], title="speed step, D")
    limits = [each for each in figure["data"] if each["name"] == "action limit"]
    assert [each["y"][0] for each in limits] == [0.08]
    assert not any(each["name"] == "warning limit" for each in figure["data"])
