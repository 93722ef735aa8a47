"""A member takes a roll's sheets along, types patches by keyboard, and prints the plan."""

import re

import pytest
from django.urls import reverse

from curves.models import PatchReading
from curves.services.patch_sets import PatchValue, enter_patch_set
from tests.factories.papers import make_paper
from tests.factories.results import appoint, standing_result
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.journeys.looking import (
    assert_accessible,
    is_as_wide_as_its_window,
    look,
    wait_until_drawn,
    wait_until_mounted,
)

pytestmark = pytest.mark.journey


@pytest.fixture
def lab(live_server, owner, admin):
    """A planned roll, a target, a paper, a reference and two more stocks with results."""
    standards = make_standards(admin)
    patches = [PatchValue("Grey", 0.18, True), PatchValue("Red", 0.12), PatchValue("Blue", 0.10)]
    enter_patch_set(
        actor=admin, exposure_revision_id=standards[1].pk, name="Target", source="Lin", patches=patches
    )
    make_paper(admin)
    appoint(admin, standing_result(owner, *standards, name="Reference 100"))
    standing_result(owner, *standards, name="Swift 200", speed_point=-1.9)
    standing_result(owner, *standards, name="Dense 100", base_change=0.1)
    return make_roll(owner, make_batch(owner), standards)


def _pages_of(page) -> int:
    """Pages of the browser's own PDF, A4 as print.css says."""
    return len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(prefer_css_page_size=True)))


def test_sheets_and_plan_print_on_one_page_each(lab, owner, page_for):
    page = page_for(owner)
    for address in (
        reverse("roll_exposure_sheet", args=[lab.pk]),
        reverse("roll_processing_sheet", args=[lab.pk]),
        reverse("print_plan"),
    ):
        page.goto(address)
        assert _pages_of(page) == 1, address
        assert_accessible(page)


def test_patches_are_typed_by_keyboard_and_pasted(lab, owner, page_for):
    page = page_for(owner)
    page.goto(reverse("roll_patches", args=[lab.pk]))
    wait_until_mounted(page)
    page.get_by_label("Frame", exact=True).fill("3")
    page.get_by_label("Grey").focus()
    for text in ("0.71", "0.60"):
        page.keyboard.type(text)
        page.keyboard.press("Enter")
    page.keyboard.type("0.55")
    page.keyboard.press("Enter")
    page.get_by_text("Frame 3 is saved.").wait_for()
    assert list(PatchReading.objects.order_by("patch").values_list("density", flat=True)) == [0.71, 0.6, 0.55]
    look(page, "roll_patches_1280")


def test_a_file_of_patches_is_looked_at_and_stored_on_a_phone(lab, owner, page_for):
    page = page_for(owner, width=390)
    page.goto(reverse("roll_patches_import", args=[lab.pk]))
    file = page.locator("#id_file")
    head = b"frame;patch;density_1;density_2\n"
    good = head + b"3;Grey;0,71;0,72\n3;Blue;0,60;0,80\n"
    file.set_input_files({"name": "p.csv", "mimeType": "text/csv", "buffer": good})
    page.get_by_role("button", name="Read the file").click()
    page.get_by_role("cell", name="Repeats are 0.20 D apart").wait_for()
    assert is_as_wide_as_its_window(page)
    assert_accessible(page)
    look(page, "patch_preview_390")
    page.get_by_role("button", name="Store these readings").click()
    page.get_by_role("link", name="Frame 3").click()
    page.get_by_label("Grey, reading 2").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.name") == "d-2-2", "Enter goes down a column of repeats"
    assert is_as_wide_as_its_window(page)
    assert_accessible(page)


def test_print_tones_on_a_phone(lab, owner, page_for):
    page = page_for(owner, width=390)
    page.goto(reverse("print_tones"))
    wait_until_drawn(page)
    assert is_as_wide_as_its_window(page)
    look(page, "print_tones_390")
    page.goto(reverse("coverage"))
    assert is_as_wide_as_its_window(page)
    look(page, "coverage_390")
