"""Two members read a strip by keyboard; an admin corrects an instrument and the roll's result follows."""

import pytest
from django.urls import reverse

from curves.models import Roll
from curves.services.readings import record_readings
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_standards, reading_values
from tests.factories.studies import make_study, read_study, study_values
from tests.journeys.looking import (
    assert_accessible,
    enter_next_page,
    is_as_wide_as_its_window,
    look,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey


@pytest.fixture
def lab(owner, labmate, admin):
    """A roll read with an instrument that is 0.06 D high, and a strip that went half round."""
    good, off = make_instrument(admin, "Bench A"), make_instrument(admin, "Bench B")
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    values = reading_values(roll)
    record_readings(actor=owner, strip_id=roll.strips.get().pk, values=values, instrument_id=off.pk)
    study = make_study(owner)
    read_study(study, owner, good, seed=1)
    read_study(study, labmate, good, seed=2)
    read_study(study, labmate, off, seed=3, zero=0.06)
    return {"good": good, "off": off, "roll": roll, "study": study}


def follow(page, role: str, name: str) -> None:
    """Go to a link or button by keyboard and use it."""
    page.get_by_role(role, name=name, exact=True).focus()
    enter_next_page(page)


def type_readings(page) -> None:
    """Down each column with the Enter key, as beside the densitometer."""
    values = {(each.step, each.replicate): each.density for each in study_values(seed=4, zero=0.06)}
    page.get_by_label("Step 1, reading 1").focus()
    for replicate in (1, 2):
        for step in range(1, 22):
            page.keyboard.type(f"{values[step, replicate]:.2f}")
            page.keyboard.press("Enter")


def test_from_readings_of_two_members_to_a_correction_in_force(page_for, owner, admin, lab, job_runner):
    study, roll = lab["study"], lab["roll"]
    page = page_for(owner, width=390)
    page.goto(reverse("agreement", args=[study.pk]))
    wait_until_mounted(page)
    follow(page, "link", "Enter my readings")
    page.get_by_label("Read with").select_option(label="Bench B")
    follow(page, "button", "Open the grid")
    type_readings(page)
    assert_accessible(page)
    assert is_as_wide_as_its_window(page)
    look(page, "agreement-readings")
    follow(page, "button", "Save the readings")
    page.get_by_text("Your readings with Bench B are saved.").wait_for()
    follow(page, "button", "Close the study")
    page.get_by_text("The study is closed.").wait_for()
    wait_until_drawn(page)
    assert_accessible(page)
    assert is_as_wide_as_its_window(page)
    look(page, "agreement-study")

    page = page_for(admin)
    page.goto(f"{reverse('agreement', args=[study.pk])}?reference={lab['good'].pk}")
    wait_until_mounted(page)
    follow(page, "link", "See what would change for Bench B")
    assert page.get_by_role("link", name=roll.code).first.is_visible()
    assert_accessible(page)
    look(page, "correction-preview")
    page.get_by_label("Why").focus()
    page.keyboard.type("Reads high since the winter.")
    follow(page, "button", "Bring it into force")
    page.get_by_text("revision 1 of Bench B is in force", exact=False).first.wait_for()
    assert_accessible(page)
    look(page, "correction-in-force")

    address = reverse("roll", args=[roll.pk])
    said = "corrected by revision 1 of Bench B"
    for _ in range(60):
        page.goto(address)
        if page.get_by_text(said, exact=False).count():
            break
        page.wait_for_timeout(500)
    assert page.get_by_text(said, exact=False).first.is_visible()
    look(page, "corrected-roll")
    fitted = Roll.objects.select_related("current_analysis").get(pk=roll.pk).current_analysis
    assert fitted.as_dict()["corrected_by"] == ["revision 1 of Bench B"]
