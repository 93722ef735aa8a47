"""A member sets a scan's areas by mouse, finger or keyboard; the browser shows what will be measured."""

import json

import numpy as np
import pytest

from curves.models import Strip
from scans.imaging.hand_placed import place_areas, place_steps
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import Shows
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.journeys.looking import assert_accessible, is_as_wide_as_its_window, look
from tests.scans.viewing_rows import cut_here, levels_of, make_scan

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]

OUTLINE = [[130.0, 90.0], [1270.0, 70.0], [1275.0, 430.0], [135.0, 450.0]]
SAME_PX = 1e-6  # two ways of solving for one perspective differ by rounding alone


@pytest.fixture(autouse=True)
def site(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    settings.ROOT_URLCONF = "tests.journeys.area_editor_site"


@pytest.fixture
def strip_scan(owner, admin):
    """A strip whose steps were found on it."""
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    strip = Strip.objects.get(roll=roll)
    steps = strip.tablet_revision.steps.count()
    ramp = np.linspace(0.2, 1.9, 1400) + np.zeros((520, 1))
    scan = make_scan(owner, levels_of(ramp), shows=Shows.STRIP, roll=roll, strip=strip)
    cut_here(scan)
    areas = place_steps(OUTLINE, steps, "right")
    scan.placements.create(
        number=1,
        origin="found",
        layout=f"steps-{steps}",
        outline=OUTLINE,
        darkens="right",
        areas=[{"label": area.label, "corners": np.round(area.corners, 3).tolist()} for area in areas],
    )
    return scan


def open_editor(page, scan):
    page.goto(f"/area-editor/{scan.pk}/")
    page.locator("[data-area-editor][data-drawn]").wait_for()
    page.wait_for_timeout(400)
    return page.locator("[data-area-editor]")


def outline_of(page):
    return json.loads(page.locator("[name=outline]").input_value())


def areas_of(page):
    return page.evaluate("document.querySelector('[data-area-editor]').areaEditor.areas")


def handle(page, name):
    return page.locator(f"[data-handle={name}]")


def middle_of(locator):
    box = locator.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page, locator, dx, dy):
    x, y = middle_of(locator)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx / 2, y + dy / 2)
    page.mouse.move(x + dx, y + dy)
    page.mouse.up()


CLOCK_SET_BACK = """
const now = Date.now.bind(Date);
let asked = 0;
Date.now = () => now() - (asked++ % 3 ? 0 : 400);
"""


def test_a_clock_that_is_set_back_loses_nothing(page_for, owner, strip_scan):
    page = page_for(owner)
    page.add_init_script(CLOCK_SET_BACK)
    editor = open_editor(page, strip_scan)
    editor.get_by_role("button", name="Nearer").click()
    page.wait_for_timeout(400)
    assert "NaN" not in page.locator(".area-outline").first.get_attribute("d")


def test_a_member_drags_a_corner_and_sends_what_is_seen(strip_scan, owner, page_for):
    page = page_for(owner)
    editor = open_editor(page, strip_scan)
    assert_accessible(page)
    look(page, "area_editor_1280")
    assert editor.locator(".area.is-flagged").count() == 1
    scale = page.evaluate("document.querySelector('[data-area-editor]').areaEditor.view.scale")
    drag(page, handle(page, "corner-0"), 30, 20)
    moved = outline_of(page)
    # A hundredth of a pixel is as fine as corners are sent; the mouse stands on whole screen pixels.
    assert np.allclose(np.subtract(moved[0], OUTLINE[0]), np.array([30, 20]) / scale, atol=1.0)
    assert np.allclose(moved[1:], OUTLINE[1:], atol=0.005)
    status = page.get_by_role("status").filter(has_text="Corners in pixels")
    status.wait_for()
    sent = page.locator("[name=outline]").input_value()
    page.get_by_role("button", name="Measure here").click()
    assert page.locator("#sent-outline").inner_text() == sent
    assert page.locator("#sent-darkens").inner_text() == "right"


@pytest.mark.parametrize("darkens", ["right", "left", "down", "up"])
def test_the_browser_places_steps_as_the_server_does(strip_scan, owner, page_for, darkens):
    page = page_for(owner)
    open_editor(page, strip_scan)
    page.get_by_text("Type the corners").click()
    page.get_by_label("Steps darken").select_option(darkens)
    rng = np.random.default_rng(7)
    for turn in range(4):
        corners = np.roll(np.array(OUTLINE) + rng.uniform(-40, 40, (4, 2)), turn, axis=0).round(2)
        page.locator("[name=outline]").fill(json.dumps(corners.tolist()))
        page.locator("[name=outline]").press("Tab")
        shown = areas_of(page)
        wanted = place_steps(corners, len(shown), darkens)
        assert [area["label"] for area in shown] == [area.label for area in wanted]
        assert np.allclose(
            [area["corners"] for area in shown], [area.corners for area in wanted], atol=SAME_PX, rtol=0
        )


def test_before_the_picture_is_ready_corners_can_be_typed_and_nothing_is_drawn(owner, page_for):
    """A picture without an address would be one of no size, drawn nowhere sixty times a second."""
    scan = make_scan(owner, levels_of(np.full((200, 300), 0.7)), shows=Shows.FRAME)
    page, faults = page_for(owner), []
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    page.goto(f"/area-editor/{scan.pk}/")
    page.get_by_text("There is no picture to look at yet.").wait_for()
    page.get_by_label("Corners in pixels").wait_for()
    page.wait_for_timeout(400)
    assert not page.locator("[data-area-editor][data-drawn]").count() and faults == []


def test_the_browser_places_patches_as_the_server_does(owner, page_for):
    scan = make_scan(owner, levels_of(np.linspace(0.2, 1.9, 1200) + np.zeros((800, 1))), shows=Shows.FRAME)
    cut_here(scan)
    page = page_for(owner)
    open_editor(page, scan)
    assert page.locator("[name=outline]").input_value() == "", "nothing is sent that nobody set"
    assert "Nothing was found" in page.locator("[data-area-status]").inner_text()
    corners = [[95.5, 61.25], [1110.0, 80.0], [1090.0, 742.0], [70.0, 700.5]]
    page.get_by_text("Type the corners").click()
    page.locator("[name=outline]").fill(json.dumps(corners))
    page.locator("[name=outline]").press("Tab")
    for mirrored in (False, True):
        if mirrored:
            page.get_by_role("button", name="Mirror").click()
            corners = [corners[index] for index in (1, 0, 3, 2)]
        shown = areas_of(page)
        wanted = place_areas(HOUSE_TARGET, corners)
        assert [area["label"] for area in shown] == [area.label for area in wanted]
        assert np.allclose(
            [area["corners"] for area in shown], [area.corners for area in wanted], atol=SAME_PX, rtol=0
        )
    look(page, "area_editor_target")


def test_all_of_it_works_by_keyboard(strip_scan, owner, page_for):
    page = page_for(owner)
    open_editor(page, strip_scan)
    page.locator("[data-area-stage]").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.handle") == "corner-0"
    for key, dx in (("ArrowRight", 1), ("Shift+ArrowRight", 10), ("Alt+ArrowDown", 0)):
        before = outline_of(page) if page.locator("[name=outline]").input_value() else OUTLINE
        page.keyboard.press(key)
        assert outline_of(page)[0][0] == pytest.approx(before[0][0] + dx)
    assert outline_of(page)[0] == pytest.approx([141.0, 90.1])
    label = handle(page, "corner-0").get_attribute("aria-label")
    assert label == "first corner, x 141.0 px, y 90.1 px"
    page.keyboard.press("Control+z")
    assert outline_of(page)[0] == pytest.approx([141.0, 90.0])
    for _ in range(4):
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.handle") == "move"
    before = np.array(outline_of(page))
    page.keyboard.press("Shift+ArrowDown")
    assert np.allclose(np.array(outline_of(page)) - before, [0, 10])
    before = np.array(outline_of(page))
    page.keyboard.press("]")
    turned = np.array(outline_of(page))
    sides = [np.linalg.norm(each[1] - each[0]) for each in (before, turned)]
    assert not np.allclose(before, turned) and sides[0] == pytest.approx(sides[1], abs=0.02)
    page.keyboard.press("[")
    assert np.allclose(outline_of(page), before, atol=0.02)
    page.keyboard.press("t")
    assert page.locator("[name=darkens]").input_value() == "down"
    page.keyboard.press("m")
    assert page.locator("[name=darkens]").input_value() == "up"
    scale = "document.querySelector('[data-area-editor]').areaEditor.view.scale"
    near = page.evaluate(scale)
    page.keyboard.press("+")
    assert page.evaluate(scale) == pytest.approx(1.5 * near)
    page.keyboard.press("0")
    assert page.evaluate(scale) == pytest.approx(near, rel=1e-3)


def test_corners_that_cross_over_say_so_and_show_no_areas(strip_scan, owner, page_for):
    page = page_for(owner)
    open_editor(page, strip_scan)
    page.get_by_text("Type the corners").click()
    for typed, said in (
        (json.dumps([OUTLINE[0], OUTLINE[2], OUTLINE[1], OUTLINE[3]]), "cross over"),
        ("[[1, 2], [3]]", "four pairs of numbers"),
    ):
        page.locator("[name=outline]").fill(typed)
        page.locator("[name=outline]").press("Tab")
        page.get_by_role("status").filter(has_text=said).wait_for()
    assert page.locator(".area").count() == 0


def test_on_a_phone_a_finger_drags_and_undo_takes_it_back(strip_scan, owner, page_for):
    page = page_for(owner, width=390, height=844)
    open_editor(page, strip_scan)
    assert is_as_wide_as_its_window(page)
    look(page, "area_editor_390")
    drag(page, handle(page, "move"), 12, 25)
    assert outline_of(page) != OUTLINE
    page.get_by_role("button", name="Undo").click()
    assert outline_of(page) == OUTLINE
    assert page.get_by_role("button", name="Undo").is_disabled()


def test_a_picture_that_does_not_load_leaves_the_corners_to_be_typed(strip_scan, owner, page_for):
    page = page_for(owner)
    page.route("**/openseadragon*", lambda route: route.fulfill(body="", content_type="text/javascript"))
    page.goto(f"/area-editor/{strip_scan.pk}/")
    page.get_by_text("The viewer did not load. The corners can still be typed below.").wait_for()
    assert page.get_by_label("Corners in pixels").input_value() == json.dumps(OUTLINE)
