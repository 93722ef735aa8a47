"""From a scan of the tablet and one of a strip to a roll's readings, by keyboard."""

import pytest
from django.urls import reverse

from curves.models import Reading
from scans.models import ScannerCalibration
from scans.queries.measured import current_measurement, shown_density
from scans.services.measuring import request_measuring
from scans.services.viewing import request_tiles
from tests.factories.scans import areas_by_step, calibration_row, film_densities, make_scan_lab
from tests.journeys.looking import (
    assert_accessible,
    is_as_wide_as_its_window,
    look,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey
DAY_FORMAT = "%Y-%m-%d"


@pytest.fixture
def lab(owner, admin, settings, tmp_path):
    """Scans of a tablet and of a strip, described and just uploaded."""
    settings.MEDIA_ROOT = tmp_path
    made = make_scan_lab(owner, admin)
    for scan in (made.tablet, made.strip):
        request_tiles(file=scan.file)
        request_measuring(scan=scan)
    return made


def press(page, control):
    """Reach a control by keyboard and use it."""
    control.focus()
    page.keyboard.press("Enter")


def in_every_look(page, name):
    """Screenshots on a desk and on a phone, light and dark."""
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        for width in (1280, 390):
            page.set_viewport_size({"width": width, "height": 900})
            page.wait_for_timeout(250)
            assert is_as_wide_as_its_window(page), f"{name} scrolls sideways at {width}"
            look(page, f"{name}-{width}-{theme}")
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": 1280, "height": 900})


def test_a_tablet_calibrates_and_a_strip_becomes_readings(page_for, lab, owner, job_runner):
    page = page_for(owner)
    strip = reverse("scan", args=[lab.strip.pk])
    page.goto(strip)
    page.get_by_text("Flatbed 3 was never calibrated.").first.wait_for(timeout=60_000)
    wait_until_mounted(page)
    assert_accessible(page)
    look(page, "scan-withheld")
    assert page.get_by_role("link", name="Take densities into roll").count() == 0

    page.goto(reverse("scan", args=[lab.tablet.pk]))
    page.get_by_role("button", name="Use as calibration").wait_for(timeout=60_000)
    wait_until_mounted(page)
    days = page.get_by_label("Valid for, days")
    days.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("21")
    page.keyboard.press("Enter")
    page.get_by_text("The scanner is being calibrated from this scan.").wait_for()
    page.get_by_role("heading", name="Calibrations made from this scan").wait_for(timeout=60_000)
    calibration = ScannerCalibration.objects.get()
    assert calibration.valid_days == 21

    page.goto(strip)
    take = page.get_by_role("link", name=f"Take densities into roll {lab.roll.code}")
    take.wait_for(timeout=60_000)
    wait_until_mounted(page)
    page.locator("[data-area-editor][data-drawn]").wait_for()
    assert_accessible(page)
    in_every_look(page, "scan-strip")
    areas = areas_by_step(current_measurement(lab.strip))
    shown = page.locator("#areas ~ .table-scroll tbody tr, section:has(#areas) tbody tr")
    assert shown.count() == len(areas)
    press(page, take)
    page.get_by_role("heading", name=f"Densities of {lab.strip.code} for {lab.roll.code}").wait_for()
    wait_until_mounted(page)
    assert_accessible(page)
    in_every_look(page, "scan-take")
    press(page, page.get_by_role("button", name="Store these readings"))
    page.get_by_role("heading", name=lab.roll.code).wait_for()
    stored = {r.step: r.density for r in Reading.objects.filter(strip=lab.strip.strip, is_current=True)}
    assert stored == {step: shown_density(area) for step, area in areas.items()}
    truth = film_densities(lab.roll) | {0: 0.25}
    assert max(abs(stored[step] - truth[step]) for step in stored) < 0.01

    page.goto(reverse("calibration", args=[calibration.pk]))
    wait_until_drawn(page)
    wait_until_mounted(page)
    assert_accessible(page)
    assert page.get_by_text(lab.roll.code).first.is_visible()
    in_every_look(page, "scanner-calibration")
    page.goto(reverse("scanner_list"))
    wait_until_mounted(page)
    assert_accessible(page)
    in_every_look(page, "scanner-list")


def test_a_strip_is_placed_and_turned_over_without_script(
    chromium, live_server, client_for, lab, owner, job_runner
):
    calibration_row(lab.strip)
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    session = client_for(owner).cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
    page = context.new_page()
    address = reverse("scan", args=[lab.strip.pk])
    for _ in range(120):
        page.goto(address)
        if page.get_by_role("button", name="Turn the strip over").count():
            break
        page.wait_for_timeout(500)
    look(page, "scan-without-script")
    corners = lab.strip.placements.get().outline
    page.get_by_text("Type the corners").click()
    page.get_by_label("Corners in pixels").fill(str([[round(x) for x in corner] for corner in corners]))
    page.get_by_label("Steps darken").select_option("left")
    page.get_by_role("button", name="Measure with these corners").click()
    page.get_by_text("The areas are placed; the scan is measured anew.").wait_for()
    assert lab.strip.placements.first().darkens == "left"
    page.get_by_role("button", name="Turn the strip over").click()
    page.get_by_text("The strip is turned over").wait_for()
    assert lab.strip.placements.first().darkens == "right"
    context.close()


def test_an_admin_voids_a_calibration_and_everybody_reads_why(page_for, lab, owner, admin, job_runner):
    calibration = calibration_row(lab.tablet)
    page = page_for(admin)
    page.goto(reverse("calibration", args=[calibration.pk]))
    wait_until_mounted(page)
    press(page, page.get_by_role("link", name="Void this calibration"))
    reason = page.get_by_label("Reason")
    reason.wait_for()
    wait_until_mounted(page)
    assert_accessible(page)
    look(page, "calibration-void")
    page.get_by_label("Reason").focus()
    page.keyboard.type("The tablet was dusty.")
    page.keyboard.press("Enter")
    page.get_by_text("The calibration is void; what rested on it is measured anew.").wait_for()
    other = page_for(owner)
    other.goto(reverse("calibration", args=[calibration.pk]))
    other.get_by_text("The tablet was dusty.").wait_for()
    assert other.get_by_role("link", name="Void this calibration").count() == 0
