"""A real browser keeps to the content policy: what is planted does not run, and pages need none of it."""

import pytest

pytestmark = pytest.mark.journey

LISTEN = """
window.breaches = [];
const note = (event) => window.breaches.push(event.effectiveDirective);
document.addEventListener("securitypolicyviolation", note);
"""
PLANT = """
() => {
  const script = document.createElement("script");
  script.textContent = "window.planted = true";
  document.body.append(script);
  document.body.insertAdjacentHTML("beforeend", '<img src="data:," onerror="window.planted = true">');
  document.body.insertAdjacentHTML("beforeend", '<p style="position: fixed">over the page</p>');
  const image = new Image();
  image.src = "http://127.0.0.2/elsewhere.png";
}
"""


@pytest.fixture
def page(chromium, live_server):
    """A visitor's page that keeps a list of its breaches of the policy."""
    context = chromium.new_context(base_url=live_server.url)
    context.add_init_script(LISTEN)
    page = context.new_page()
    page.goto("/account/sign-in/")
    yield page
    context.close()


def test_a_planted_script_handler_style_and_picture_are_blocked(page):
    page.evaluate(PLANT)
    wanted = {"script-src-elem", "script-src-attr", "style-src-attr", "img-src"}
    # Polled by hand: Playwright's own wait evaluates text, which the policy forbids as well.
    for _ in range(50):
        if wanted <= set(page.evaluate("window.breaches")):
            break
        page.wait_for_timeout(100)
    assert wanted <= set(page.evaluate("window.breaches"))
    assert page.evaluate("window.planted") is None


def test_the_sign_in_page_itself_needs_none_of_it(page_for, visitor):
    page = page_for(visitor)
    response = page.goto("/account/sign-in/")
    assert response.status == 200
    assert page.get_by_role("heading", level=1).is_visible()
