"""The Compare pages with fifty stocks, in a lab of fifty and in one of a thousand with five thousand rolls.

Each lab is made in a folder of its own, served by its own process and asked by a real browser with an empty
cache, whose window is open and at rest before the clock starts. "drawn" is when the figure stands and
answers, "again" the same when the page is opened once more in that window, "paint" the browser's own
largest contentful paint, an "interaction" lasts from a press to the page that answers it, drawn. The floor is
the HTML alone.
"""

import gzip
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from urllib.error import URLError
from urllib.request import urlopen

from tests.private_servers import find_program

RUNS = 5
FIFTY = ".".join(str(pk) for pk in range(2, 52))
DRAWN = "figure.plot[data-drawn]"
PAGES = (
    ("50 stocks over the reference", f"/compare/?stocks={FIFTY}&bands=1", DRAWN),
    ("50 differences, contrast matched", f"/compare/?stocks={FIFTY}&view=difference&align=contrast", DRAWN),
    ("50 panels", f"/compare/?stocks={FIFTY}&view=panels&align=speed_point", ".stock-panel"),
)
LISTS = (
    ("list of stocks", "/stocks/"),
    ("list of stocks, filtered", "/stocks/?format=120&slowest=50&fastest=200&sort=-contrast"),
    ("filtered comparison", "/compare/?speed_from=50&speed_to=200&format=120&sort=-average_gradient_150"),
    ("comparison by sharpness", "/compare/?sort=-film_mtf50"),
)
SERVED = (
    ("relatives of a stock", "/stocks/3/relatives/"),
    ("map of stocks", "/compare/relatives/"),
)
READY = "html[data-ready]"
MAKE = """
import django
django.setup()
from labsite.accounts.models import User
from labsite.accounts.services import update_lab
from tests.factories.many_stocks import make_many_stocks
from tests.factories.rolls import make_standards
admin = User.objects.create_user(
    "admin", "grey-card-18", display_name="Ada Minster", initials="AM", role="admin"
)
update_lab(actor=admin, name="Lab", contact="", is_open_to_visitors=True)
make_many_stocks(admin, make_standards(admin), stocks=%d)
"""


def rows() -> Iterator[dict]:
    """Each page in both labs, side by side; the ratio is the large lab's time over the small one's."""
    with (
        tempfile.TemporaryDirectory() as first,
        tempfile.TemporaryDirectory() as second,
        _Lab(first, 51) as small,
        _Lab(second, 1000) as large,
    ):
        for name, path, drawn in PAGES:
            yield from _page_rows(name, path, drawn, small.address, large.address)
        yield from (_interaction_row(lab) for lab in (small, large))
        for name, path in LISTS:
            yield from _page_rows(name, path, READY, small.address, large.address)
        for name, path in SERVED:
            ours = {lab: _server_seconds(lab.address + path) for lab in (small, large)}
            yield {
                "name": f"{name}, 1,000 stocks, server",
                "ours_s": ours[large],
                "floor_s": ours[small],
                "ratio": ours[large] / ours[small],
                "note": "floor: the same in a lab of 51 stocks",
            }


class _Lab:
    """A lab of its own with this many stocks of five rolls each."""

    def __init__(self, folder: str, stocks: int):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        self.stocks = stocks
        self.address = f"http://127.0.0.1:{port}"
        environment = os.environ | {
            "LABSITE_DATA_DIR": folder,
            "LABSITE_NO_BOOTSTRAP": "1",
            "DJANGO_SETTINGS_MODULE": "labsite.settings",
            "PYTHONPATH": str(Path.cwd()),
        }
        manage = [sys.executable, "manage.py"]
        for command in (
            [*manage, "migrate", "--verbosity", "0"],
            [*manage, "collectstatic", "--noinput", "--verbosity", "0"],
            [sys.executable, "-c", MAKE % stocks],
        ):
            subprocess.run(command, env=environment, check=True, stdout=subprocess.DEVNULL)
        serve = f"import waitress, labsite.wsgi as w; waitress.serve(w.application, port={port}, threads=4)"
        self._process = subprocess.Popen(
            [sys.executable, "-c", serve],
            env=environment | {"LABSITE_ALLOWED_HOSTS": "127.0.0.1"},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def __enter__(self):
        for _ in range(120):
            try:
                urlopen(f"{self.address}/compare/").read()
                return self
            except (URLError, ConnectionError):
                time.sleep(0.25)
        self.__exit__()
        raise RuntimeError("The lab did not start.")

    def __exit__(self, *exception):
        self._process.terminate()
        self._process.wait(timeout=20)


def _page_rows(name: str, path: str, drawn: str, small: str, large: str) -> list[dict]:
    made = {}
    for label, address in (("51", small), ("1,000", large)):
        times, paints, again = _browser_seconds(address + path, drawn)
        made[label] = median(times)
        body = urlopen(address + path).read()
        yield_row = {
            "name": f"{name}, lab of {label}",
            "ours_s": median(times),
            "floor_s": _server_seconds(address + path),
            "ratio": made[label] / made["51"],
            "note": f"paint {median(paints):.2f} s, again {median(again):.2f} s,"
            f" {len(gzip.compress(body)) / 1024:.0f} KB compressed,"
            f" worst {max(times):.2f} s of {RUNS}; ratio: to the lab of 51",
        }
        made[f"row {label}"] = yield_row
    return [made["row 51"], made["row 1,000"]]


def _browser():
    from playwright.sync_api import sync_playwright

    return sync_playwright()


def _launched(playwright):
    switches = ["--no-sandbox"] if os.getuid() == 0 else []
    program = find_program("chromium", package="chromium")
    return playwright.chromium.launch(executable_path=program, args=switches)


PAINT = """() => new Promise((done) => {
  new PerformanceObserver((list) => done(list.getEntries().at(-1).startTime / 1000))
    .observe({ type: "largest-contentful-paint", buffered: true });
  setTimeout(() => done(NaN), 2000);
})"""


#: Tells when the page is ready without asking it again and again, which would take its time.
WATCH = """
window.readyAt = new Promise((done) => {
  new MutationObserver((_, watch) => {
    if (!document.querySelector("%s")) return;
    watch.disconnect();
    done(performance.now() / 1000);
  }).observe(document, { subtree: true, childList: true, attributeFilter: ["data-drawn", "data-ready"] });
});
"""
REST_MS = 1500


def _browser_seconds(address: str, drawn: str) -> tuple[list[float], list[float], list[float]]:
    """Seconds until drawn and until painted at the first visit, and until drawn at the next."""
    times, paints, again = [], [], []
    with _browser() as playwright:
        browser = _launched(playwright)
        for _ in range(RUNS):
            page = browser.new_context().new_page()
            page.add_init_script(WATCH % drawn)
            page.goto("about:blank")
            page.wait_for_timeout(REST_MS)  # a new window makes its own frame, which is not the page's time
            page.goto(address, wait_until="commit")
            times.append(page.evaluate("window.readyAt"))
            paints.append(page.evaluate(PAINT))
            page.goto(address, wait_until="commit")
            again.append(page.evaluate("window.readyAt"))
            page.context.close()
        browser.close()
    return times, paints, again


def _interaction_row(lab: _Lab) -> dict:
    """From the press of Show, with another alignment chosen, to the new figure drawn."""
    times = []
    with _browser() as playwright:
        browser = _launched(playwright)
        page = browser.new_context().new_page()
        page.add_init_script(WATCH % DRAWN)
        page.goto(f"{lab.address}/compare/?stocks={FIFTY}")
        page.evaluate("window.readyAt")
        page.wait_for_timeout(REST_MS)
        for align in ("speed_point", "contrast", "exposure", "shadow_density", "exposure")[:RUNS]:
            page.get_by_label("Align").select_option(align)
            started = page.evaluate("performance.timeOrigin + performance.now()")
            with page.expect_navigation(wait_until="commit"):
                page.get_by_role("button", name="Show").click()
            ready = page.evaluate("window.readyAt.then((at) => performance.timeOrigin + at * 1000)")
            times.append((ready - started) / 1000)
        browser.close()
    return {
        "name": f"press Show: other alignment, lab of {lab.stocks}",
        "ours_s": median(times),
        "note": f"worst {max(times):.2f} s of {RUNS}",
    }


def _server_seconds(address: str) -> float:
    seconds = []
    for _ in range(RUNS):
        started = time.perf_counter()
        urlopen(address).read()
        seconds.append(time.perf_counter() - started)
    return median(seconds)
