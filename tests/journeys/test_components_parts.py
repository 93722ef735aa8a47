"""The small scripts, each with and without what it needs: menus, dialogs, filters, guards, themes."""

import base64
from urllib.parse import parse_qs

import pytest

from tests.journeys.component_site import ORIGIN, ComponentSite
from tests.journeys.looking import wait_until

pytestmark = pytest.mark.journey

CONFIRM = (
    '{% include "components/confirm_form.html" with id="void" label="Void this roll" title="Void this roll?" '
    'text="It stays." url="/void/" confirm_url="/sure/" asks_reason=True csrf_token="abc" only %}'
)
FILTERS = (
    '<form data-module="filters" data-target="results" method="get" class="filters">'
    '<label>Name <input name="q"></label><label>State <select name="state"><option value="">Any</option>'
    "<option>draft</option></select></label><button data-filters-apply>Apply</button></form>"
    '<div id="results" aria-live="polite"><p>Found {{ request.GET.q|default:"all" }}, '
    '{{ request.GET.state|default:"any" }}.</p>'
    '<button type="button" data-module="copy-link" hidden>Copy link</button></div>'
)
MENU = (
    '<details class="menu" data-module="menu"><summary>Account</summary><div class="menu-sheet">'
    '<a href="#x">Profile</a></div></details><a href="#y">Elsewhere</a>'
)
THEMES = (
    '<form method="post" action="/theme/" data-module="theme">'
    '<button name="theme" value="light" aria-pressed="true">Light</button>'
    '<button name="theme" value="dark" aria-pressed="false">Dark</button></form>'
)
OFFLINE = "() => { window.fetch = () => Promise.reject(new Error('offline')); }"


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    site.put("/elsewhere/", "Elsewhere.")
    yield site
    site.close()


def focused_text(page):
    return page.evaluate("document.activeElement.textContent.trim()")


# --- Asking before what cannot be taken back


def test_the_question_comes_as_a_dialog_and_can_be_left_by_keyboard(site):
    site.put("/roll/", CONFIRM)
    page = site.open("/roll/")
    link = page.get_by_role("button", name="Void this roll")
    dialog = page.get_by_role("dialog", name="Void this roll?")
    for key in ("Enter", "Space"):
        link.focus()
        page.keyboard.press(key)
        dialog.wait_for()
        page.keyboard.press("Escape")
        assert dialog.is_hidden() and focused_text(page) == "Void this roll"
    link.click()
    page.get_by_role("button", name="Leave it as it is").click()
    assert dialog.is_hidden() and site.posted == []


def test_the_dialog_posts_with_a_reason_only(site):
    site.put("/roll/", CONFIRM)
    site.put("/void/", "Void.")
    page = site.open("/roll/")
    page.get_by_role("button", name="Void this roll").click()
    confirm = page.get_by_role("dialog").get_by_role("button", name="Void this roll")
    confirm.click()
    assert site.posted == [], "an empty reason is refused"
    page.get_by_label("Reason").fill("Fogged.")
    confirm.click()
    page.get_by_text("Void.").wait_for()
    assert parse_qs(site.posted[0]) == {"csrfmiddlewaretoken": ["abc"], "reason": ["Fogged."]}


def test_without_script_the_question_is_a_page(site):
    site.put("/roll/", CONFIRM)
    site.put("/sure/", "Sure?")
    page = site.open("/roll/", java_script_enabled=False)
    page.get_by_role("link", name="Void this roll").click()
    assert page.url == ORIGIN + "/sure/"


# --- Filters


def test_filters_refresh_the_list_keep_the_focus_and_put_their_state_into_the_address(site):
    site.put("/stocks/", FILTERS)
    page = site.open("/stocks/")
    page.evaluate("window.isSamePage = true")
    page.get_by_label("Name").press_sequentially("ald&er")
    page.get_by_text("Found ald&er, any.").wait_for()
    page.keyboard.type("x")
    page.get_by_text("Found ald&erx, any.").wait_for()
    page.get_by_label("State").select_option("draft")
    page.get_by_text("Found ald&erx, draft.").wait_for()
    assert page.url == ORIGIN + "/stocks/?q=ald%26erx&state=draft"
    assert page.evaluate("window.isSamePage"), "the page itself was not loaded again"
    # Scripts of the fresh part are mounted, too.
    page.get_by_role("button", name="Copy link").wait_for()


def test_what_was_typed_before_the_script_came_filters_the_list_when_it_is_there(site):
    site.put("/stocks/", FILTERS)
    page = site.open("/elsewhere/")
    held = []

    def hold(route):
        held.append(route)

    page.context.route("**/js/filters.js", hold)
    page.goto(ORIGIN + "/stocks/")
    page.get_by_label("Name").fill("alder")
    assert page.get_by_role("button", name="Apply").is_visible(), "until then the form is a plain one"
    wait_until(page, lambda: held)
    held[0].fallback()
    page.get_by_text("Found alder, any.").wait_for()
    assert page.url == ORIGIN + "/stocks/?q=alder"


def test_filters_that_nobody_touched_do_not_ask_for_the_list_again(site):
    site.put("/stocks/", FILTERS.replace('name="q"', 'name="q" value="alder"'))
    page = site.open("/elsewhere/")
    asked = []
    page.on("request", lambda request: "/stocks/" in request.url and asked.append(request.url))
    site.go(page, "/stocks/?q=alder")
    page.wait_for_timeout(800)
    assert asked == [ORIGIN + "/stocks/?q=alder"]


def test_filters_fall_back_to_loading_the_page(site):
    site.put("/stocks/", FILTERS)
    page = site.open("/stocks/")
    page.evaluate("() => { window.isSamePage = true; }")
    page.evaluate(OFFLINE)
    page.get_by_label("Name").fill("alder")
    page.wait_for_url(ORIGIN + "/stocks/?q=alder")
    page.get_by_text("Found alder, any.").wait_for()
    assert page.evaluate("window.isSamePage") is None


def test_without_script_filters_are_a_plain_form(site):
    site.put("/stocks/", FILTERS)
    page = site.open("/stocks/", java_script_enabled=False)
    page.get_by_label("Name").fill("alder")
    page.get_by_role("button", name="Apply").click()
    assert page.get_by_text("Found alder, any.").is_visible()


# --- Menu, link, guard, errors


def test_a_menu_closes_on_escape_on_a_press_elsewhere_and_when_the_focus_leaves(site):
    site.put("/menu/", MENU)
    page = site.open("/menu/")
    inside = page.get_by_role("link", name="Profile")
    page.get_by_text("Account").click()
    assert inside.is_visible()
    page.keyboard.press("Escape")
    assert inside.is_hidden() and focused_text(page) == "Account"
    page.keyboard.press("Enter")
    for _ in range(2):
        page.keyboard.press("Tab")
    assert focused_text(page) == "Elsewhere" and inside.is_hidden()
    page.get_by_text("Account").click()
    page.get_by_role("heading", name="Components").click()
    assert inside.is_hidden()


def test_a_link_is_copied_and_said_to_be(site):
    site.put("/link/", '<button data-module="copy-link" data-url="/c/12/" hidden>Copy link</button>')
    page = site.open("/link/", permissions=["clipboard-read", "clipboard-write"])
    page.get_by_role("button", name="Copy link").click()
    page.get_by_text("The link was copied.").wait_for(state="attached")
    assert page.evaluate("navigator.clipboard.readText()") == ORIGIN + "/c/12/"


def test_a_changed_form_asks_before_it_is_left_and_an_unchanged_or_sent_one_does_not(site):
    body = '<input name="note"><button>Save</button>'
    site.put("/form/", f'<form data-module="dirty" method="post" action="/elsewhere/">{body}</form>')
    page = site.open("/form/")
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    note = page.locator("[name=note]")
    note.press_sequentially("a")
    note.press("Backspace")
    site.go(page, "/elsewhere/")
    assert asked == []
    site.go(page, "/form/")
    note.press_sequentially("a")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Elsewhere.").wait_for()
    assert asked == []
    site.go(page, "/form/")
    note.press_sequentially("a")
    site.go(page, "/elsewhere/")
    assert asked == ["beforeunload"]


def test_errors_of_a_form_take_the_focus(site):
    site.put(
        "/bad/", '{% include "components/form_errors.html" with errors=errors only %}', errors=["Too dense."]
    )
    page = site.open("/bad/")
    assert page.evaluate("document.activeElement.getAttribute('role')") == "alert"


# --- Themes


def test_a_theme_that_the_server_did_not_hear_of_is_sent_as_a_plain_form(site):
    site.put("/page/", THEMES)
    site.put("/theme/", "Kept.")
    page = site.open("/page/")
    page.evaluate(OFFLINE)
    page.get_by_role("button", name="Dark").click()
    page.get_by_text("Kept.").wait_for()
    assert parse_qs(site.posted[0])["theme"] == ["dark"]


def test_the_pressed_theme_is_marked(site):
    site.put("/page/", THEMES)
    site.put("/theme/", "")
    page = site.open("/page/")
    page.get_by_role("button", name="Dark").click()
    page.locator("html[data-theme=dark]").wait_for()
    pressed = page.locator("button[aria-pressed=true]")
    assert pressed.all_inner_texts() == ["Dark"]
    assert "dark" in site.posted[0]


def test_safelight_lets_only_red_through_even_from_a_picture(site):
    """A white picture and a native control, photographed from the screen."""
    white = "data:image/gif;base64,R0lGODlhAQABAIAAAP///wAAACH5BAAAAAAALAAAAAABAAEAAAICRAEAOw=="
    body = f'<img src="{white}" width="200" height="100" alt=""><input type="checkbox" checked>'
    site.put("/picture/", body, theme="safelight")
    page = site.open("/picture/", viewport={"width": 400, "height": 300})
    shot = page.screenshot()
    colours = page.evaluate(
        """async shot => {
          const picture = new Image();
          picture.src = "data:image/png;base64," + shot;
          await picture.decode();
          const {width, height} = picture;
          const canvas = Object.assign(document.createElement("canvas"), {width, height});
          const pen = canvas.getContext("2d");
          pen.drawImage(picture, 0, 0);
          const {data} = pen.getImageData(0, 0, width, height);
          let [red, other] = [0, 0];
          for (let i = 0; i < data.length; i += 4) {
            red = Math.max(red, data[i]);
            other = Math.max(other, data[i + 1], data[i + 2]);
          }
          return {red, other};
        }""",
        base64.b64encode(shot).decode(),
    )
    assert colours == {"red": 255, "other": 0}
