"""The drawing library in static/vendor is what it says, and draws under a strict content security policy."""

import functools
import hashlib
import http.server
import json
import re
import threading
import time
from pathlib import Path

import pytest

from curves.figures import comparison_figure, line_style
from tests.figures.films import film

VENDOR = Path(__file__).parents[2] / "labsite" / "static" / "vendor" / "plotly"
POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:"
LINK = '<link id="plotly.js-style-global" class="no-inline-styles" rel="stylesheet" href="/plotly.css">'
PAGE = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><title>x</title><script src="/watch.js"></script>{head}</head>
<body>
<div id="plot"></div>
<script type="application/json" id="figure">{figure}</script>
<script src="/plotly-basic.min.js"></script>
<script src="/draw.js"></script>
</body>
</html>
"""
WATCH = """
window.violations = [];
document.addEventListener("securitypolicyviolation", (event) => {
  window.violations.push(`${event.violatedDirective}: ${event.blockedURI} ${event.sample}`);
});
"""
DRAW = """
const figure = JSON.parse(document.getElementById("figure").textContent);
Plotly.newPlot("plot", figure.data, figure.layout).then(() => { window.isDrawn = true; });
"""


def test_the_vendored_files_are_the_recorded_ones():
    recorded = re.findall(r"^([0-9a-f]{64})  (\S+)$", (VENDOR / "VERSIONS").read_text(), re.MULTILINE)
    assert {name for _, name in recorded} == {"plotly-basic.min.js", "LICENSE", "plotly.css"}
    for digest, name in recorded:
        assert hashlib.sha256((VENDOR / name).read_bytes()).hexdigest() == digest, name


def test_the_bundle_is_the_version_that_is_recorded():
    head = (VENDOR / "plotly-basic.min.js").read_text(encoding="utf-8")[:200]
    version = re.search(r"version (\d+\.\d+\.\d+)", (VENDOR / "VERSIONS").read_text()).group(1)
    assert f"plotly.js (basic - minified) v{version}" in head


@pytest.fixture
def strict_page(tmp_path, chromium):
    """``strict_page(head)``: a page under the policy that draws a comparison, with a chosen head."""
    figure = comparison_figure(("Reference", film(0)), [("Stock", film(1), line_style(0))], bands=True)
    for name in ("plotly-basic.min.js", "plotly.css"):
        (tmp_path / name).write_bytes((VENDOR / name).read_bytes())
    (tmp_path / "watch.js").write_text(WATCH)
    (tmp_path / "draw.js").write_text(DRAW)

    class Handler(http.server.SimpleHTTPRequestHandler):
        def end_headers(self):
            self.send_header("Content-Security-Policy", POLICY)
            super().end_headers()

        def log_message(self, *_):
            """Stay silent."""

    serve = functools.partial(Handler, directory=tmp_path)
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), serve)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    pages = []

    def open_page(head):
        content = PAGE.format(head=head, figure=json.dumps(figure))
        (tmp_path / "index.html").write_text(content)
        page = chromium.new_page()
        pages.append(page)
        page.goto(f"http://127.0.0.1:{server.server_port}/index.html")
        deadline = time.monotonic() + 10
        # Polled from here: waiting inside the page would itself need eval, which the policy forbids.
        while not page.evaluate("window.isDrawn === true") and time.monotonic() < deadline:
            time.sleep(0.05)
        return page

    yield open_page
    for page in pages:
        page.close()
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.mark.journey
def test_a_line_chart_draws_under_a_strict_policy(strict_page):
    page = strict_page(LINK)
    point = page.locator(".scatterlayer path.point").last.bounding_box()
    page.mouse.move(point["x"] - 3, point["y"])
    page.mouse.move(point["x"] + point["width"] / 2, point["y"] + point["height"] / 2)
    page.wait_for_selector(".hoverlayer .hovertext", state="attached", timeout=5000)
    assert page.evaluate("window.violations") == []
    assert page.evaluate("document.querySelectorAll('.scatterlayer path.js-line').length") >= 2
    # The rules of the file are in force: the tester element is kept off the page by one of them.
    rules = page.evaluate("document.getElementById('plotly.js-style-global').sheet.cssRules.length")
    assert rules == 66
    assert page.evaluate("getComputedStyle(document.querySelector('.main-svg')).position") == "absolute"


@pytest.mark.journey
def test_without_the_stylesheet_the_policy_is_violated(strict_page):
    """The check above can fail: the library's own injection is what the policy blocks."""
    page = strict_page("")
    assert any("style-src" in violation for violation in page.evaluate("window.violations"))
