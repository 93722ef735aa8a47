"""What the readings grid says while it is typed into: numbers, ranges, spread, steps that fall, means."""

import pytest

from curves.importers.numbers import comma_is_decimal, parse_number
from tests.journeys.component_grid import GRID, grid_rows, note, open_grid
from tests.journeys.component_site import ComponentSite

pytestmark = pytest.mark.journey


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    yield site
    site.close()


def test_rows_say_what_to_look_at(site):
    page = open_grid(site, steps=5)
    for name, text in {
        "d-1-1": "0.30",
        "d-2-1": "o.41",
        "d-3-1": "7",
        "d-3-2": "-0.2",
        "d-4-1": "1,234",
        "d-5-1": "0.60",
        "d-5-2": "0.66",
    }.items():
        page.locator(f'[name="{name}"]').fill(text)
    assert note(page, 1) == ""
    assert note(page, 2) == "“o.41” is not a number"
    assert note(page, 3) == "7 is outside −0.1 to 6; −0.2 is outside −0.1 to 6"
    assert note(page, 4) == "“1,234” could mean thousands; write it with a point"
    assert note(page, 5) == "readings differ by 0.06 D"
    invalid = page.locator("input[aria-invalid=true]")
    assert [each.get_attribute("name") for each in invalid.all()] == ["d-2-1", "d-3-1", "d-3-2", "d-4-1"]
    assert page.locator('[name="d-2-1"]').get_attribute("aria-describedby") == "note-2"
    page.locator('[name="d-2-1"]').fill("0.41")
    assert note(page, 2) == "" and page.locator('[name="d-2-1"]').get_attribute("aria-invalid") is None


def test_what_the_server_refused_stands_until_the_row_is_changed(site):
    rows = grid_rows(2, {"d-2-1": "0.41"}, 3)
    rows[2]["cells"][0]["error"] = "was read by another instrument."
    site.put("/grid/", GRID, rows=rows, replicates=[1, 2], direction="rising")
    page = site.open("/grid/")
    page.locator('[name="d-1-1"]').fill("0.30")
    assert note(page, 2) == "Reading 1: was read by another instrument."
    assert page.locator('[name="d-2-1"]').get_attribute("aria-invalid") == "true"
    page.locator('[name="d-2-1"]').fill("0.43")
    assert note(page, 2) == "" and page.locator('[name="d-2-1"]').get_attribute("aria-invalid") is None


def test_warnings_are_announced_for_the_row_at_hand(site):
    page = open_grid(site, steps=3)
    page.locator('[name="d-2-1"]').fill("x")
    page.get_by_text("Step 2: “x” is not a number").wait_for(state="attached")
    assert page.locator("[data-grid-status]").get_attribute("aria-live") == "polite"


@pytest.mark.parametrize(
    ("direction", "values", "falling_step"),
    [
        ("rising", {"d-1-1": "0.40", "d-2-1": "0.30", "d-3-1": "0.60"}, 2),
        ("falling", {"d-1-1": "0.60", "d-2-1": "0.30", "d-3-1": "0.40"}, 2),
        # 0.02 lower: within 1.96 · 0.01 · √2 = 0.028, which reading noise explains.
        ("rising", {"d-1-1": "0.32", "d-2-1": "0.30", "d-3-1": "0.60"}, None),
        # An empty step lies between; its neighbours are compared.
        ("rising", {"d-1-1": "0.40", "d-3-1": "0.30"}, 3),
    ],
)
def test_a_step_that_falls_when_it_should_rise_is_told(site, direction, values, falling_step):
    page = open_grid(site, steps=3, values=values, direction=direction)
    told = [step for step in (1, 2, 3) if "has more exposure than step" in note(page, step)]
    assert told == ([falling_step] if falling_step else [])


def test_replicates_narrow_what_noise_explains(site):
    """Three readings each: 1.96 · 0.01 · √(2/3) = 0.016, so a fall of 0.02 is told."""
    low, high = (
        dict.fromkeys((f"d-2-{r}" for r in (1, 2, 3)), "0.30"),
        dict.fromkeys((f"d-1-{r}" for r in (1, 2, 3)), "0.32"),
    )
    page = open_grid(site, steps=2, values=low | high)
    assert "reads 0.02 D less" in note(page, 2)


def test_means_run_along(site):
    page = open_grid(site, steps=2, values={"d-1-1": "0.30"})
    mean = page.locator('tr[data-step="1"] [data-grid-mean]')
    assert mean.inner_text() == "0.300"
    page.locator('[name="d-1-2"]').fill("0,32")
    assert mean.inner_text() == "0.310"
    page.locator('[name="d-1-3"]').fill("x")
    assert mean.inner_text() == "0.310"


NUMBERS = [
    "0.15",
    "0,15",
    ".5",
    ",5",
    "1,234",
    "0,150",
    "1.5e-1",
    "−0,05",
    "+0.2",
    "1 234",
    "1.234,5",
    "2.",
    "nan",
    "0.1 5",
]


def test_numbers_are_read_by_the_same_rules_as_on_the_server(site):
    site.put("/empty/", "")
    page = site.open("/empty/")
    read = """async texts => {
      const {readCell} = await import("/static/js/grid-values.js");
      return texts.map(text => readCell(text, {minimum: -1e9, maximum: 1e9}).value);
    }"""
    assert page.evaluate(read, NUMBERS) == [parse_number(text, comma="decimal")[0] for text in NUMBERS]
    sure = "texts => import('/static/js/grid-values.js').then(({commaIsDecimal}) => commaIsDecimal(texts))"
    for texts in (["1,234", "0,15"], ["1,234", "2,345"], ["0,15", "0.15"], ["", "x"], ["0.5"]):
        assert page.evaluate(sure, texts) == comma_is_decimal(texts), texts
