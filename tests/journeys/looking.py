"""What a journey leaves for people to look at, and what it asks of every page it passes."""

from pathlib import Path

from axe_playwright_python.sync_playwright import Axe

from labsite import env

SERIOUS = ("serious", "critical")


def look(page, name: str) -> None:
    """Save a screenshot of the whole page where LABSITE_TEST_SCREENSHOTS says; else nobody would see it."""
    if not env.text("TEST_SCREENSHOTS", ""):
        return
    folder = env.folder("TEST_SCREENSHOTS", Path())
    folder.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=folder / f"{name}.png", full_page=True)


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


def wait_until_mounted(page) -> None:
    """Wait until the page's scripts listen; what is pressed before goes to the bare form."""
    page.locator("html[data-ready]").wait_for(state="attached")


def enter_next_page(page) -> None:
    """Press Enter on what leads elsewhere and wait for that page: a bare key waits for nothing by itself."""
    with page.expect_navigation():
        page.keyboard.press("Enter")
    wait_until_mounted(page)


def wait_until(page, condition) -> None:
    """Wait until a condition holds, asked from here: the content policy lets no page poll by itself."""
    for _ in range(1000):
        if condition():
            return
        page.wait_for_timeout(20)
    raise AssertionError("It did not happen within twenty seconds.")


def is_as_wide_as_its_window(page) -> bool:
    """Whether the page does not scroll sideways (tables scroll within themselves)."""
    return page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
