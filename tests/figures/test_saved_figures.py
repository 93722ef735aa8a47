"""A saved figure opens from a file alone, in the colours of paper."""

import re

import pytest

from curves.figures import characteristic_figure, comparison_figure, line_style
from curves.figures.saved import BAND_OPACITY, REFERENCE, UNLIT, in_paper_colours, write_html
from tests.figures.films import film


def stocks(count):
    return [(f"Stock {n}", film(n), line_style(n - 1)) for n in range(1, count + 1)]


def test_every_trace_and_label_gets_its_colour():
    figure = comparison_figure(("House reference", film(0)), stocks(7), bands=True)
    painted = in_paper_colours(figure)
    by_role = {}
    for trace in painted["data"]:
        by_role.setdefault(trace["meta"]["role"], []).append(trace)
    assert by_role["reference"][0]["line"]["color"] == REFERENCE
    assert by_role["stock"][0]["line"]["color"] == UNLIT  # the seventh is not lit and lies at the bottom
    assert by_role["stock"][1]["line"]["color"] == "#0072b2"
    assert by_role["band"][1]["fillcolor"] == f"rgba(0,114,178,{BAND_OPACITY})"
    colours = {note["name"]: note["font"]["color"] for note in painted["layout"]["annotations"]}
    assert colours["reference"] == REFERENCE
    assert colours["curve-1"] == "#d55e00"
    assert "color" not in figure["layout"]["annotations"][0].get(
        "font", {}
    )  # the figure itself stays neutral


def test_notes_of_constructions_are_soft_and_keep_their_size():
    painted = in_paper_colours(characteristic_figure(film(1)))
    assert {note["font"]["size"] for note in painted["layout"]["annotations"]} == {11}


def test_the_file_is_whole_and_its_title_is_text(tmp_path):
    path = tmp_path / "curve.html"
    write_html(characteristic_figure(film(1)), path, "Strip <3> & more")
    page = path.read_text(encoding="utf-8")
    assert "<title>Strip &lt;3&gt; &amp; more</title>" in page
    assert "Characteristic curve; gross density from" in page
    assert not re.search(r"<(script|link|img)[^>]+(src|href)=", page)


def test_a_name_cannot_break_out_of_the_script(tmp_path):
    path = tmp_path / "curve.html"
    evil = "</script><script>alert(1)</script>"
    write_html(comparison_figure((evil, film(0)), []), path, "x")
    assert evil not in path.read_text(encoding="utf-8")


@pytest.mark.journey
def test_the_file_draws_without_asking_the_network(tmp_path, chromium):
    path = tmp_path / "curve.html"
    write_html(characteristic_figure(film(1)), path, "Strip 3")
    page = chromium.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    page.wait_for_selector(".scatterlayer path.js-line", state="attached")
    assert asked == [path.as_uri()]
    assert page.title() == "Strip 3"
    page.close()
