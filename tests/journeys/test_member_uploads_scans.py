"""A member uploads scans by keyboard: two files, a line that drops, a reload; then says what they show."""

import numpy as np
import pytest
import tifffile

from scans.models import Scan, Upload
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import make_scanner
from tests.journeys.looking import assert_accessible, is_as_wide_as_its_window, look, wait_until_mounted

pytestmark = pytest.mark.journey
UPLOADS = "**/api/v1/uploads/**"


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def roll(owner, admin):
    make_scanner(admin, "Flatbed 3")
    return make_roll(owner, make_batch(owner), make_standards(admin))


@pytest.fixture
def files(tmp_path):
    """Two scans of about 11 MB, three pieces each."""
    rng = np.random.default_rng(7)
    paths = []
    for name in ("strip 1.tif", "strip 2.tif"):
        path = tmp_path / name
        noise = rng.integers(20_000, 40_000, (2200, 2500), dtype=np.uint16)
        tifffile.imwrite(path, noise, resolution=(2400, 2400), metadata=None, software="")
        paths.append(path)
    return paths


@pytest.fixture
def open_page(chromium, live_server, client_for):
    """``open_page(user)``: like ``page_for``, but a line that drops is part of the story."""
    contexts, faults = [], []

    def make(user, *, width=1280, scheme="light"):
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": width, "height": 900}, color_scheme=scheme
        )
        contexts.append(context)
        session = client_for(user).cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": session, "url": live_server.url}])
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        # From the start: a dialog that opens before somebody listens for it is lost.
        page.on("filechooser", lambda chooser: None)
        return page

    yield make
    for context in contexts:
        context.close()
    assert not faults, "\n".join(faults)


class Line:
    """The line between browser and site: lets so many pieces through, then drops until it is mended."""

    def __init__(self, page, pieces):
        self.left, self.offsets = pieces, []
        page.route(UPLOADS, self._carry)

    def _carry(self, route):
        if route.request.method == "PATCH":
            self.offsets.append(int(route.request.headers["upload-offset"]))
            self.left -= 1
        if self.left < 0 and route.request.method in ("PATCH", "HEAD"):
            route.abort("connectionreset")
        else:
            route.continue_()

    def mend(self):
        """Let everything through."""
        self.left = 10**6


def choose(page, paths):
    """Open the file dialog from the keyboard and choose."""
    page.get_by_label("Files", exact=True).focus()
    with page.expect_file_chooser() as chooser:
        page.keyboard.press("Enter")
    chooser.value.set_files(paths)


def row_of(page, name):
    return page.locator(".upload", has_text=name)


def test_two_files_go_up_over_a_line_that_drops_and_are_described(open_page, owner, roll, files, job_runner):
    page = open_page(owner)
    page.goto(f"/scans/upload/?roll={roll.pk}&shows=strip")
    wait_until_mounted(page)
    assert_accessible(page)
    look(page, "upload-empty")
    line = Line(page, pieces=3)
    choose(page, files)
    first = row_of(page, "strip 1.tif")
    first.get_by_text("The line is down").wait_for()
    assert "MB are there" in first.inner_text()
    assert_accessible(page)
    look(page, "upload-line-down")

    # Paused by keyboard: the focus goes where it can go on.
    first.get_by_role("button", name="Pause").focus()
    page.keyboard.press("Enter")
    first.get_by_text("Paused:").wait_for()
    assert "is paused" in page.get_by_role("status").last.inner_text()
    assert first.get_by_role("button", name="Go on strip 1.tif").evaluate("e => e === document.activeElement")
    line.mend()
    page.keyboard.press("Enter")
    for row in (first, row_of(page, "strip 2.tif")):
        row.get_by_text("Ready: TIFF, 16 bits, grey, 2500 × 2200 pixels, 2400 ppi.").wait_for(timeout=60_000)
    assert max(line.offsets) > 0
    assert_accessible(page)
    look(page, "upload-ready")
    assert is_as_wide_as_its_window(page)
    for scan, path in zip(Scan.objects.order_by("filename"), files, strict=True):
        assert scan.file.path.read_bytes() == path.read_bytes()
        assert (scan.roll, scan.shows, scan.strip) == (roll, "strip", roll.strips.get())

    page.get_by_role("link", name="Say what they show").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What 2 scans show").wait_for()
    wait_until_mounted(page)
    assert page.get_by_label("They show").input_value() == "strip"
    page.get_by_label("Scanner (optional)").select_option(label="Flatbed 3")
    page.get_by_label("Holder or glass").fill("film holder")
    assert_accessible(page)
    look(page, "describe-several")
    page.get_by_role("button", name="Save all").focus()
    page.keyboard.press("Enter")
    page.get_by_text("2 scans are described.").wait_for()
    assert Scan.objects.filter(scanner__name="Flatbed 3", settings={"holder": "film holder"}).count() == 2
    wait_until_mounted(page)
    assert_accessible(page)
    look(page, "scan-list")


def test_after_a_reload_the_same_file_goes_on_where_it_was(open_page, owner, roll, files, job_runner):
    page = open_page(owner, width=390, scheme="dark")
    page.goto("/scans/upload/")
    wait_until_mounted(page)
    line = Line(page, pieces=2)
    choose(page, files[:1])
    row_of(page, "strip 1.tif").get_by_text("The line is down").wait_for()
    page.once("dialog", lambda dialog: dialog.accept())
    page.reload()
    wait_until_mounted(page)
    unfinished = page.locator("[data-unfinished]")
    assert "8.4 MB of 11.0 MB are here" in unfinished.inner_text()
    look(page, "upload-unfinished-390-dark")
    sent = len(line.offsets)
    line.mend()
    choose(page, files[:1])
    row_of(page, "strip 1.tif").get_by_text("Ready: TIFF").wait_for(timeout=60_000)
    assert line.offsets[sent:] == [8 * 2**20], "only what was missing is sent"
    assert unfinished.count() == 0
    assert Scan.objects.get().file.path.read_bytes() == files[0].read_bytes()
    assert is_as_wide_as_its_window(page)
    look(page, "upload-ready-390-dark")
    page.get_by_role("link", name="Say what it shows").click()
    wait_until_mounted(page)
    assert is_as_wide_as_its_window(page)
    assert_accessible(page)
    look(page, "describe-390-dark")
    page.goto("/scans/")
    wait_until_mounted(page)
    assert is_as_wide_as_its_window(page)
    look(page, "scan-list-390-dark")


def test_what_is_no_scan_is_refused_with_its_reason_and_a_repeat_is_told(
    open_page, owner, tmp_path, job_runner
):
    text = tmp_path / "notes.tif"
    text.write_bytes(b"not a picture at all")
    page = open_page(owner)
    page.goto("/scans/upload/")
    wait_until_mounted(page)
    for _ in range(2):
        choose(page, [text])
        row = row_of(page, "notes.tif").last
        row.get_by_text("It can't be read. The content is not TIFF, PNG or JPEG").wait_for(timeout=60_000)
    row.get_by_text("You had uploaded this very file already").wait_for()
    assert Scan.objects.count() == 1
    look(page, "upload-refused")
    empty = tmp_path / "empty.tif"
    empty.write_bytes(b"")
    choose(page, [empty])
    row_of(page, "empty.tif").get_by_text("Stopped. empty.tif holds nothing.").wait_for()
    row_of(page, "empty.tif").get_by_role("button", name="Cancel").click()
    assert not Upload.objects.filter(completed_at=None).exists()
