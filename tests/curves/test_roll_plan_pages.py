"""From the plan to the run: what a roll is made of, and in which tank it was developed."""

from datetime import date

import pytest
from django.urls import reverse

from curves.models import Roll, RollState
from labsite.jobs.runner import run_waiting_jobs
from tests.curves.roll_forms import grid_post, text, told
from tests.factories.rolls import (
    make_batch,
    make_roll,
    make_run,
    make_standards,
)
from tests.factories.standards import make_process

OUT_OF_CONTROL = {"temperature_start_c": 23.0}


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def batch(owner):
    return make_batch(owner)


@pytest.fixture
def planned(owner, batch, standards):
    return make_roll(owner, batch, standards)


# --- The whole way by forms alone


def test_from_the_plan_to_the_acceptance(client_for, owner, admin, batch, standards):
    client, process, exposure = client_for(owner), *standards
    plan = client.post(
        reverse("roll_plan"),
        {
            "batch_id": batch.pk,
            "exposure_revision_id": exposure.pk,
            "process_revision_id": process.pk,
            "exposed_on": "2026-05-03",
            "notes": "first of the box",
        },
        follow=True,
    )
    roll = Roll.objects.get()
    assert plan.redirect_chain == [(reverse("roll", args=[roll.pk]), 302)]
    assert "Next: record the process run" in text(plan)
    assert (roll.exposed_on, roll.notes, roll.member) == (date(2026, 5, 3), "first of the box", owner)

    measured = {
        "ran_on": "2026-05-04",
        "temperature_start_c": "20,1",
        "development_time_s": "8:30",
        "films_through": "2",
    }
    run = client.post(reverse("roll_run", args=[roll.pk]), measured, follow=True)
    assert "Next: enter the readings" in text(run)
    roll.refresh_from_db()
    assert (roll.run.temperature_start_c, roll.run.development_time_s) == (20.1, 510)

    grid = reverse("roll_readings", args=[roll.pk, 1])
    saved = client.post(grid, grid_post(roll), follow=True)
    assert "The curve is being fitted" in text(saved)
    assert 'hx-get="' in saved.content.decode(), "the job's progress is asked for"
    assert f'data-draft="strip-{roll.strips.get().pk}"' in saved.content.decode()

    run_waiting_jobs()
    fitted = client.get(reverse("roll", args=[roll.pk]))
    assert "Next: look at the curve, then submit the roll" in text(fitted)
    assert fitted.context["figure"]["meta"]["kind"] == "characteristic"
    assert "data-draft" not in fitted.content.decode(), "only right after saving"

    handed_in = client.post(reverse("roll_submit", args=[roll.pk]), follow=True)
    assert "Waiting for an admin" in text(handed_in)
    admins = client_for(admin)
    assert roll.code in text(admins.get(reverse("review_queue")))
    review = admins.get(reverse("roll", args=[roll.pk]))
    assert "Next: review this roll" in text(review)
    decision = {"reasons": "Clean.", "seen_analysis_id": review.context["roll"].current_analysis_id}
    accepted = admins.post(reverse("roll_accept", args=[roll.pk]), decision, follow=True)
    assert "Accepted on" in text(accepted) and "Clean." in text(accepted)
    roll.refresh_from_db()
    assert roll.state == RollState.ACCEPTED


# --- Planning


def test_a_stock_or_a_batch_in_the_address_is_chosen_beforehand(client_for, owner, batch, standards):
    other = make_batch(owner, name="Birch 400")
    client = client_for(owner)
    for query in ({"stock": batch.stock_id}, {"batch": batch.pk}):
        page = client.get(reverse("roll_plan"), query)
        assert page.context["form"]["batch_id"].value() == batch.pk
    assert client.get(reverse("roll_plan"), {"stock": "x"}).context["form"]["batch_id"].value() is None
    groups = dict(client.get(reverse("roll_plan")).context["form"].fields["batch_id"].choices[1:])
    assert groups == {
        "Alder 100 (Fenwick Works)": [(batch.pk, "Alder 100, batch 0417")],
        "Birch 400 (Fenwick Works)": [(other.pk, "Birch 400, batch 0417")],
    }


def test_a_lone_standard_in_force_is_chosen_and_among_two_none_is(client_for, owner, admin, batch, standards):
    client = client_for(owner)
    choices = client.get(reverse("roll_plan")).context["form"].fields["process_revision_id"].choices
    assert choices == [(standards[0].pk, str(standards[0]))]
    make_process(admin, "Second process")
    choices = client.get(reverse("roll_plan")).context["form"].fields["process_revision_id"].choices
    assert choices[0] == ("", "Choose a standard")


def test_nothing_to_plan_with_leads_to_what_is_missing(client_for, owner):
    client = client_for(owner)
    assert "Add a stock" in text(client.get(reverse("roll_plan")))
    make_batch(owner)
    page = text(client.get(reverse("roll_plan")))
    assert "put an exposure standard and a process standard in force" in page


def test_an_incomplete_plan_says_what_to_choose_and_keeps_what_was_typed(client_for, owner, batch, standards):
    page = client_for(owner).post(reverse("roll_plan"), {"notes": "last box"})
    assert page.status_code == 400
    assert set(page.context["form"].errors) == {"batch_id", "exposure_revision_id", "process_revision_id"}
    assert "last box" in text(page)
    assert not Roll.objects.exists()


def test_a_draft_s_day_and_notes_can_be_edited(client_for, owner, planned):
    url = reverse("roll_edit", args=[planned.pk])
    client_for(owner).post(url, {"exposed_on": "2026-05-05", "notes": "again"})
    planned.refresh_from_db()
    assert (planned.exposed_on, planned.notes) == (date(2026, 5, 5), "again")
    assert client_for(owner).post(url, {"exposed_on": "5 May"}).status_code == 400


# --- The run


def test_a_run_that_is_recorded_can_be_chosen(client_for, owner, labmate, planned, standards):
    run = make_run(labmate, standards[0])
    client, url = client_for(owner), reverse("roll_run", args=[planned.pk])
    assert f"Run {run.pk}" in text(client.get(url))
    assert client.post(url, {"run_id": run.pk}).status_code == 302
    planned.refresh_from_db()
    assert planned.run == run


@pytest.mark.parametrize("value", ["", "x", "999999"])
def test_a_run_that_is_none_of_these_is_refused(client_for, owner, planned, value):
    page = client_for(owner).post(reverse("roll_run", args=[planned.pk]), {"run_id": value})
    assert page.status_code == 400
    assert "Choose a run of the list." in text(page)


def test_a_run_of_another_process_is_not_offered_and_refused(client_for, owner, admin, planned):
    other = make_run(owner, make_process(admin, "Second process"))
    client, url = client_for(owner), reverse("roll_run", args=[planned.pk])
    assert list(client.get(url).context["runs"]) == []
    assert "this roll is planned for" in text(client.post(url, {"run_id": other.pk}))


def test_the_latest_runs_come_first(client_for, owner, planned, standards):
    days = [date(2026, 5, day) for day in (2, 9, 4)]
    for day in days:
        make_run(owner, standards[0], ran_on=day)
    runs = client_for(owner).get(reverse("roll_run", args=[planned.pk])).context["runs"]
    assert [run.ran_on.day for run in runs] == [9, 4, 2]


def test_a_run_out_of_control_is_told_at_once_with_its_rule(client_for, owner, planned, standards):
    run = make_run(owner, standards[0], **OUT_OF_CONTROL)
    url = reverse("roll_run", args=[planned.pk])
    page = client_for(owner).post(url, {"run_id": run.pk}, follow=True)
    assert any("out of control" in message and "outside 20 ± 0.5 °C" in message for message in told(page))


def test_a_bad_record_is_kept_as_typed_and_no_run_is_left_behind(client_for, owner, planned):
    measured = {"ran_on": "2026-05-04", "temperature_start_c": "200", "development_time_s": "8:30"}
    page = client_for(owner).post(reverse("roll_run", args=[planned.pk]), measured | {"films_through": "0"})
    assert page.status_code == 400
    assert "temperature_start_c" in page.context["form"].errors
    assert 'value="200"' in page.content.decode()
    planned.refresh_from_db()
    assert planned.run is None
