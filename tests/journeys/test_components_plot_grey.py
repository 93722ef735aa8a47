"""Curves that have no colour of their own: drawn as one, and each lit where it is."""

import pytest

from tests.journeys.component_plot import BODY, CURVES, figure, line
from tests.journeys.component_site import ComponentSite

pytestmark = pytest.mark.journey


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    yield site
    site.close()


def test_lighting_is_quick_with_many_curves(site):
    """Target of the design: 16 ms a highlight; forty curves, median of 40, shared machine."""
    many = figure()
    many["data"] += [line("stock", None, f"m{i}", f"Stock {i}", 0.01 * i) for i in range(40)]
    site.put("/many/", BODY, figure=many, curves=CURVES, has_plots=True)
    page = site.open("/many/")
    page.locator("figure[data-drawn]").wait_for()
    median = page.evaluate(
        """async () => {
          const {lightsOf} = await import("/static/js/lights.js");
          const lights = lightsOf("curves");
          const times = [];
          for (let i = 0; i < 40; i += 1) {
            const start = performance.now();
            lights.light(`m${i}`);
            document.querySelector(".plot-lit path").getBoundingClientRect();
            times.push(performance.now() - start);
          }
          return times.sort((a, b) => a - b)[20];
        }"""
    )
    assert median < 16


def test_a_grey_curve_is_lit_where_it_is_drawn(site):
    """Grey curves are drawn as one trace with gaps; a lit one stands once more above it, zoomed or not."""
    many = figure()
    many["data"] = [line("stock", None, f"m{i}", f"Stock {i}", 0.1 * i) for i in range(3)] + many["data"]
    rows = [*CURVES, *({"key": f"m{i}", "label": f"Stock {i}", "ink": None} for i in range(3))]
    site.put("/many/", BODY, figure=many, curves=rows, has_plots=True)
    page = site.open("/many/")
    page.locator("figure[data-drawn]").wait_for()
    assert page.locator(".scatterlayer .trace").count() == 1 + 5
    page.get_by_role("link", name="Stock 2").focus()
    assert page.locator(".plot-lit path").count() == 1
    for range_ in ([-3, 1], [-2, -1]):
        page.evaluate(
            "r => Plotly.relayout(document.querySelector('.plot-canvas'), {'xaxis.range': r})", range_
        )
        apart = page.evaluate(
            """() => {
              const canvas = document.querySelector(".plot-canvas");
              const {xaxis, yaxis} = canvas._fullLayout;
              const {x, y} = canvas.data.find(({uid}) => uid === "curve-grey");
              const path = document.querySelector(".plot-lit path");
              const at = path.getPointAtLength(path.getTotalLength());
              const end = x.length - 2;  // the last but the gap: the end of the third curve
              return [at.x - xaxis.d2p(x[end]), at.y - yaxis.d2p(y[end])];
            }"""
        )
        assert apart == pytest.approx([0, 0], abs=0.5)
    frame = page.evaluate(
        """() => {
          const of = (chosen) => document.querySelector(chosen).getBoundingClientRect();
          const [mine, theirs] = [of(".plot-lit"), of(".plot-canvas .nsewdrag")];
          return ["x", "y", "width", "height"].map((side) => mine[side] - theirs[side]);
        }"""
    )
    assert frame == pytest.approx([0, 0, 0, 0], abs=1.5)
    page.get_by_role("link", name="Birchwater 50").focus()
    assert page.locator(".plot-lit path").count() == 0
