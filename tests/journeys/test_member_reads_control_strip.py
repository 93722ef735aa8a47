"""A member reads a control strip by keyboard: told at once that the run is out, why, and what to look at."""

import numpy as np
import pytest
from django.urls import reverse

from curves.models import ControlStrip, ProcessRun
from tests.factories.standards import make_process
from tests.factories.strips import AS_USUAL, FIRST_DAY, make_aims, make_strip_batch, next_run
from tests.journeys.looking import (
    assert_accessible,
    enter_next_page,
    is_as_wide_as_its_window,
    look,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey


@pytest.fixture
def lab(owner, admin):
    """Aims from ten runs, and the run of today."""
    process = make_process(
        admin, agitation_initial_s=2, agitation_every_s=30, agitation_for_s=5, stop_s=30, fix_s=300
    )
    batch = make_strip_batch(admin)
    make_aims(admin, owner, process, batch)
    return process, batch, next_run(owner, process)


def test_out_of_control_by_keyboard(page_for, owner, lab):
    _, _, run = lab
    page = page_for(owner)
    page.goto(reverse("run", args=[run.pk]))
    wait_until_mounted(page)
    page.get_by_role("link", name="Read a strip").focus()
    enter_next_page(page)
    page.get_by_label("Base plus fog, D").focus()
    for text in ("0,29", "0,46", "1,68", "2,60"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    assert_accessible(page)
    look(page, "strip-read")
    enter_next_page(page)  # by the button after the last field
    page.get_by_text(f"Run {run.pk} is out of control").wait_for()
    assert page.get_by_text("One point lies beyond three standard deviations.").first.is_visible()
    assert page.get_by_role("heading", name="Likely causes").is_visible()
    assert page.get_by_text("More development than usual.").is_visible()
    assert_accessible(page)
    look(page, "run-out-by-strip")
    page.get_by_role("link", name="Control charts").last.focus()
    enter_next_page(page)
    page.locator("#chart-individuals[data-drawn]").wait_for()
    slider = page.get_by_role("slider", name="Run under the cursor")
    slider.focus()
    page.keyboard.press("Home")
    assert slider.get_attribute("aria-valuenow") == "1"
    page.keyboard.press("s")
    assert "breaks a rule" in slider.get_attribute("aria-valuetext")
    assert page.locator(".plot-cursor").first.is_visible()
    assert_accessible(page)
    look(page, "control-chart")


def test_five_thousand_strips_are_drawn_and_moved_soon(page_for, owner, admin):
    process, batch = make_process(admin), make_strip_batch(admin)
    rng = np.random.default_rng(4)
    runs = ProcessRun.objects.bulk_create(
        ProcessRun(
            revision=process, operator=owner, ran_on=FIRST_DAY, temperature_start_c=20.0,
            development_time_s=510, developer_batch=f"H-{number // 20}",
        )
        for number in range(5000)
    )  # fmt: skip
    ControlStrip.objects.bulk_create(
        ControlStrip(
            run=run, batch=batch, replicate=1, read_by=owner,
            **{place: value + rng.normal(0, 0.01) for place, value in AS_USUAL.items()},
        )
        for run in runs
    )  # fmt: skip
    page = page_for(owner)
    page.goto(f"{reverse('control_charts')}?revision={process.pk}")
    page.locator("#chart-individuals[data-drawn]").wait_for()
    canvas = "document.querySelector('#chart-individuals [data-plot-canvas]')"
    moved = page.evaluate(
        "async () => {"
        f" const canvas = {canvas}; const [low, high] = canvas._fullLayout.xaxis.range;"
        " const start = performance.now();"
        " await Plotly.relayout(canvas, {'xaxis.range': [low + 500, high + 500]});"
        " return performance.now() - start; }"
    )
    # The goal is 1.5 s on a quiet machine (see the benchmark); a loaded one gets thrice that.
    assert moved < 4500
    page.get_by_role("button", name="Newest 60").focus()
    page.keyboard.press("Enter")
    slider = page.get_by_role("slider", name="Run under the cursor")
    slider.focus()
    page.keyboard.press("PageDown")
    assert slider.get_attribute("aria-valuenow") == "4950"
    assert "4950 of 5000" in page.locator("[data-chart-readout]").inner_text()


def test_a_run_is_timed_without_a_connection(page_for, owner, lab):
    _, _, run = lab
    page = page_for(owner, width=390)
    page.goto(reverse("run_timer", args=[run.pk]))
    wait_until_mounted(page)
    assert is_as_wide_as_its_window(page)
    assert_accessible(page)
    look(page, "run-timer")
    page.context.set_offline(True)
    page.keyboard.press("Space")
    page.get_by_text("Agitate now.").wait_for()
    page.get_by_text("Let it stand.").wait_for()
    page.keyboard.press("n")
    page.get_by_text("2 of 4: Stop bath").wait_for()
    page.wait_for_timeout(1100)
    page.context.set_offline(False)
    page.reload()
    wait_until_mounted(page)
    page.get_by_text("2 of 4: Stop bath").wait_for()
    for _ in range(3):
        page.get_by_role("button", name="Next step").focus()
        page.keyboard.press("Enter")
    page.get_by_text("All steps are done.").wait_for()
    assert page.get_by_label("Stop bath, min:s").input_value() != ""
    page.get_by_role("button", name="Safelight").click()
    assert page.evaluate("document.documentElement.dataset.theme") == "safelight"
    look(page, "run-timer-safelight")
    page.get_by_label("Develop, min:s").fill("8:30")
    page.get_by_role("button", name="Save the times").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Times as measured").wait_for()
