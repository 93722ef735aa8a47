"""The plot and its curve list: drawn under the strict policy, read by keyboard, in every theme's colours."""

import math
import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from curves.figures.styles import DASHES, HUES
from tests.journeys.component_plot import BODY, CURVES, figure
from tests.journeys.component_site import ComponentSite
from tests.journeys.looking import wait_until

pytestmark = pytest.mark.journey

REFERENCE, FIRST, SECOND = 2, 3, 4  # places among the traces


@pytest.fixture
def site(chromium):
    site = ComponentSite(chromium)
    site.put("/theme/", "")
    yield site
    site.close()


@pytest.fixture
def plot(site):
    """``plot(theme="light")``: a page with the figure drawn."""

    def make(theme="light", body=BODY, limits=True, **options):
        site.put("/plot/", body, figure=figure(), curves=CURVES, theme=theme, limits=limits, has_plots=True)
        page = site.open("/plot/", **options)
        page.locator("figure[data-drawn]").wait_for()
        return page

    return make


def stroke(page, trace):
    script = "i => getComputedStyle(document.querySelector(`.tracecurve-${i} .js-line`)).stroke"
    return page.evaluate(script, trace)


def ground(page):
    return page.evaluate("getComputedStyle(document.querySelector('.main-svg')).backgroundColor")


def rgb(colour):
    return "rgb({}, {}, {})".format(*(int(colour[at : at + 2], 16) for at in (1, 3, 5)))


def lit(page):
    """Places of the lit traces, and keys of the lit rows of the table."""
    classes = page.evaluate("[...document.querySelectorAll('.trace.is-lit')].map(e => e.classList.value)")
    traces = [int(re.search(r"tracecurve-(\d+)", each)[1]) for each in classes]
    rows = page.evaluate("[...document.querySelectorAll('tr.is-lit')].map(e => e.dataset.curve)")
    return sorted(traces), rows


def focus_list(page):
    page.get_by_role("listbox", name="Curves").focus()


# --- Colours


@pytest.mark.parametrize(
    ("theme", "paper", "reference"),
    [
        ("light", "rgb(255, 255, 255)", "rgb(0, 0, 0)"),
        ("dark", "rgb(27, 27, 27)", "rgb(255, 255, 255)"),
        ("safelight", "rgb(0, 0, 0)", "rgb(255, 0, 0)"),
    ],
)
def test_figure_takes_the_colours_of_the_theme(plot, theme, paper, reference):
    page = plot(theme)
    assert ground(page) == paper
    assert stroke(page, REFERENCE) == reference
    if theme != "safelight":
        assert [stroke(page, FIRST), stroke(page, SECOND)] == [rgb(HUES[0]), rgb(HUES[1])]


def test_system_theme_follows_the_system_while_the_page_is_open(plot):
    page = plot("system", color_scheme="light")
    assert ground(page) == "rgb(255, 255, 255)"
    page.emulate_media(color_scheme="dark")
    wait_until(page, lambda: ground(page) == "rgb(27, 27, 27)")
    assert stroke(page, REFERENCE) == "rgb(255, 255, 255)"


def test_switching_the_theme_repaints_at_once_keeps_the_zoom_and_tells_the_server(site, plot):
    page = plot()
    page.evaluate("Plotly.relayout(document.querySelector('.plot-canvas'), {'xaxis.range': [-2, -1]})")
    page.get_by_role("button", name="Dark").click()
    wait_until(page, lambda: ground(page) == "rgb(27, 27, 27)" and site.posted)
    assert page.evaluate("document.querySelector('.plot-canvas').layout.xaxis.range") == [-2, -1]
    assert "dark" in site.posted[0]


def test_print_is_light_whatever_the_theme(plot):
    page = plot("safelight")
    page.emulate_media(media="print")
    wait_until(page, lambda: ground(page) == "rgb(255, 255, 255)")
    assert stroke(page, REFERENCE) == "rgb(0, 0, 0)"
    body = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert body == "rgb(255, 255, 255)"


def test_dashes_are_those_of_saved_figures_and_of_the_legend(plot):
    """``curves.figures.styles`` states them; the drawing and the line samples must agree with it."""
    page = plot(
        body=BODY + "".join(f'<svg class="swatch ink-{ink}"><path d="M1 4h28"/></svg>' for ink in range(8))
    )
    painted = """async inks => {
      const {paint, readPalette} = await import("/static/js/plot-theme.js");
      const data = inks.map(ink => ({meta: {role: "stock", ink}}));
      return paint({data}, readPalette()).data.map(({line}) => line.dash);
    }"""
    assert page.evaluate(painted, list(range(8))) == list(DASHES)
    samples = page.evaluate(
        "[...document.querySelectorAll('main > svg.swatch')].map(e => getComputedStyle(e).strokeDasharray)"
    )
    patterns = ["none" if dash == "solid" else dash.replace(",", ", ") for dash in DASHES]
    assert samples == patterns


# --- Reading by keyboard


def test_up_and_down_light_a_curve_in_list_plot_and_table(plot):
    page = plot()
    focus_list(page)
    page.keyboard.press("ArrowDown")
    assert lit(page) == ([0, REFERENCE], ["reference"])
    page.keyboard.press("ArrowDown")
    assert lit(page) == ([FIRST], ["s0"])
    dimmed = page.evaluate("getComputedStyle(document.querySelector('.tracecurve-4')).opacity")
    assert float(dimmed) < 0.5
    assert page.evaluate("getComputedStyle(document.querySelector('.tracecurve-2')).opacity") == "1"
    active = page.get_by_role("listbox").get_attribute("aria-activedescendant")
    assert page.locator(f"#{active}").inner_text() == "Birchwater 50"
    page.keyboard.press("ArrowUp")
    assert lit(page)[1] == ["reference"]


def test_space_pins_and_escape_lets_all_go(plot):
    page = plot()
    focus_list(page)
    for key in ("ArrowDown", "ArrowDown", "Space", "ArrowDown"):
        page.keyboard.press(key)
    assert lit(page) == ([FIRST, SECOND], ["s0", "s1"])
    selected = page.locator('[role=option][aria-selected="true"]')
    assert selected.all_inner_texts() == ["Birchwater 50"]
    page.keyboard.press("Tab")  # leaving the list keeps what is pinned
    assert lit(page)[0] == [FIRST]
    focus_list(page)
    page.keyboard.press("Escape")
    assert lit(page)[1] == []


def test_left_and_right_read_densities_aloud_and_never_outside_what_was_measured(plot):
    page = plot()
    focus_list(page)
    page.keyboard.press("End")
    page.keyboard.press("ArrowLeft")
    readout = page.locator("[data-curve-readout]")
    assert readout.get_attribute("aria-live") == "polite"
    spoken = readout.inner_text()
    at = float(re.search(r"\(log₁₀ lux·s\) (−?[\d.]+)\.", spoken)[1].replace("−", "-"))
    expected = 0.2 + 2.2 / (1 + math.exp(-1.6 * (at + 1.2)))
    # Straight lines between samples 0.04 apart stay within 0.001 of this curve; two decimals are shown.
    reference, stock = (float(number) for number in re.findall(r": ([\d.]+) D", spoken))
    assert reference == pytest.approx(expected, abs=0.006)
    assert stock == pytest.approx(expected + 0.3, abs=0.006)
    for _ in range(3):
        page.keyboard.press("Shift+ArrowLeft")
    assert "Candlewick 200: not measured here" in readout.inner_text()
    cursor = page.locator(".plot-cursor")
    assert cursor.is_visible()
    axis = page.evaluate(
        "(a => a._offset + a.d2p(-3))(document.querySelector('.plot-canvas')._fullLayout.xaxis)"
    )
    canvas = page.locator(".plot-canvas").bounding_box()["x"]
    assert cursor.bounding_box()["x"] - canvas == pytest.approx(axis, abs=2)


def test_question_mark_lists_the_keys(plot):
    page = plot()
    focus_list(page)
    page.keyboard.press("?")
    dialog = page.get_by_role("dialog", name="Keys of the curve list")
    assert dialog.is_visible() and "step the exposure" in dialog.inner_text()
    page.keyboard.press("Escape")
    assert dialog.is_hidden()
    assert page.evaluate("document.activeElement.getAttribute('role')") == "listbox"


# --- Rows and curves


def test_a_row_lights_its_curve_under_the_pointer_and_under_the_focus(plot):
    page = plot()
    page.locator("tr[data-curve=s1]").hover()
    assert lit(page) == ([SECOND], ["s1"])
    page.mouse.move(0, 0)
    assert lit(page) == ([], [])
    page.get_by_role("link", name="Birchwater 50").focus()
    assert lit(page) == ([FIRST], ["s0"])


def test_a_curve_lights_its_row(plot):
    page = plot()
    place = page.evaluate(
        """() => {
          const canvas = document.querySelector(".plot-canvas");
          const {xaxis, yaxis} = canvas._fullLayout;
          const {x, y} = canvas.data[4];
          const box = canvas.getBoundingClientRect();
          return [box.x + xaxis._offset + xaxis.d2p(x[50]), box.y + yaxis._offset + yaxis.d2p(y[50])];
        }"""
    )
    page.mouse.move(*place)
    page.mouse.move(place[0] + 1, place[1])
    page.locator("tr.is-lit[data-curve=s1]").wait_for()


# --- Saving, limits, screen readers


def test_saved_svg_is_in_the_colours_of_paper_with_title_and_legend(plot):
    page = plot("safelight")
    with page.expect_download() as caught:
        page.get_by_role("button", name="Save as SVG").click()
    assert caught.value.suggested_filename == "alder.svg"
    with open(caught.value.path(), encoding="utf-8") as file:
        svg = file.read()
    assert svg.startswith("<svg") and "Characteristic curves" in svg
    assert rgb(HUES[0]) in svg and "rgb(255, 255, 255)" in svg and "rgb(255, 0, 0)" not in svg
    assert svg.count('class="legendtext"') == 3


def test_saved_png_is_a_picture(plot):
    page = plot()
    with page.expect_download() as caught:
        page.get_by_role("button", name="Save as PNG").click()
    with open(caught.value.path(), "rb") as file:
        head = file.read(24)
    assert head[:8] == b"\x89PNG\r\n\x1a\n"
    assert (int.from_bytes(head[16:20], "big"), int.from_bytes(head[20:24], "big")) == (2400, 1600)


def test_limits_can_be_typed_and_taken_back(plot):
    page = plot()
    page.get_by_text("Limits of the axes").click()
    page.get_by_label("Left").fill("-2,5")
    page.get_by_label("Right").fill("0")
    page.get_by_role("button", name="Set").click()
    axis = "document.querySelector('.plot-canvas').layout.xaxis"
    page.get_by_text("The limits are set.").wait_for(state="attached")
    assert page.evaluate(axis + ".range") == [-2.5, 0]
    page.get_by_label("Left").fill("far")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("A limit is a number").wait_for(state="attached")
    assert page.evaluate("document.activeElement.validationMessage").startswith("A limit is a number"), "seen"
    page.get_by_label("Left").fill("0.5")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("This limit must be more than 0.5.").wait_for(state="attached")
    assert page.evaluate(axis + ".range") == [-2.5, 0], "a refused limit changes nothing"
    page.get_by_role("button", name="Whole range").click()
    page.get_by_text("The whole range is shown.").wait_for(state="attached")
    assert page.evaluate(axis + ".range")[0] < -2.9


def limits_of(page):
    return [page.get_by_label(name).input_value() for name in ("Left", "Right", "Bottom", "Top")]


def test_the_fields_show_what_was_zoomed_and_the_page_is_told(plot):
    page = plot()
    page.evaluate(
        "document.querySelector('.plot').addEventListener('plot:limits', ({target}) => {"
        " target.dataset.told = target.querySelector('[name=left]').value })"
    )
    box = page.locator(".plot-canvas .nsewdrag").first.bounding_box()
    page.mouse.move(box["x"] + 100, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 160, steps=4)
    page.mouse.up()
    page.locator(".plot[data-told^='-']").wait_for()
    zoomed = [float(text) for text in limits_of(page)]
    axes = "['xaxis', 'yaxis'].flatMap(a => document.querySelector('.plot-canvas').layout[a].range)"
    assert zoomed == pytest.approx(page.evaluate(axes), abs=0.002)
    assert zoomed[0] < zoomed[1] and zoomed[2] < zoomed[3]
    page.get_by_role("button", name="Whole range").click()
    page.get_by_text("The whole range is shown.").wait_for(state="attached")
    assert limits_of(page) == ["", "", "", ""]


def test_limits_that_come_with_the_page_are_shown_and_taken_back(plot):
    texts = {"left": "-2.5", "right": "", "bottom": "", "top": "2"}
    body = BODY.replace("limits=True", "limits=limits")
    page = plot(body=body, limits={"texts": texts, "is_set": True})
    shown = "document.querySelector('.plot-canvas').layout"
    assert page.get_by_label("Left").is_visible(), "what is set is not folded away"
    assert page.evaluate(shown + ".xaxis.range")[0] == -2.5
    assert page.evaluate(shown + ".yaxis.range")[1] == 2
    assert limits_of(page) == ["-2.5", "", "", "2"]
    page.get_by_role("button", name="Whole range").click()
    page.get_by_text("The whole range is shown.").wait_for(state="attached")
    assert page.evaluate(shown + ".xaxis.range")[0] < -2.5 and limits_of(page) == ["", "", "", ""]


def test_limits_between_which_nothing_is_drawn_are_refused(plot):
    page = plot()
    page.get_by_text("Limits of the axes").click()
    page.get_by_label("Left").fill("50")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("Nothing is drawn between these limits.").wait_for(state="attached")
    page.get_by_label("Left").fill("-500")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("would be less than a hundredth of the axis.").wait_for(state="attached")
    assert page.evaluate("document.querySelector('.plot-canvas').layout.xaxis.autorange") is True


def test_limits_stay_in_other_colours_and_in_what_is_saved(plot):
    page = plot()
    page.get_by_text("Limits of the axes").click()
    page.get_by_label("Left").fill("-1")
    page.get_by_label("Right").fill("-0.5")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("The limits are set.").wait_for(state="attached")
    ink = "getComputedStyle(document.querySelector('.tracecurve-2 .js-line')).stroke"
    before = page.evaluate(ink)
    page.get_by_role("button", name="Dark").click()
    page.wait_for_function(f"{ink} !== '{before}'")
    assert page.evaluate("document.querySelector('.plot-canvas').layout.xaxis.range") == [-1, -0.5]
    with page.expect_download() as caught:
        page.get_by_role("button", name="Save as SVG").click()
    svg = caught.value.path().read_text(encoding="utf-8")
    ticks = re.findall(r'class="xtick"><text[^>]*>([^<]*)', svg)
    assert ticks and all(-1 <= float(tick.replace("−", "-")) <= -0.5 for tick in ticks)


def test_limits_of_a_logarithmic_axis_are_typed_as_they_are_read(site):
    drawn = figure()
    for trace in drawn["data"]:
        trace["x"] = [10 ** (2 + each / 3) for each in trace["x"]]
    drawn["layout"]["xaxis"]["type"] = "log"
    site.put("/plot/", BODY, figure=drawn, curves=CURVES, theme="light", has_plots=True)
    page = site.open("/plot/")
    page.locator("figure[data-drawn]").wait_for()
    page.get_by_text("Limits of the axes").click()
    page.get_by_label("Left").fill("0")
    page.get_by_label("Right").fill("1000")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("no place for zero or less").wait_for(state="attached")
    page.get_by_label("Left").fill("10")
    page.get_by_role("button", name="Set").click()
    page.get_by_text("The limits are set.").wait_for(state="attached")
    assert page.evaluate("document.querySelector('.plot-canvas').layout.xaxis.range") == [1, 3]


def test_on_a_narrow_page_the_curve_list_names_the_curves_instead_of_the_drawing(plot):
    page = plot(viewport={"width": 390, "height": 800})
    label = page.locator(".annotation", has_text="Birchwater 50")
    assert label.count() == 0
    width = page.evaluate("document.querySelector('.plot-canvas')._fullLayout._size.w")
    assert width > 0.75 * page.locator(".plot-canvas").bounding_box()["width"]
    page.set_viewport_size({"width": 1280, "height": 800})
    label.wait_for()


def test_screen_readers_get_description_and_table_instead_of_the_drawing(plot):
    page = plot()
    tree = page.locator("figure").aria_snapshot()
    assert "Three characteristic curves." in tree and "The numbers as a table" in tree
    assert "log exposure" not in tree, "the drawing itself is hidden"


@pytest.mark.parametrize("theme", ["light", "dark", "safelight"])
@pytest.mark.parametrize("width", [320, 1280])
def test_no_serious_accessibility_fault(plot, theme, width):
    page = plot(theme, viewport={"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") == width
    focus_list(page)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowRight")
    found = Axe().run(page).response["violations"]
    assert [(each["id"], each["help"]) for each in found if each["impact"] in ("serious", "critical")] == []


def test_without_script_the_figure_sends_one_to_its_table(site):
    site.put("/plot/", BODY, figure=figure(), curves=CURVES, has_plots=True)
    page = site.open("/plot/", java_script_enabled=False)
    assert page.get_by_text("its numbers are in the table").is_visible()
    assert page.get_by_role("link", name="The numbers as a table").get_attribute("href") == "#numbers"
    assert page.get_by_role("button").count() == 2, "only the theme's plain buttons are left"
