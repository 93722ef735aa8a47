"""An admin reviews a roll: returned with what to mend, mended, accepted; others are refused."""

import pytest
from django.urls import reverse

from curves.models import Reading, RollState
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)
from tests.journeys.looking import (
    assert_accessible,
    is_as_wide_as_its_window,
    look,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def submitted(owner, admin, standards):
    """A submitted roll of a stock with an accepted one; made before any runner takes its jobs."""
    batch = make_batch(owner)
    make_accepted_roll(owner, admin, batch, standards)
    return make_submitted_roll(owner, batch, standards, seed=2)


def test_returned_mended_and_accepted(page_for, submitted, job_runner, owner, admin):
    roll = submitted
    url = reverse("roll", args=[roll.pk])

    desk = page_for(admin)
    desk.goto(reverse("review_queue"))
    wait_until_mounted(desk)
    assert_accessible(desk)
    look(desk, "review-queue")
    desk.get_by_role("link", name=roll.code).click()
    wait_until_drawn(desk)
    desk.locator("#earlier-curves[data-drawn]").wait_for()
    assert_accessible(desk)
    look(desk, "roll-under-review")
    desk.get_by_label("What the member should mend").fill("Read step 12 again, please.")
    desk.get_by_role("button", name="Return the roll").click()
    desk.get_by_text("The roll is returned to its member.").wait_for()

    bench = page_for(owner)
    bench.goto(url)
    wait_until_mounted(bench)
    bench.get_by_role("heading", name="Next: mend what the review asks for").wait_for()
    assert bench.locator(".asked").get_by_text("Read step 12 again, please.").is_visible()
    look(bench, "roll-returned")
    bench.get_by_role("link", name="Correct the readings").first.click()
    wait_until_mounted(bench)
    old = Reading.objects.get(strip__roll=roll, step=12, replicate=1, is_current=True).density
    bench.locator('[name="d-12-1"]').fill(f"{old + 0.01:.2f}")
    bench.get_by_role("button", name="Save the readings").click()
    bench.locator(".stage-now", has_text="Readings").wait_for()  # fitted again: to mend or to submit
    bench.get_by_role("button", name="Submit again").click()
    bench.get_by_role("heading", name="Waiting for an admin's review").wait_for()

    desk.goto(url)
    wait_until_mounted(desk)
    assert desk.get_by_text("Corrected after return").is_visible()
    desk.get_by_label("Note").fill("Now clean.")
    desk.get_by_role("button", name="Accept the roll").click()
    desk.get_by_role("heading", name="Accepted on").wait_for()
    roll.refresh_from_db()
    assert roll.state == RollState.ACCEPTED
    assert_accessible(desk)
    look(desk, "roll-accepted")


def test_a_roll_is_void_only_with_a_reason(page_for, owner, admin, standards):
    roll = make_accepted_roll(owner, admin, make_batch(owner), standards)
    page = page_for(admin)
    page.goto(reverse("roll", args=[roll.pk]))
    wait_until_mounted(page)
    page.get_by_role("button", name="Void the roll").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Void the roll").click()
    assert dialog.is_visible(), "the browser asks for the reason"
    dialog.get_by_label("Reason").fill("Exposed with the wrong tablet.")
    dialog.get_by_role("button", name="Void the roll").click()
    page.get_by_role("heading", name="Void on").wait_for()
    assert page.get_by_text("Exposed with the wrong tablet.").first.is_visible()


def test_a_run_out_of_control_is_told_to_the_reviewer(page_for, owner, admin, standards):
    run = make_run(owner, standards[0], temperature_start_c=23.0)
    roll = make_submitted_roll(owner, make_batch(owner), standards, run=run)
    page = page_for(admin, width=390)
    page.goto(reverse("roll", args=[roll.pk]))
    wait_until_drawn(page)
    assert page.get_by_text("temperature at the start 23 °C is outside 20 ± 0.5 °C").first.is_visible()
    page.get_by_label("Let it into comparisons").fill("The strip's aim was met all the same.")
    look(page, "roll-out-of-control")
    page.get_by_role("button", name="Accept the roll").click()
    page.get_by_text("In comparisons by override").wait_for()
    assert is_as_wide_as_its_window(page)
    assert_accessible(page)


def test_a_labmate_and_a_visitor_are_refused(page_for, owner, labmate, visitor, standards):
    batch = make_batch(owner)
    planned = make_roll(owner, batch, standards)
    submitted = make_submitted_roll(owner, batch, standards)
    mate = page_for(labmate)
    mate.goto(reverse("roll", args=[submitted.pk]))
    wait_until_mounted(mate)
    for name in ("Accept the roll", "Return the roll", "Take back", "Edit"):
        assert mate.get_by_role("button", name=name).count() == 0
        assert mate.get_by_role("link", name=name, exact=True).count() == 0
    for path in (reverse("roll_readings", args=[planned.pk, 1]), reverse("review_queue")):
        assert mate.goto(path).status == 403
        mate.get_by_role("heading", name="This is not open to you").wait_for()
    outsider = page_for(visitor)
    for path in (reverse("roll", args=[submitted.pk]), reverse("roll_list"), reverse("review_queue")):
        outsider.goto(path)
        assert "/account/sign-in/" in outsider.url
