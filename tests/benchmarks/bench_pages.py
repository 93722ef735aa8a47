"""The Compare page of the demo lab in a real browser: how soon it is drawn, and how much is sent."""

import os
import subprocess
import sys
import tempfile
import time
from statistics import median
from urllib.request import urlopen

from tests.private_servers import find_program

RUNS = 7
# The moment at which the figure is drawn and answers; set by the page's own script.
DRAWN = "figure.plot[data-drawn]"


def rows() -> list[dict]:
    """Time the page cold (empty cache) with no stock and with six stocks in colour."""
    with tempfile.TemporaryDirectory() as folder, _demo(folder) as address:
        return [
            _row(address, "compare, 26 stocks, none in colour", "/compare/"),
            _row(
                address,
                "compare, 26 stocks, six in colour with bands",
                "/compare/?stock=2&stock=3&stock=4&stock=5&stock=6&stock=7&bands=1",
            ),
        ]


class _demo:
    """A demo lab of its own, served by its own process."""

    def __init__(self, folder: str):
        environment = os.environ | {"LABSITE_DATA_DIR": folder, "PYTHONUNBUFFERED": "1"}
        command = [sys.executable, "manage.py", "demo", "--port", "0"]
        self._process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)

    def __enter__(self) -> str:
        for line in self._process.stdout:
            if "is at http" in line:
                return line.split("is at ")[1].split()[0].rstrip("/")
        raise RuntimeError("The demo did not start.")

    def __exit__(self, *exception):
        self._process.terminate()
        self._process.wait(timeout=20)


def _row(address: str, name: str, path: str) -> dict:
    from playwright.sync_api import sync_playwright

    drawn, server = [], []
    with sync_playwright() as playwright:
        switches = ["--no-sandbox"] if os.getuid() == 0 else []
        browser = playwright.chromium.launch(
            executable_path=find_program("chromium", package="chromium"), args=switches
        )
        for _ in range(RUNS):
            page = browser.new_context().new_page()
            page.goto(address + path, wait_until="commit")
            page.locator(DRAWN).wait_for()
            drawn.append(page.evaluate("performance.now()") / 1000)
            started = time.perf_counter()
            urlopen(address + path).read()
            server.append(time.perf_counter() - started)
            page.context.close()
        browser.close()
    return {
        "name": name,
        "ours_s": median(drawn),
        "floor_s": median(server),
        "note": f"drawn, cold cache, median of {RUNS}, worst {max(drawn):.2f}; floor: the HTML alone",
    }
