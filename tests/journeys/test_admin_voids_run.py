"""An admin voids a run by keyboard, and sees before and after which results follow."""

import pytest
from django.urls import reverse

from tests.factories.labs import open_lab
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards
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
    """A stock of two rolls in two runs; made before any runner takes their jobs."""
    standards = make_standards(admin)
    batch = make_batch(owner)
    runs = [make_run(owner, standards[0]) for _ in range(2)]
    rolls = [
        make_accepted_roll(owner, admin, batch, standards, run=run, seed=seed)
        for seed, run in enumerate(runs, start=1)
    ]
    return {"stock": batch.stock, "runs": runs, "rolls": rolls}


def test_what_rests_on_a_run_is_seen_before_and_after(page_for, owner, admin, visitor, lab, job_runner):
    open_lab()
    run, roll = lab["runs"][0], lab["rolls"][0]
    page = page_for(admin)
    page.goto(reverse("run", args=[run.pk]))
    wait_until_mounted(page)
    page.get_by_role("link", name="Void this run").focus()
    enter_next_page(page)
    assert page.get_by_role("cell", name=f"{roll.code} of 2 rolls").is_visible()
    assert_accessible(page)
    look(page, "void-preview")
    page.get_by_label("What was wrong").focus()
    page.keyboard.type("Mixed at half strength.")
    page.keyboard.press("Tab")
    enter_next_page(page)
    page.get_by_text(f"Run {run.pk} is void.").wait_for()
    assert page.get_by_text("held back: its run is void: Mixed at half strength.").is_visible()
    assert_accessible(page)
    look(page, "void-effects")
    page.get_by_text("past version, marked").first.wait_for()

    outsider = page_for(visitor, width=390)
    address = reverse("stock", args=[lab["stock"].pk])
    for _ in range(60):
        outsider.goto(address)
        if outsider.get_by_text("is being pooled anew").count() == 0:
            break
        outsider.wait_for_timeout(500)
    assert outsider.get_by_text(lab["rolls"][1].code).first.is_visible()
    assert is_as_wide_as_its_window(outsider)
    member = page_for(owner)
    member.goto(reverse("roll", args=[roll.pk]))
    wait_until_mounted(member)
    assert member.get_by_text("its run is void: Mixed at half strength.").first.is_visible()
