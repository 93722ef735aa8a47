"""The picture of a sheet without script: everything where its number is, in parts that themes can colour."""

import math
from itertools import pairwise
from xml.etree.ElementTree import Element

import pytest
from defusedxml import ElementTree as ET

from curves.figures.sheet_figure import sheet_figure
from curves.figures.svg import BOTTOM, LEFT, TEXT_SIZE, TOP, figure_svg, nice_ticks

SVG = "{http://www.w3.org/2000/svg}"


def straight(low=0.2, slope=0.6, start=-3.0, end=0.0, points=31) -> dict:
    """A curve that is a straight line, with a band of 0.05 about it."""
    x = [start + (end - start) * at / (points - 1) for at in range(points)]
    y = [low + slope * (each - start) for each in x]
    return {
        "log_exposure": x,
        "density": y,
        "low": [each - 0.05 for each in y],
        "high": [each + 0.05 for each in y],
    }


def drawn(own, reference=None, **how) -> Element:
    how = {"exposure": "absolute", "is_reference": False} | how
    return ET.fromstring(figure_svg(sheet_figure(own, reference, **how)))


def places(polyline: Element) -> list[tuple[float, float]]:
    return [tuple(float(part) for part in pair.split(",")) for pair in polyline.get("points").split()]


def test_a_straight_line_is_drawn_straight_and_its_numbers_lie_on_the_axes():
    picture = drawn(("Birch & Co", straight()), ("Alder", straight(low=0.3)))
    line = next(each for each in picture.iter(f"{SVG}polyline") if each.get("class") == "cp-line-1")
    points = places(line)
    (x0, y0), (x1, y1) = points[0], points[-1]
    for x, y in points:
        expected = y0 + (y1 - y0) * (x - x0) / (x1 - x0)
        assert abs(y - expected) < 0.02, "places are rounded to a hundredth"
    ticks = {each.text: each for each in picture.iter(f"{SVG}text")}
    # Between two labelled densities, 0.5 and 1.0 D, the line rises by half a density over 0.5 / 0.6.
    up = float(ticks["0.5"].get("y")) - float(ticks["1.0"].get("y"))
    along = float(ticks["−1.0"].get("x")) - float(ticks["−2.0"].get("x"))
    assert (y0 - y1) / (x1 - x0) == pytest.approx(0.6 * (up / 0.5) / along, rel=1e-3)
    assert min(y for _, y in points) > TOP
    assert min(x for x, _ in points) > LEFT


def test_the_reference_is_thick_and_without_hue_and_each_curve_bears_its_name():
    picture = drawn(("Birch & Co", straight()), ("Alder", straight(low=0.3)))
    lines = {each.get("class"): each for each in picture.iter(f"{SVG}polyline")}
    assert float(lines["cp-line-reference"].get("stroke-width")) > float(
        lines["cp-line-1"].get("stroke-width")
    )
    assert lines["cp-line-reference"].get("stroke") == "#000000"
    named = {each.text: each.get("class") for each in picture.iter(f"{SVG}text")}
    assert named["Birch & Co"] == "cp-fill-1"
    assert named["Alder"] == "cp-fill-reference"
    assert len(list(picture.iter(f"{SVG}polygon"))) == 2, "each has its band"
    assert "of the reference Alder, with Birch" in picture.find(f"{SVG}desc").text


@pytest.mark.parametrize("height", [220, 300, 400])
def test_names_of_curves_that_end_alike_stand_a_line_of_text_apart(height):
    figure = sheet_figure(
        ("Birch", straight()), ("Alder", straight(low=0.21)), exposure="absolute", is_reference=False
    )
    picture = ET.fromstring(figure_svg(figure, height=height))
    lines = [float(each.get("y")) for each in picture.iter(f"{SVG}text") if each.text in ("Birch", "Alder")]
    assert abs(lines[0] - lines[1]) >= TEXT_SIZE
    assert min(lines) > TEXT_SIZE / 2 and max(lines) < height - BOTTOM


def test_the_reference_itself_is_drawn_as_the_reference():
    picture = drawn(("Alder", straight()), is_reference=True)
    assert [each.get("class") for each in picture.iter(f"{SVG}polyline")] == ["cp-line-reference"]


def test_no_part_has_a_style_of_its_own_and_all_lie_in_the_picture():
    text = figure_svg(
        sheet_figure(("A" * 60, straight()), None, exposure="relative", is_reference=False), width=500
    )
    assert "style=" not in text
    assert "<style" not in text
    picture = ET.fromstring(text)
    for line in picture.iter(f"{SVG}line"):
        for name, limit in (("x1", 500), ("x2", 500), ("y1", 400 - BOTTOM + 7), ("y2", 400 - BOTTOM + 7)):
            assert 0 <= float(line.get(name)) <= limit


def test_a_curve_that_cannot_be_drawn_leaves_axes_and_says_so():
    empty = {name: [] for name in ("log_exposure", "density", "low", "high")}
    picture = drawn(("Birch", empty))
    assert "no curve could be drawn" in picture.find(f"{SVG}desc").text
    assert not list(picture.iter(f"{SVG}polyline"))
    assert list(picture.iter(f"{SVG}line"))


@pytest.mark.parametrize(
    ("low", "high", "most"), [(0, 2.1, 7), (-3.4, 0.6, 8), (0, 0.31, 7), (-0.02, 4.4, 7), (-12, 3, 8)]
)
def test_ticks_are_round_even_and_no_more_than_wanted(low, high, most):
    ticks = nice_ticks(low, high, most)
    assert 2 <= len(ticks) <= most + 1
    steps = {round(after - before, 9) for before, after in pairwise(ticks)}
    assert len(steps) == 1
    step = steps.pop()
    assert round(step / 10 ** math.floor(math.log10(step) + 1e-9), 6) in (1, 2, 5)
    assert low - 1e-9 <= ticks[0] < low + step
    assert high - step < ticks[-1] <= high + 1e-9
