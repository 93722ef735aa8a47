"""Comparisons: alignment, net density, what is lit, what is left out and why."""

import numpy as np
import pytest

from curves.figures import (
    MixedExposureError,
    comparison_figure,
    comparison_panels,
    difference_figure,
    gradient_figure,
    line_style,
)
from curves.figures.labels import spread
from curves.sensitometry import compare_with_reference
from curves.sensitometry.comparing.curve_matching import matched_difference, unmatched_reason
from tests.figures.films import film, hopeless_film, traces

HALF_DIGIT = 6e-5  # figures are rounded to four decimals
REFERENCE = ("House reference", film(0))


def stock(number, analysis=None):
    return (f"Stock {number}", analysis or film(number), line_style(number, f"stock-{number}"))


def test_aligned_at_the_speed_point_net_densities_meet_a_tenth_above_zero():
    """At its speed point every film's net density is 0.10 by definition."""
    figure = comparison_figure(REFERENCE, [stock(1), stock(4)], align="speed_point", density="net")
    for line in traces(figure, "stock") + traces(figure, "reference"):
        # 0.002: read by straight lines between samples 0.04 apart, on the bend of the toe.
        assert np.interp(0.0, line["x"], line["y"]) == pytest.approx(0.10, abs=0.002)
    assert figure["layout"]["xaxis"]["title"]["text"].startswith("log exposure from the speed point (log₁₀)")


def test_at_equal_exposure_curves_are_where_they_were_measured():
    analysis = film(3)
    (line,) = traces(comparison_figure(REFERENCE, [stock(3)]), "stock")
    assert np.allclose(line["x"], analysis.curve.log_exposure, atol=HALF_DIGIT)
    assert np.allclose(line["y"], analysis.curve.density, atol=HALF_DIGIT)


def test_net_density_takes_off_each_films_own_base():
    net, gross = (
        traces(comparison_figure(REFERENCE, [stock(3)], density=density), "stock")[0]["y"]
        for density in ("net", "gross")
    )
    base = film(3).curve.base  # the one that speed is counted from
    assert np.allclose(np.array(gross) - np.array(net), base, atol=2 * HALF_DIGIT)


def test_the_reference_is_thick_colourless_and_has_its_band():
    figure = comparison_figure(REFERENCE, [stock(1)])
    (line,) = traces(figure, "reference")
    assert line["line"] == {"width": 3.5}
    assert line["meta"] == {"role": "reference", "ink": "reference", "key": "reference"}
    assert [band["meta"]["ink"] for band in traces(figure, "band")] == ["reference"]
    with_bands = comparison_figure(REFERENCE, [stock(1)], bands=True)
    assert [band["meta"]["ink"] for band in traces(with_bands, "band")] == ["reference", 1]


def test_more_than_six_stocks_are_grey_unless_chosen():
    tests = [stock(n) for n in range(1, 9)]
    figure = comparison_figure(REFERENCE, tests)
    grey = [trace for trace in traces(figure, "stock") if "ink" not in trace["meta"]]
    assert [trace["name"] for trace in grey] == ["Stock 7", "Stock 8"]
    assert all(trace["hoverinfo"] == "skip" and "color" not in trace["line"] for trace in grey)
    assert figure["data"][: len(grey)] == grey  # below everything else
    labels = [note["text"] for note in figure["layout"]["annotations"]]
    assert labels == ["House reference", *(f"Stock {n}" for n in range(1, 7))]
    chosen = comparison_figure(REFERENCE, tests, lit={"stock-8"})
    assert [t["name"] for t in traces(chosen, "stock") if "ink" in t["meta"]] == ["Stock 8"]


def test_a_stock_keeps_its_style_whatever_else_is_shown():
    alone = traces(comparison_figure(REFERENCE, [stock(5)]), "stock")[0]
    among = traces(comparison_figure(REFERENCE, [stock(2), stock(5), stock(1)]), "stock")[1]
    assert alone == among


def test_a_curve_that_lacks_what_is_asked_for_is_left_out_with_its_reason():
    tests = [stock(1), stock(2, film(2, has_base=False)), stock(3, hopeless_film())]
    figure = comparison_figure(REFERENCE, tests, density="net")
    assert [trace["name"] for trace in traces(figure, "stock")] == ["Stock 1"]
    assert figure["meta"]["left_out"] == [
        {"label": "Stock 2", "key": "stock-2", "reason": "NO_BASE_FOG"},
        {"label": "Stock 3", "key": "stock-3", "reason": "TOO_FEW_POINTS"},
    ]
    assert figure["meta"]["description"].endswith("not drawn: Stock 2, Stock 3.")
    aligned = comparison_figure(REFERENCE, tests[1:2], align="speed_point")
    assert aligned["meta"]["left_out"][0]["reason"] == "NO_BASE_FOG"


def test_absolute_and_relative_exposures_share_no_axis():
    tests = [stock(1, film(1, exposure="relative"))]
    for draw in (comparison_figure, gradient_figure):
        with pytest.raises(MixedExposureError, match="share no axis"):
            draw(REFERENCE, tests)
    assert len(traces(comparison_figure(REFERENCE, tests, align="speed_point"), "stock")) == 1


@pytest.mark.parametrize("options", [{"align": "shadow"}, {"density": "both"}])
def test_an_unknown_option_is_refused(options):
    with pytest.raises(ValueError, match="must be one of"):
        comparison_figure(REFERENCE, [], **options)


def test_the_gradient_is_the_slope_of_the_drawn_curve():
    (gradient,) = traces(gradient_figure(REFERENCE, [stock(1)]), "stock")
    (curve,) = traces(comparison_figure(REFERENCE, [stock(1)]), "stock")
    slope = np.gradient(curve["y"], curve["x"])
    # 0.04: differences of samples 0.04 apart, rounded to 0.0001, against the fitted slope
    assert np.max(np.abs(slope - np.array(gradient["y"]))[2:-2]) < 0.04


def test_a_difference_is_the_gap_between_the_two_curves():
    comparison = compare_with_reference(film(2), REFERENCE[1])
    figure = difference_figure("House reference", [("Stock 2", comparison, line_style(0))])
    (line,) = traces(figure, "stock")
    gap = [
        np.interp(line["x"], analysis.curve.log_exposure, analysis.curve.density)
        for analysis in (film(2), REFERENCE[1])
    ]
    assert np.allclose(gap[0] - gap[1], line["y"], atol=1e-3)  # both are samples of the same curves
    (zero,) = traces(figure, "reference")
    assert zero["y"] == [0.0, 0.0]
    assert (zero["x"][0], zero["x"][1]) == (line["x"][0], line["x"][-1])
    assert len(traces(figure, "band")) == 1


def test_a_difference_without_overlap_is_left_out():
    comparison = compare_with_reference(hopeless_film(), REFERENCE[1])
    figure = difference_figure("House reference", [("Stock 2", comparison, line_style(0, "stock-2"))])
    assert figure["data"] == []
    assert figure["meta"]["left_out"] == [{"label": "Stock 2", "key": "stock-2", "reason": "NO_OVERLAP"}]
    assert "no curve could be drawn" in figure["meta"]["description"]


@pytest.mark.parametrize(
    ("test", "align", "reason"),
    [
        (film(2, has_base=False), "speed_point", "NO_BASE_FOG"),
        (hopeless_film(), "exposure", "TOO_FEW_POINTS"),
        (film(2, exposure="relative"), "exposure", "MIXED_EXPOSURE"),
    ],
)
def test_a_stock_without_a_difference_has_the_reason_of_its_curve(test, align, reason):
    found = matched_difference(test, REFERENCE[1], align_by=align)
    assert not found["difference"].size
    assert unmatched_reason(test, REFERENCE[1], align_by=align) == reason
    why = {"stock-2": reason}
    figure = difference_figure("R", [("Stock 2", found, line_style(0, "stock-2"))], align=align, reasons=why)
    assert figure["meta"]["left_out"] == [{"label": "Stock 2", "key": "stock-2", "reason": reason}]


def test_the_references_own_lack_is_told_where_the_stock_has_none():
    assert unmatched_reason(film(2), film(0, has_base=False), align_by="speed_point") == "NO_BASE_FOG"


@pytest.mark.parametrize(
    ("align", "said"),
    [
        ("exposure", "at equal exposure"),
        ("speed_point", "aligned at the speed points"),
        ("shadow_density", "aligned where net density is 0.30"),
        ("contrast", "aligned at the speed points, contrast matched"),
    ],
)
def test_the_description_says_how_curves_were_laid_together(align, said):
    figure = comparison_figure(REFERENCE, [stock(1)], align=align)
    assert f"; {said}; " in figure["meta"]["description"]


def test_labels_move_apart_and_keep_their_order():
    ends = [1.00, 1.01, 1.02, 0.20, 2.00]
    moved = spread(ends, 0.10)
    assert sorted(range(5), key=lambda n: moved[n]) == sorted(range(5), key=lambda n: ends[n])
    assert min(np.diff(sorted(moved))) >= 0.10 - 1e-9
    assert moved[3:] == [0.20, 2.00]
    assert np.mean(moved[:3]) == pytest.approx(np.mean(ends[:3]))


def test_a_run_of_labels_that_grows_into_another_is_spread_as_one():
    moved = spread([0.0, 0.05, 0.10, 0.15, 0.19], 0.1)
    assert np.diff(sorted(moved)) == pytest.approx(0.1)


def test_labels_keep_apart_in_the_span_of_all_that_is_drawn():
    """A grey curve far off stretches the axis: names that stood apart in the lit ones' span would meet."""
    close = [(f"Stock {n}", film(1), line_style(n, f"stock-{n}")) for n in (1, 2)]
    far = ("Stock 9", film(12), line_style(9, "stock-9"))
    figure = comparison_figure(None, [*close, far], lit={"stock-1", "stock-2"})
    heights = [value for trace in figure["data"] for value in trace["y"]]
    first, second = (note["y"] for note in figure["layout"]["annotations"])
    assert abs(first - second) >= 0.055 * (max(heights) - min(heights)) - 1e-4


def test_a_label_is_cut_but_names_its_curve_by_key():
    long = ("Stock with a very long name indeed", film(1), line_style(0, "stock-1"))
    note = comparison_figure(None, [long])["layout"]["annotations"][0]
    assert len(note["text"]) <= 22
    assert note["name"] == "stock-1"


@pytest.mark.parametrize(
    ("align", "distance", "net"), [("shadow_density", 0.0, 0.30), ("contrast", 0.0, 0.10)]
)
def test_other_ways_to_lay_curves_together_meet_where_they_say(align, distance, net):
    figure = comparison_figure(REFERENCE, [stock(1), stock(4)], align=align, density="net")
    for line in traces(figure, "stock") + traces(figure, "reference"):
        assert np.interp(0.0, line["x"], line["y"]) == pytest.approx(net, abs=0.002)
    assert "log exposure from" in figure["layout"]["xaxis"]["title"]["text"]


def test_with_contrast_matched_all_rise_as_much_as_the_reference_and_the_axis_says_so():
    figure = comparison_figure(REFERENCE, [stock(1), stock(4)], align="contrast", density="net")
    heights = [
        np.interp(1.5, line["x"], line["y"]) for line in traces(figure, "stock") + traces(figure, "reference")
    ]
    assert np.ptp(heights) < 0.002
    assert figure["layout"]["yaxis"]["title"]["text"] == "net density, contrast matched"


def test_panels_share_their_scales_and_each_says_why_it_is_empty():
    tests = [(f"Stock {n}", film(n), f"stock-{n}") for n in (1, 2)] + [("None", hopeless_film(), "stock-3")]
    sheet = comparison_panels(REFERENCE, tests)
    assert [panel.key for panel in sheet.panels] == ["stock-1", "stock-2", "stock-3"]
    assert sheet.panels[2].path == "" and sheet.panels[2].reason == "TOO_FEW_POINTS"
    again = comparison_panels(REFERENCE, tests[:1])
    assert sheet.reference_path.count(",") >= 100, "at least a hundred samples a curve"
    for panel in (*sheet.panels[:2], *again.panels):
        points = np.array([pair.split(",") for pair in panel.path[1:].split()], dtype=float)
        assert len(points) >= 100
        assert points.min() >= 0 and points[:, 0].max() <= 120 and points[:, 1].max() <= 90
        assert np.all(np.diff(points[:, 1]) <= 0.05), "density rises, so the path goes up"


def test_a_panel_of_another_kind_of_exposure_is_left_empty_unless_aligned():
    tests = [("Relative", film(1, exposure="relative"), "stock-1")]
    assert comparison_panels(REFERENCE, tests).panels[0].reason == "MIXED_EXPOSURE"
    assert comparison_panels(REFERENCE, tests, align="speed_point").panels[0].path
