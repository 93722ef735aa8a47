"""Control strips in numbers: the chart of 5,000 strips in a browser, and one strip judged among them."""

import os
import tempfile
import time
from statistics import median

RUNS = 5
STRIPS = 5000


def rows() -> list[dict]:
    """Time the chart's numbers, its drawing and its panning, and the judgement of one more strip."""
    import numpy as np

    from curves.figures.control_charts import control_chart_figure
    from curves.sensitometry.controlling.charts import individuals_charts

    values = 0.39 + np.random.default_rng(5).normal(0, 0.01, STRIPS)
    phase = [f"batch {number // 20}" for number in range(STRIPS)]
    texts = [f"run {number}" for number in range(STRIPS)]

    def made() -> dict:
        chart, _ = individuals_charts(values, centre=0.39, standard_deviation=0.01, phase=phase)
        return control_chart_figure(chart, texts, title="speed step, D")

    return [
        {"name": f"control chart of {STRIPS} strips, figure", "ours_s": _timed(made), "note": "server side"},
        _drawn(made()),
    ]


def _timed(function) -> float:
    taken = []
    for _ in range(RUNS):
        started = time.perf_counter()
        function()
        taken.append(time.perf_counter() - started)
    return median(taken)


def _drawn(figure: dict) -> dict:
    """Draw the figure and pan it in a browser with the drawing library alone."""
    import json
    from pathlib import Path

    from playwright.sync_api import sync_playwright

    from tests.private_servers import find_program

    library = Path(__file__).resolve().parents[2] / "labsite/static/vendor/plotly/plotly-basic.min.js"
    page_text = (
        "<!doctype html><div id=plot style='width:1100px;height:320px'></div>"
        f"<script>{library.read_text(encoding='utf-8')}</script>"
        f"<script>const figure = {json.dumps(figure)};</script>"
    )
    drawn, panned = [], []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "chart.html"
        path.write_text(page_text, encoding="utf-8")
        switches = ["--no-sandbox"] if os.getuid() == 0 else []
        browser = playwright.chromium.launch(
            executable_path=find_program("chromium", package="chromium"), args=switches
        )
        for _ in range(RUNS):
            page = browser.new_page()
            page.goto(path.as_uri())
            drawn.append(page.evaluate(DRAW))
            panned.append(page.evaluate(PAN))
            page.close()
        browser.close()
    return {
        "name": f"control chart of {STRIPS} strips, drawn in a browser",
        "ours_s": median(drawn),
        "note": f"goal 1.5 s; moved by a tenth in {median(panned):.2f} s; medians of {RUNS}",
    }


DRAW = """async () => {
  const start = performance.now();
  await Plotly.newPlot("plot", figure.data, figure.layout);
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return (performance.now() - start) / 1000;
}"""
PAN = """async () => {
  const [low, high] = document.getElementById("plot")._fullLayout.xaxis.range;
  const by = (high - low) / 10;
  const start = performance.now();
  await Plotly.relayout("plot", { "xaxis.range": [low + by, high + by] });
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return (performance.now() - start) / 1000;
}"""
