"""What admins decide on the roll's page, and the queue that leads there."""

import pytest
from django.urls import reverse

from curves.models import RollState
from curves.services.reviews import return_roll
from labsite.jobs.runner import run_waiting_jobs
from tests.curves.roll_forms import grid_post, text, told
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_run,
    make_standards,
    make_submitted_roll,
)

OUT_OF_CONTROL = {"temperature_start_c": 23.0}


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def batch(owner):
    return make_batch(owner)


@pytest.fixture
def submitted(owner, batch, standards):
    return make_submitted_roll(owner, batch, standards)


# --- Review


def test_a_return_needs_reasons_and_keeps_what_was_typed(client_for, admin, submitted):
    client, url = client_for(admin), reverse("roll_return", args=[submitted.pk])
    page = client.post(url, {"reasons": " "})
    assert page.status_code == 400
    assert "reasons" in page.context["return_form"].errors
    submitted.refresh_from_db()
    assert submitted.state == RollState.SUBMITTED


def test_the_member_sees_the_reasons_mends_and_submits_again(client_for, owner, admin, submitted):
    client_for(admin).post(reverse("roll_return", args=[submitted.pk]), {"reasons": "Read step 5 again."})
    client = client_for(owner)
    page = text(client.get(reverse("roll", args=[submitted.pk])))
    assert "Next: mend what the review asks for" in page and "Read step 5 again." in page
    typed = grid_post(submitted, d_5_1="1.90")
    client.post(reverse("roll_readings", args=[submitted.pk, 1]), typed)
    run_waiting_jobs()
    client.post(reverse("roll_submit", args=[submitted.pk]))
    submitted.refresh_from_db()
    assert submitted.state == RollState.SUBMITTED


def test_a_decision_on_another_curve_than_was_seen_is_refused(client_for, owner, admin, submitted):
    seen = {"seen_analysis_id": submitted.current_analysis_id}
    client_for(owner).post(reverse("roll_recall", args=[submitted.pk]))
    client_for(owner).post(
        reverse("roll_readings", args=[submitted.pk, 1]), grid_post(submitted, d_5_1="1.90")
    )
    run_waiting_jobs()
    client_for(owner).post(reverse("roll_submit", args=[submitted.pk]))
    page = client_for(admin).post(reverse("roll_accept", args=[submitted.pk]), seen, follow=True)
    assert any("has changed since you opened it" in message for message in told(page))
    submitted.refresh_from_db()
    assert submitted.state == RollState.SUBMITTED


def test_a_roll_of_a_run_out_of_control_asks_for_an_override(client_for, owner, admin, batch, standards):
    run = make_run(owner, standards[0], **OUT_OF_CONTROL)
    held, let_in = (make_submitted_roll(owner, batch, standards, run=run, seed=seed) for seed in (1, 2))
    client = client_for(admin)
    assert "Its run is out of control" in text(client.get(reverse("roll", args=[held.pk])))
    page = client.post(reverse("roll_accept", args=[held.pk]), {}, follow=True)
    assert "kept out of comparisons" in text(page)
    page = client.post(
        reverse("roll_accept", args=[let_in.pk]),
        {"control_override_reason": "The tank was warm at the end only."},
        follow=True,
    )
    assert "In comparisons by override" in text(page) and "warm at the end only" in text(page)
    url = reverse("roll_override", args=[held.pk])
    assert client.post(url, {"reason": ""}).status_code == 400
    assert "by override" in text(client.post(url, {"reason": "Only just."}, follow=True))
    assert "held back again" in text(client.post(url, {"lift": "1"}, follow=True))
    held.refresh_from_db()
    assert held.is_held_back


def test_an_override_of_a_roll_that_is_not_held_back_is_refused_aloud(
    client_for, owner, admin, batch, standards
):
    roll = make_accepted_roll(owner, admin, batch, standards)
    url = reverse("roll_override", args=[roll.pk])
    page = client_for(admin).post(url, {"reason": "Just in case."}, follow=True)
    assert any("is not held back" in message for message in told(page))
    roll.refresh_from_db()
    assert roll.control_override_reason == ""


def test_an_override_where_there_is_nothing_to_override_is_not_kept(client_for, admin, submitted):
    client_for(admin).post(
        reverse("roll_accept", args=[submitted.pk]), {"control_override_reason": "Just in case."}
    )
    submitted.refresh_from_db()
    assert (submitted.state, submitted.control_override_reason) == (RollState.ACCEPTED, "")


@pytest.mark.parametrize(("name", "state"), [("withdraw", RollState.WITHDRAWN), ("void", RollState.VOID)])
def test_an_accepted_roll_ends_with_a_reason(client_for, owner, admin, batch, standards, name, state):
    roll = make_accepted_roll(owner, admin, batch, standards)
    client, url = client_for(admin), reverse(f"roll_{name}", args=[roll.pk])
    asked = client.get(url)
    assert 'name="reason"' in asked.content.decode(), "the page that asks without script"
    assert any("Say why" in message for message in told(client.post(url, {"reason": ""}, follow=True)))
    page = client.post(url, {"reason": "Wrong tablet."}, follow=True)
    assert "Wrong tablet." in text(page)
    roll.refresh_from_db()
    assert roll.state == state
    assert client.get(url).status_code == 409


def test_an_admin_s_own_roll_waits_for_another_admin(client_for, admin, owner, standards):
    roll = make_submitted_roll(admin, make_batch(admin), standards)
    client, url = client_for(admin), reverse("roll", args=[roll.pk])
    assert "Next: review this roll" in text(client.get(url)), "the lab's only admin may"
    owner.role = "admin"
    owner.save()
    page = client.get(url)
    assert "another admin has to review it" in text(page)
    assert not page.context["page"].actions.can_review
    assert client.post(reverse("roll_accept", args=[roll.pk]), {}).status_code == 403


def test_the_queue_is_oldest_first_with_measures_and_flags(
    client_for, owner, admin, batch, standards, django_assert_max_num_queries
):
    rolls = [make_submitted_roll(owner, batch, standards, seed=seed) for seed in (1, 2, 3)]
    client = client_for(admin)
    with django_assert_max_num_queries(8):
        page = client.get(reverse("review_queue"))
    waiting = page.context["queue"].waiting
    assert [roll.pk for roll in waiting] == [roll.pk for roll in rolls]
    assert all(len(roll.flags) == len(roll.current_analysis.detail["flags"]) for roll in waiting)
    return_roll(actor=admin, roll_id=rolls[0].pk, reasons="Blurred.")
    assert "Blurred." in text(client.get(reverse("review_queue")))
