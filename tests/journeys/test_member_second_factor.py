"""A member sets up a second factor and signs in with it, by keyboard; an admin takes it away again."""

import pytest
from django.urls import reverse

from labsite.accounts.queries import has_second_factor, second_factor_of
from tests.factories.second_factors import PASSWORD, app_code, turn_on_second_factor
from tests.journeys.looking import assert_accessible, is_as_wide_as_its_window, look, wait_until_mounted

pytestmark = pytest.mark.journey


def tab_to(page, name):
    """Go to a control by the Tab key alone and return its name, as a screen reader says it."""
    for _ in range(60):
        page.keyboard.press("Tab")
        here = page.evaluate(
            "(document.activeElement.labels?.[0] ?? document.activeElement).textContent.trim()"
        )
        if here == name:
            return
    pytest.fail(f"Tab never reaches “{name}”")


def seen(page, name):
    """Hold the page against the rules in both themes, and keep a picture of each."""
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        assert_accessible(page)
        look(page, f"{name}-{theme}")
    page.emulate_media(color_scheme="light")


def sign_in(page):
    page.goto("/account/sign-in/?next=/account/")
    wait_until_mounted(page)
    page.keyboard.type("owner")  # the field has the focus
    tab_to(page, "Password")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Your code").wait_for()
    wait_until_mounted(page)


def test_set_up_by_keyboard_then_signed_in_with_it(page_for, owner, visitor):
    page = page_for(owner)
    page.goto("/account/second-factor/")
    wait_until_mounted(page)
    assert_accessible(page)
    tab_to(page, "Set up a second factor")
    page.keyboard.press("Enter")
    page.get_by_role("img", name="QR picture").wait_for()
    wait_until_mounted(page)
    seen(page, "second-factor-set-up")
    tab_to(page, "Code from the app")
    page.keyboard.type(app_code(owner))
    tab_to(page, "Present password")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Your recovery codes").wait_for()
    wait_until_mounted(page)
    seen(page, "second-factor-codes")
    codes = page.locator(".recovery-codes code").all_text_contents()
    assert len(codes) == 10
    page.emulate_media(media="print")
    assert page.locator(".recovery-codes").is_visible()
    assert not page.get_by_role("link", name="I have kept them").is_visible()
    look(page, "second-factor-codes-print")
    page.emulate_media(media="screen")
    tab_to(page, "I have kept them")
    page.keyboard.press("Enter")
    page.get_by_text("10 of 10").wait_for()
    wait_until_mounted(page)
    seen(page, "second-factor-on")

    elsewhere = page_for(visitor)
    sign_in(elsewhere)
    seen(elsewhere, "second-factor-sign-in")
    elsewhere.keyboard.press("Tab")  # the field has the focus already
    elsewhere.keyboard.press("Shift+Tab")
    elsewhere.keyboard.type(codes[0])
    elsewhere.keyboard.press("Enter")
    elsewhere.wait_for_url("**/account/")
    assert second_factor_of(owner).codes_left == 9


def test_an_admin_takes_a_lost_one_away(page_for, owner, admin):
    turn_on_second_factor(owner)
    desk = page_for(admin)
    desk.goto(reverse("accounts:people"))
    wait_until_mounted(desk)
    seen(desk, "second-factor-people")
    desk.get_by_role("link", name="Ola Ownfield").click()
    desk.get_by_role("heading", name="Lost second factor").wait_for()
    wait_until_mounted(desk)
    seen(desk, "second-factor-person")
    desk.locator("#factor_reason").fill("Phone fell into the stop bath.")
    desk.get_by_role("button", name="Take the second factor away").click()
    desk.get_by_text("signs in by password alone").wait_for()
    assert not has_second_factor(owner)


def test_an_admin_who_lacks_one_is_told_and_led_on(page_for, admin, owner):
    turn_on_second_factor(admin)
    desk = page_for(admin)
    desk.goto(reverse("accounts:lab_settings"))
    wait_until_mounted(desk)
    desk.get_by_label("Admins sign in with a second factor").check()
    desk.get_by_role("button", name="Save the settings").click()
    desk.get_by_text("settings are saved").wait_for()
    wait_until_mounted(desk)
    seen(desk, "second-factor-lab-settings")
    type(owner).objects.filter(pk=owner.pk).update(role="admin")
    other = page_for(owner)
    other.goto(reverse("accounts:people"))
    other.get_by_role("heading", name="This is not open to you").wait_for()
    wait_until_mounted(other)
    seen(other, "second-factor-asked-for")
    other.get_by_role("link", name="Set up your second factor").click()
    other.get_by_text("This lab asks its admins for a second factor").wait_for()
    assert_accessible(other)


@pytest.mark.parametrize("width", [390, 320])
def test_it_fits_a_phone(page_for, owner, visitor, width):
    page = page_for(owner, width=width, height=844)
    page.goto("/account/second-factor/")
    page.get_by_role("button", name="Set up a second factor").click()
    page.get_by_role("img", name="QR picture").wait_for()
    wait_until_mounted(page)
    assert is_as_wide_as_its_window(page)
    seen(page, f"second-factor-set-up-{width}")
    page.get_by_label("Code from the app").fill(app_code(owner))
    page.get_by_label("Present password").fill(PASSWORD)
    page.get_by_role("button", name="Turn the second factor on").click()
    page.get_by_role("heading", name="Your recovery codes").wait_for()
    wait_until_mounted(page)
    assert is_as_wide_as_its_window(page)
    seen(page, f"second-factor-codes-{width}")
    page.get_by_role("link", name="I have kept them").click()
    page.get_by_text("10 of 10").wait_for()
    wait_until_mounted(page)
    assert is_as_wide_as_its_window(page)
    seen(page, f"second-factor-on-{width}")
    elsewhere = page_for(visitor, width=width, height=844)
    sign_in(elsewhere)
    assert is_as_wide_as_its_window(elsewhere)
    seen(elsewhere, f"second-factor-sign-in-{width}")
