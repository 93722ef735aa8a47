"""The trade-off figure: what a point says of itself, where the frontier runs, and a lab of nobody."""

import math

import pytest

from curves.figures.trade_off import MOST_NAMES, TradePoint, trade_off_figure
from curves.sensitometry.comparing.frontier import frontier_of

TITLES = ("Exposure index (EI)", "RMS granularity")


def point(key, speed, grain, verdict="on", ink=None):
    across, up = (speed, speed * 0.9, speed * 1.1), (grain, grain * 0.95, grain * 1.05)
    return TradePoint(key, key.title(), across, up, verdict, ink)


def drawn(points):
    ends = [[(p.across[n], p.up[n]) for p in points] for n in range(3)]
    found = frontier_of(*ends, is_more_better=(True, False))
    edges = (found.edge, found.sure_edge, found.hoped_edge)
    return trade_off_figure(
        points, edges, titles=TITLES, is_more_better=(True, False), is_log_across=True, description="Two."
    )


def test_the_frontier_runs_through_the_values_and_out_to_the_bad_ends():
    figure = drawn([point("a", 100, 9), point("b", 400, 14)])
    band, edge, *points = figure["data"]
    low, high = 100 * 0.9 * 0.95, 14 * 1.05 * 1.05
    assert edge["x"] == pytest.approx([low, 100, 100, 400, 400], abs=1e-3)
    assert edge["y"] == pytest.approx([9, 9, 14, 14, high], abs=1e-3)
    # From what may be reached at most and back along what is reached for certain.
    assert band["x"][1] == pytest.approx(110) and band["y"][1] == pytest.approx(9 * 0.95)
    assert band["x"][-2] == pytest.approx(90) and band["y"][-2] == pytest.approx(9 * 1.05)
    assert points[0]["error_x"]["array"] == [10.0] and points[0]["error_x"]["arrayminus"] == [10.0]
    assert figure["layout"]["xaxis"]["type"] == "log" and 400 in figure["layout"]["xaxis"]["tickvals"]
    assert figure["meta"]["description"] == "Two."


def test_a_point_shows_its_verdict_and_whether_it_was_chosen():
    figure = drawn(
        [point("reference", 100, 9), point("b", 400, 14, "off"), point("c", 300, 11, "possible", 1)]
    )
    reference, beaten, chosen = figure["data"][2:]
    assert (reference["meta"]["ink"], reference["marker"]["symbol"]) == ("reference", "diamond")
    assert "ink" not in beaten["meta"] and beaten["marker"]["symbol"] == "x-thin-open"
    assert (chosen["meta"]["ink"], chosen["marker"]["symbol"]) == (1, "square-open")
    assert "perhaps" in chosen["hovertemplate"]


def test_of_many_only_the_best_and_the_chosen_are_named():
    many = [point(f"s{n}", 100 + n, 10 + n, "off") for n in range(MOST_NAMES)] + [point("best", 400, 5, "on")]
    named = [trace["name"] for trace in drawn(many)["data"][2:] if "text" in trace["mode"]]
    assert named == ["Best"]


def test_names_leave_the_whiskers_free_and_those_without_room_are_counted():
    # A heap: beside its mark each name would cover the whiskers of another, and only some get beyond them.
    heap = [point(f"stock {n}", 100 * 1.01**n, 10 * 1.01**n) for n in range(24)]
    figure = drawn([*heap, point("far", 400, 30)])
    beside = [trace["name"] for trace in figure["data"][2:] if "text" in trace["mode"]]
    notes = figure["layout"]["annotations"]
    assert "Far" in beside and notes and len(beside) + len(notes) < 25
    for note in notes:
        (trace,) = (trace for trace in figure["data"][2:] if trace["meta"]["key"] == note["name"])
        assert note["text"] == trace["name"] and trace["mode"] == "markers"
        ends = {  # of the whiskers, on the logarithmic axis by the logarithm
            "left": (math.log10(trace["x"][0] + trace["error_x"]["array"][0]), trace["y"][0]),
            "right": (math.log10(trace["x"][0] - trace["error_x"]["arrayminus"][0]), trace["y"][0]),
            "center": (math.log10(trace["x"][0]), note["y"]),
        }
        assert (note["x"], note["y"]) == pytest.approx(ends[note["xanchor"]], abs=2e-4)
    unnamed = 25 - len(beside) - len(notes)
    assert figure["meta"]["description"].startswith(f"Two. {unnamed} of 25 names have no room, on a phone")


def test_without_points_there_is_nothing_but_axes():
    assert drawn([])["data"] == []
