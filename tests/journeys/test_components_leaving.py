"""A page that waits for a result, and a reader who goes elsewhere before it is there."""

import pytest

from tests.journeys.component_site import ORIGIN, ComponentSite
from tests.journeys.looking import wait_until

pytestmark = pytest.mark.journey

FRAGMENT = '<div hx-get="/progress/" hx-trigger="every 200ms" hx-swap="outerHTML">Waits</div>'
WAITING = (
    '<meta name="htmx-config" content=\'{"includeIndicatorStyles": false, "allowEval": false}\'>'
    '{% include "components/htmx_assets.html" only %}'
    f'{FRAGMENT}<a href="/elsewhere/">Elsewhere</a>'
)


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    site.put("/elsewhere/", "Elsewhere.")
    site.put("/waiting/", WAITING)
    site.put_page("/progress/", FRAGMENT)
    yield site
    site.close()


class SlowLine:
    """Holds the answer for the page that the reader goes to; says when the result is there."""

    def __init__(self, page):
        self.held, self.told, self.loads, self.is_done = [], 0, 0, False
        page.context.route("**/elsewhere/", self._hold)
        page.context.route("**/progress/", self._progress)
        page.context.route("**/waiting/", self._load)

    def _hold(self, route):
        self.held.append(route)

    def _progress(self, route):
        if not self.is_done:
            route.fulfill(status=204)
            return
        self.told += 1
        route.fulfill(body="Done", content_type="text/html", headers={"HX-Refresh": "true"})

    def _load(self, route):
        self.loads += 1
        self.is_done = False
        route.fallback()


def test_the_page_that_waits_is_loaded_again_when_the_result_is_there(site):
    page = site.open("/waiting/")
    line = SlowLine(page)
    line.is_done = True
    wait_until(page, lambda: line.loads == 1)


def test_a_result_does_not_call_off_the_link_that_was_followed(site):
    page = site.open("/waiting/")
    line = SlowLine(page)
    page.get_by_role("link", name="Elsewhere").click(no_wait_after=True)
    wait_until(page, lambda: line.held)
    line.is_done = True
    wait_until(page, lambda: line.told >= 2)
    line.held[0].fulfill(body="<p>Elsewhere.</p>", content_type="text/html")
    page.wait_for_url(ORIGIN + "/elsewhere/")
    page.get_by_text("Elsewhere.").wait_for()
    assert line.loads == 0
