"""What a journey leaves for people to look at, and what it asks of every page it passes."""

from pathlib import Path

from axe_playwright_python.sync_playwright import Axe

from labsite import env

SERIOUS = ("serious", "critical")


def look(page, name: str) -> Path:
    """Save a screenshot of the whole page; kept where LABSITE_TEST_SCREENSHOTS says, else with the run."""
    folder = env.folder("TEST_SCREENSHOTS", Path(env.text("TEST_DIR")) / "screenshots")
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.png"
    page.screenshot(path=path, full_page=True)
    return path


def assert_accessible(page) -> None:
    """Fail on any serious fault that axe finds on the page as it stands."""
    found = Axe().run(page).response["violations"]
    faults = [
        f"{fault['id']}: {fault['help']}: {fault['nodes'][0]['html'][:160]}"
        for fault in found
        if fault["impact"] in SERIOUS
    ]
    assert not faults, "\n".join(faults)


def wait_until_drawn(page) -> None:
    """Wait until the figure is drawn; asked by the page itself, so that the content policy holds."""
    page.locator("figure.plot[data-drawn]").first.wait_for()


def is_as_wide_as_its_window(page) -> bool:
    """Whether the page does not scroll sideways (tables scroll within themselves)."""
    return page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
