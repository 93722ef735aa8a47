"""A visitor of an open lab compares stocks, by mouse, by keyboard and on a phone."""

import re

import pytest

from tests.journeys.looking import (
    assert_accessible,
    is_as_wide_as_its_window,
    look,
    wait_until,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey


def choose(page, *names):
    for name in names:
        page.get_by_label(name, exact=True).check()
    page.get_by_role("button", name="Show").click()
    wait_until_drawn(page)


def test_tabs_lead_by_keyboard_from_page_to_page_with_the_same_stocks(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/")
    wait_until_drawn(page)
    choose(page, "Wrensfell 400", "Corvale Ortho 40")
    chosen = page.locator(".compare-words h3").all_inner_texts()
    for title in ("Print tones", "Print plan", "Colour response", "Side by side", "Curves and measures"):
        tab = page.get_by_role("navigation", name="Ways to compare").get_by_role("link", name=title)
        tab.focus()
        tab.press("Enter")
        page.wait_for_load_state()
        current = page.get_by_role("navigation", name="Ways to compare").locator("[aria-current=page]")
        assert current.inner_text() == title
        if title in ("Print tones", "Colour response"):
            for name in ("Wrensfell 400", "Corvale Ortho 40"):
                assert page.locator("main table", has_text=name).count(), (title, name)
    wait_until_drawn(page)
    assert len(chosen) == 2 and page.locator(".compare-words h3").all_inner_texts() == chosen


def test_a_visitor_compares_stocks_and_takes_the_numbers_along(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/")
    wait_until_drawn(page)
    assert_accessible(page)
    choose(page, "Wrensfell 400", "Corvale Ortho 40")
    assert "stocks=" in page.url and page.url.split("stocks=")[1].count(".") == 1
    words = page.locator(".compare-words")
    assert "faster than the reference" in words.inner_text()
    assert "slower than the reference" in words.inner_text()
    assert_accessible(page)
    look(page, "compare_light_1280")

    # The address is the permalink: opened elsewhere it shows the same.
    again = page_for(visitor)
    again.goto(page.url)
    wait_until_drawn(again)
    assert again.locator(".compare-words").inner_text() == words.inner_text()

    row = page.locator("tr[data-curve]", has_text="Corvale Ortho 40").first
    row.hover()
    page.locator("[data-plot-canvas] .is-lit").first.wait_for(state="attached")
    assert "is-lit" in row.get_attribute("class"), "pointing at a row lights its curve"

    # Words of a row are fetched when it is opened: a row of their own, hidden with it, asked for once.
    asked = []
    page.on(
        "request", lambda request: asked.append(request.url) if "/compare/words/" in request.url else None
    )
    summary = row.locator("summary")
    said = page.locator(".compare-said")
    for is_open in (True, False, True):
        summary.press("Enter")
        said.filter(has_text="Against the reference").wait_for(state="visible" if is_open else "hidden")
    assert len(asked) == 1 and "slower than the reference" in said.inner_text()
    assert_accessible(page)

    with page.expect_download() as saved:
        page.get_by_role("button", name="Save as SVG").click()
    assert b"<svg" in saved.value.path().read_bytes()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save as PNG").click()
    assert saved.value.path().read_bytes().startswith(b"\x89PNG")
    with page.expect_download() as saved:
        page.get_by_role("link", name="CSV", exact=True).click()
    assert saved.value.path().read_text().startswith("stock,maker")


def test_the_comparison_is_made_by_keyboard_alone(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/")
    wait_until_drawn(page)
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('input[type=checkbox][name=stock]')"):
            break
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.wait_for_url("**stocks=*")
    wait_until_drawn(page)
    curves = page.locator("[data-curve-options]")
    curves.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowRight")
    readout = page.locator("[data-curve-readout]")
    readout.filter(has_text="D").wait_for()
    assert "−" in readout.inner_text() or "0" in readout.inner_text()


def test_two_stocks_are_compared_on_a_phone(demo_lab, visitor, page_for):
    page = page_for(visitor, width=390)
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        page.goto("/compare/?stocks=4.8&align=speed_point")
        wait_until_drawn(page)
        assert is_as_wide_as_its_window(page)
        assert_accessible(page)
        look(page, f"compare_{theme}_390")


def test_a_phone_shows_curves_first_and_compares_what_is_ticked_far_down(demo_lab, visitor, page_for):
    page = page_for(visitor, width=390)
    page.goto("/compare/")
    wait_until_drawn(page)
    assert page.locator("figure.plot").bounding_box()["y"] < 600, "curves begin on the first screen"
    align = page.get_by_label("Align")
    assert not align.is_visible()
    page.get_by_text("How it is drawn").press("Enter")
    align.select_option("contrast")
    page.get_by_label("Wrensfell 50", exact=True).check()
    button = page.get_by_role("button", name="Compare the ticked")
    assert button.bounding_box()["y"] < page.viewport_size["height"], "in view as long as the table is"
    button.click()
    page.wait_for_url("**stocks=*")
    assert "align=contrast" in page.url
    wait_until_drawn(page)
    assert is_as_wide_as_its_window(page)


def test_a_phone_says_which_filters_are_set_and_shows_curves_before_them(demo_lab, visitor, page_for):
    page = page_for(visitor, width=390)
    page.goto("/compare/?q=wren&speed_from=50")
    wait_until_drawn(page)
    assert page.locator("figure.plot").bounding_box()["y"] < 750
    words = page.get_by_label("Name or maker")
    assert not words.is_visible()
    page.get_by_text("Which stocks: Name or maker: wren · Exposure index from: 50").press("Enter")
    assert words.input_value() == "wren"
    assert is_as_wide_as_its_window(page)
    wide = page_for(visitor)
    wide.goto("/compare/?q=wren")
    assert wide.get_by_label("Name or maker").is_visible(), "what is set is in sight where there is room"


def test_a_phone_shows_the_list_of_stocks_before_its_filters(demo_lab, visitor, page_for):
    page = page_for(visitor, width=390)
    page.goto("/stocks/")
    wait_until_mounted(page)
    assert page.locator(".stock-table").bounding_box()["y"] < 550
    page.get_by_text("Filters", exact=True).press("Enter")
    page.get_by_label("Format").select_option("sheet")
    page.get_by_text("Filtered. Format: sheet.").wait_for()
    assert is_as_wide_as_its_window(page)
    assert_accessible(page)
    wide = page_for(visitor)
    wide.goto("/stocks/?format=sheet")
    assert wide.get_by_label("Format").is_visible() and not wide.get_by_text("Filtered.").is_visible()


def test_where_there_is_room_nothing_of_the_drawing_is_folded(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/")
    assert page.get_by_label("Align").is_visible()
    assert not page.get_by_text("How it is drawn").is_visible()


def test_what_was_ticked_pinned_and_drawn_is_lost_on_no_way(demo_lab, visitor, page_for):
    """Another order, another page and back: ticks that were not sent, pins and the way of drawing stay."""
    page = page_for(visitor)
    page.goto("/compare/?view=difference&density=net&columns=iso_speed.gamma")
    wait_until_drawn(page)
    choose(page, "Wrensfell 400")
    page.locator("[data-curve-options] [data-curve]", has_text="Wrensfell 400").click()
    page.wait_for_url("**pin=*")
    page.get_by_label("Corvale Ortho 40", exact=True).check()
    page.get_by_role("columnheader").get_by_role("link", name="Box").press("Enter")
    page.wait_for_url("**sort=box*")
    wait_until_drawn(page)
    assert "pin=" in page.url
    names = page.locator(".compare-words h3").all_inner_texts()
    assert [name.strip() for name in names] == ["Wrensfell 400", "Corvale Ortho 40"]
    drawn = page.url
    page.get_by_label("Wrensfell 50", exact=True).check()
    for title, address in (
        ("Colour response", "**/colour-response/?*"),
        ("Curves and measures", "**/compare/?*"),
    ):
        page.get_by_role("navigation", name="Ways to compare").get_by_role("link", name=title).press("Enter")
        page.wait_for_url(address)
        wait_until_mounted(page)
    wait_until_drawn(page)
    for part in drawn.split("?")[1].split("&"):
        assert part in page.url or part.startswith("stocks="), part
    assert page.locator(".compare-words h3").count() == 3
    page.get_by_role("link", name="Clear").click()
    page.wait_for_url("**/compare/?")
    page.get_by_role("navigation", name="Ways to compare").get_by_role("link", name="Print tones").click()
    page.wait_for_url("**/print-tones/**")
    wait_until_mounted(page)
    page.get_by_role("navigation", name="Ways to compare").get_by_role("link", name="Curves").click()
    page.wait_for_url(re.compile(r"/compare/(\?|$)"))
    assert "view=" not in page.url, "what was cleared stays cleared"


def test_a_copied_link_shows_the_axes_as_the_sender_saw_them(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/")
    wait_until_drawn(page)
    choose(page, "Wrensfell 400")
    page.get_by_text("Limits of the axes").press("Enter")
    page.get_by_label("Left", exact=True).fill("-2,5")
    page.get_by_label("Top", exact=True).press_sequentially("2")
    page.keyboard.press("Enter")
    page.wait_for_url("**left=-2.5&top=2")
    assert page.locator("[data-compare-link]").get_attribute("data-url").endswith("left=-2.5&top=2")
    # A link of the page takes them along, as does sending the form for the same axes.
    page.get_by_role("columnheader").get_by_role("link", name="Box", exact=True).press("Enter")
    page.wait_for_url("**sort=box*")
    wait_until_drawn(page)
    choose(page, "Corvale Ortho 40")
    assert "left=-2.5&top=2" in page.url
    again = page_for(visitor, width=390)
    again.goto(page.url)
    wait_until_drawn(again)
    axes = "['xaxis', 'yaxis'].map(a => document.querySelector('.plot-canvas').layout[a].range)"
    (left, _), (_, top) = again.evaluate(axes)
    assert (left, top) == (-2.5, 2)
    assert is_as_wide_as_its_window(again)
    look(again, "compare_limits_390")
    # Other axes have no limits yet; the whole range has none in the address.
    page.get_by_role("button", name="Whole range").click()
    page.wait_for_url(lambda url: "left=" not in url)
    page.goto(again.url)
    wait_until_drawn(page)
    page.get_by_label("Align").select_option("contrast")
    page.get_by_role("button", name="Show").click()
    page.wait_for_url("**align=contrast*")
    assert "left=" not in page.url


@pytest.fixture
def open_before(page_for, visitor):
    """``open_before(name)``: Compare with the script of that name on its way, and what lets it come."""

    def make(name):
        page, held = page_for(visitor), []

        def hold(route):
            held.append(route)

        page.context.route(f"**/js/{name}.*js", hold)
        page.goto("/compare/")

        def let_come():
            wait_until(page, lambda: held)
            held[0].continue_()
            wait_until_mounted(page)

        return page, let_come

    return make


def test_the_tab_back_to_compare_loses_nothing_before_its_script_came(demo_lab, visitor, page_for):
    page = page_for(visitor)
    page.goto("/compare/?view=difference&density=net")
    wait_until_mounted(page)
    held = []

    def hold(route):
        held.append(route)

    page.context.route("**/js/compare-drawing.*js", hold, times=1)
    page.goto("/compare/print-tones/")
    wait_until(page, lambda: held)
    page.get_by_role("navigation", name="Ways to compare").get_by_role("link", name="Curves").click()
    page.wait_for_url("**view=difference&density=net")
    wait_until_drawn(page)
    assert "again" not in page.url


def test_what_was_ticked_before_the_script_came_goes_along(demo_lab, open_before):
    page, let_come = open_before("compare")
    page.get_by_label("Wrensfell 400", exact=True).check()
    let_come()
    page.get_by_role("columnheader").get_by_role("link", name="Box", exact=True).press("Enter")
    page.wait_for_url("**sort=box*")
    assert page.get_by_label("Wrensfell 400", exact=True).is_checked()


def test_a_row_opened_before_the_script_came_is_filled_when_it_is_there(demo_lab, open_before):
    page, let_come = open_before("compare-words")
    page.locator("tr[data-curve]", has_text="Corvale Ortho 40").first.locator("summary").press("Enter")
    let_come()
    page.locator(".compare-said", has_text="slower than the reference").wait_for()


def test_the_first_columns_fit_a_screen_of_1280_pixels(demo_lab, visitor, page_for):
    page = page_for(visitor, width=1265)  # less the bar by which the window scrolls
    page.goto("/compare/?stocks=4.8")
    wait_until_drawn(page)
    # What is out of sight is laid out only when it is asked for.
    page.evaluate("document.querySelector('.compare-measures').style.contentVisibility = 'visible'")
    inner, whole = page.evaluate(
        "(e => [e.clientWidth, e.scrollWidth])(document.querySelector('.compare-measures .table-scroll'))"
    )
    assert whole <= inner
    headings = page.locator(".compare-table thead th").all_inner_texts()
    for word in ("Exposure index", "gradient", "Speed against", "shadows", "highlights", "Base plus fog"):
        assert any(word in " ".join(heading.split()) for heading in headings), word
    page.get_by_text("Which columns").press("Enter")
    page.get_by_role("checkbox", name="Cost per frame").check()
    page.get_by_role("button", name="Show").click()
    page.wait_for_url("**columns=frame_cost.*")
    assert page.get_by_role("columnheader", name="Cost per frame").count() == 1


def test_no_column_is_cut_off_on_paper(demo_lab, visitor, page_for):
    """A sheet of A4 on its long side has 267 mm between its margins: 1009 px."""
    page = page_for(visitor, width=1009)
    page.goto("/compare/?stocks=4.8")
    wait_until_drawn(page)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", page.pdf(prefer_css_page_size=True))
    assert boxes and all(float(width) > float(height) for width, height in boxes)
    page.emulate_media(media="print")
    # What is out of sight is laid out only when it is asked for.
    page.evaluate("document.querySelector('.compare-measures').style.contentVisibility = 'visible'")
    right = "document.querySelector('.compare-table').getBoundingClientRect().right"
    assert 900 < page.evaluate(right) <= 1009


def test_no_patch_is_cut_off_on_paper(demo_lab, visitor, page_for):
    """A sheet of A4 upright has 180 mm between its margins: 680 px."""
    page = page_for(visitor, width=680)
    page.goto("/compare/colour-response/")
    wait_until_drawn(page)
    page.emulate_media(media="print")
    rights = "[...document.querySelectorAll('.colour-table')].map(e => e.getBoundingClientRect().right)"
    tables = page.evaluate(rights)
    assert len(tables) == 2 and max(tables) <= 680
    assert not page.get_by_role("checkbox").first.is_visible(), "what is only clicked stays off the paper"
