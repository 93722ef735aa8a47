"""A member checks the densitometer by keyboard; an admin follows a failing check to what it read since."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from curves.services.instrument_checks import record_check
from tests.factories.instruments import make_instrument
from tests.factories.standards import make_tablet
from tests.journeys.looking import assert_accessible, is_as_wide_as_its_window, look, wait_until_drawn

pytestmark = pytest.mark.journey
STEPS, CERTIFIED = (1, 11, 21), (0.05, 1.55, 3.05)


@pytest.fixture
def instrument(owner, admin):
    """Checked twice before, and found good."""
    instrument, tablet = make_instrument(admin), make_tablet(admin)
    for days_ago in (60, 30):
        record_check(
            actor=owner,
            instrument_id=instrument.pk,
            tablet_revision_id=tablet.pk,
            density_type="visual",
            geometry="diffuse",
            checked_on=timezone.localdate() - timedelta(days=days_ago),
            readings=list(zip(STEPS, CERTIFIED, strict=True)),
        )
    return instrument


def test_checked_by_keyboard_and_followed_up(page_for, owner, admin, instrument):
    page = page_for(owner)
    page.goto(reverse("instrument_checks", args=[instrument.pk]))
    wait_until_drawn(page)
    page.get_by_role("link", name="Enter a check").press("Enter")
    page.get_by_role("heading", name="Enter a check of").wait_for()
    assert_accessible(page)
    look(page, "check-form")
    # The steps of the last check stand there already: a reading, two tabs on, the next.
    page.get_by_label("Zero: step").press("Tab")
    for place, read in enumerate(("0.05", "1,55", "3.01")):
        page.keyboard.type(read)
        if place < 2:
            page.keyboard.press("Tab")
            page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_text("High densities are off").first.wait_for()
    wait_until_drawn(page)
    assert_accessible(page)
    look(page, "instrument-checks")
    assert page.get_by_text("An admin can hold back what rests on it").is_visible()

    desk = page_for(admin, width=390)
    desk.goto(reverse("bench"))
    desk.get_by_role("link", name=instrument.name).click()
    wait_until_drawn(desk)
    assert is_as_wide_as_its_window(desk)
    look(desk, "instrument-checks-phone")
    desk.get_by_role("link", name="See what rests on it, and hold it back").press("Enter")
    desk.get_by_role("heading", name="What would follow").wait_for()
    first = (timezone.localdate() - timedelta(days=30)).isoformat()
    assert desk.get_by_label("From").input_value() == first
    assert "High densities are off" in desk.get_by_label("What was wrong").input_value()
