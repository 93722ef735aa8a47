"""Frames side by side: all follow one hand, one key, one address; without script there are stills."""

from io import BytesIO
from urllib.parse import parse_qs, urlsplit

import imagecodecs
import numpy as np
import pytest

from tests.journeys.looking import assert_accessible, is_as_wide_as_its_window, look, wait_until
from tests.scans.side_by_side_rows import make_frame

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]

NAMES = ("straight", "turned", "mirrored", "fine")
PLACES = "document.querySelector('#side').sideBySide.panes.map((pane) => pane.seen)"

ALL_LOADED = """document.querySelector('#side').sideBySide.panes.every(
    (pane) => pane.view.viewer.world.getItemAt(0)?.getFullyLoaded()
)"""


@pytest.fixture(autouse=True)
def media_root(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def address(owner):
    ids = [make_frame(owner, name, frame_label=f"frame {name}").pk for name in NAMES]
    return "/compare/side-by-side/?" + "&".join(f"scan={pk}" for pk in ids)


def go(page, address):
    page.goto(address)
    page.locator("#side[data-drawn]").wait_for()
    settle(page)


def settle(page):
    """Until the address has followed and every picture has its tiles."""
    page.wait_for_timeout(900)
    wait_until(page, lambda: page.evaluate(ALL_LOADED))


def seen(page):
    """Where each pane looks: x, y and zoom."""
    return np.array([[place[name] for name in ("x", "y", "zoom")] for place in page.evaluate(PLACES)])


def assert_all_agree(page):
    places = seen(page)
    # The hand's own pane comes to rest within a few hundredths of a screen pixel of the others.
    assert np.allclose(places, places[0], rtol=2e-3, atol=0.05), places
    return places[0]


def chosen(page):
    return {name: values[0] for name, values in parse_qs(urlsplit(page.url).query).items()}


def picture_of(page, pane):
    """What is on the screen in a pane, as levels of grey."""
    content = page.locator(".pane-window").nth(pane).screenshot()
    return imagecodecs.png_decode(content)[..., 0].astype(float)


def test_every_pane_shows_the_same_place_and_follows_the_mouse(address, owner, page_for):
    page = page_for(owner)
    go(page, address)
    assert_all_agree(page)
    look(page, "side_by_side_1280")
    assert_accessible(page)
    pane = page.locator(".pane-window").nth(1)
    box = pane.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    before = seen(page)[0]
    page.mouse.move(x, y)
    page.mouse.wheel(0, -300)
    settle(page)
    nearer = assert_all_agree(page)
    assert nearer[2] > 1.15 * before[2]
    page.mouse.down()
    page.mouse.move(x - 40, y - 25, steps=6)
    page.wait_for_timeout(300)
    page.mouse.up()
    settle(page)
    moved = assert_all_agree(page)
    assert moved[0] > nearer[0] and moved[1] > nearer[1]
    told = chosen(page)
    assert [float(told[name]) for name in ("x", "y", "zoom")] == pytest.approx(moved, rel=5e-3, abs=0.1)

    # The address is the permalink: opened elsewhere it shows the same.
    again = page_for(owner)
    go(again, page.url)
    assert np.allclose(seen(again), seen(page), rtol=5e-3, atol=0.1)


def test_turned_and_mirrored_frames_look_like_the_straight_one(address, owner, page_for):
    page = page_for(owner)
    go(page, f"{address}&region=fine+texture")
    straight = picture_of(page, 0)
    height, width = straight.shape
    rows, columns = slice(int(0.15 * height), int(0.85 * height)), slice(int(0.15 * width), int(0.85 * width))
    for pane in (2, 3):  # the frame of pane 1 was taken from farther away
        other = picture_of(page, pane)[rows, columns]
        match = np.corrcoef(straight[rows, columns].ravel(), other.ravel())[0, 1]
        assert match > 0.8, f"pane {pane}: {match}"
        flipped = np.corrcoef(straight[rows, columns].ravel(), other[:, ::-1].ravel())[0, 1]
        assert flipped < 0.5


def test_all_of_it_works_by_keyboard(address, owner, page_for):
    page = page_for(owner)
    go(page, address)
    page.locator(".pane-window").first.focus()
    page.keyboard.press("4")
    settle(page)
    place = assert_all_agree(page)
    assert place[:2] == pytest.approx([246, 67], abs=0.1), "the middle of shadow detail"
    assert chosen(page)["region"] == "shadow detail"
    status = page.locator("[data-side-status]")
    assert status.inner_text().startswith("Shadow detail. All as in a print")
    page.keyboard.press("+")
    page.keyboard.press("ArrowRight")
    settle(page)
    after = assert_all_agree(page)
    assert after[2] == pytest.approx(1.5 * place[2], rel=1e-3) and after[0] > place[0]
    page.keyboard.press("0")
    settle(page)
    assert assert_all_agree(page) == pytest.approx(place, rel=2e-3)


def test_a_negative_is_the_positive_turned_over(address, owner, page_for):
    page = page_for(owner)
    go(page, f"{address}&region=grey+card")
    positive = picture_of(page, 0).mean()
    page.get_by_label("Shown as").select_option("negative")
    settle(page)
    assert picture_of(page, 0).mean() == pytest.approx(255 - positive, abs=2)
    assert chosen(page)["tone"] == "negative"
    look(page, "side_by_side_negative")


def test_a_print_scale_follows_the_screen_that_was_measured(address, owner, page_for):
    page = page_for(owner)
    go(page, address)
    page.get_by_label("Size", exact=True).select_option("12")
    settle(page)
    assert assert_all_agree(page)[2] == pytest.approx(12 * 96 / 25.4, rel=1e-3)
    assert "if the screen has 96 pixels an inch" in page.locator("[data-side-status]").inner_text()
    page.get_by_text("Size of this screen").click()
    page.get_by_label("Pixels an inch").fill("120")
    page.get_by_label("Pixels an inch").press("Tab")
    settle(page)
    assert assert_all_agree(page)[2] == pytest.approx(12 * 120 / 25.4, rel=1e-3)
    # A bank card is 85.60 mm wide.
    assert page.locator("[data-side-card]").bounding_box()["width"] == pytest.approx(85.6 / 25.4 * 120, abs=1)
    assert chosen(page)["print_scale"] == "12" and "zoom" not in chosen(page)
    look(page, "side_by_side_print_scale")
    page.get_by_role("button", name="Nearer").click()
    settle(page)
    assert "print_scale" not in chosen(page) and "zoom" in chosen(page)


def test_on_a_phone_and_by_other_lights(address, owner, page_for):
    page = page_for(owner, width=390, height=844)
    go(page, address)
    assert is_as_wide_as_its_window(page)
    assert_accessible(page)
    look(page, "side_by_side_390")
    wide = page_for(owner)
    for theme in ("dark", "safelight"):
        go(wide, address)
        wide.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)
        wide.wait_for_timeout(200)
        look(wide, f"side_by_side_{theme}")
    shown = imagecodecs.png_decode(wide.locator(".pane-window").first.screenshot())
    assert shown[8:-8, 8:-8, 1:3].max() <= 8, "by safelight no green or blue comes from a picture"


def test_without_script_there_are_stills_which_print(address, owner, chromium, live_server, client_for):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    session = client_for(owner).cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page = context.new_page()
    page.goto(f"{address}&region=edge")
    stills = page.locator("[data-side-still]")
    assert stills.count() == 4
    for number in range(4):
        shown = imagecodecs.png_decode(BytesIO(stills.nth(number).screenshot()).getvalue())[..., 0]
        assert shown.std() > 5, "the edge has a light and a dark side"
        assert stills.nth(number).get_attribute("alt").endswith("edge of the target")
    page.emulate_media(media="print")
    assert stills.first.is_visible() and not page.get_by_role("button", name="Show").is_visible()
    context.close()
