"""Pages of test rolls: the way from the plan to the review, by forms alone, and who is refused."""

import csv
import io
import json
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from curves.models import Analysis, Reading, Roll, RollState, StagedImport
from curves.pages.rolls.measure_groups import GROUPS, grouped_measures
from curves.pages.rolls.step_rows import general_flags, step_rows
from curves.sensitometry import ROLL_MEASURES
from curves.sensitometry import Analysis as EngineAnalysis
from curves.services.readings import record_readings
from curves.services.references import appoint_reference
from curves.services.reviews import return_roll
from curves.services.rolls import assign_run
from labsite.accounts.models import Lab
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.instruments import make_instrument
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_read_roll,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
    reading_values,
)
from tests.factories.standards import make_exposure, make_process
from tests.factories.standing import roll_row

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


@pytest.fixture
def submitted(owner, batch, standards):
    return make_submitted_roll(owner, batch, standards)


@pytest.fixture
def open_lab(db):
    Lab.objects.update_or_create(
        pk=Lab.objects.values_list("pk", flat=True).first(), defaults={"is_open_to_visitors": True}
    )


def text(response) -> str:
    return " ".join(response.content.decode().split())


def told(response) -> list[str]:
    return [str(message) for message in response.context["messages"]]


def grid_post(roll, *, seed=1, **cells) -> dict:
    """What the grid's form sends for a whole strip, with some cells typed otherwise."""
    typed = {}
    for value in reading_values(roll, seed=seed):
        step = "unexposed" if value.step == 0 else value.step
        typed[f"d-{step}-{value.replicate}"] = f"{value.density:.2f}"
    return typed | {name.replace("_", "-"): value for name, value in cells.items()}


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


# --- The grid


def test_the_grid_shows_steps_tablet_densities_and_exposures(client_for, owner, planned):
    page = client_for(owner).get(reverse("roll_readings", args=[planned.pk, 1]))
    rows = page.context["rows"]
    assert [row["row"].name for row in rows] == ["unexposed", *(str(step) for step in range(1, 22))]
    # 0.9 where the tablet is clear, less its density of 0.05 at the first step.
    assert (rows[1]["row"].log_exposure, rows[1]["row"].tablet_density) == (0.85, 0.05)
    assert 'data-direction="falling"' in page.content.decode()


def test_every_bad_cell_is_marked_and_nothing_typed_is_lost(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    typed = {"d-1-1": "1,9o", "d-2-1": "0,52", "d-3-1": "7", "d-unexposed-1": "nan", "reason": ""}
    page = client_for(owner).post(url, typed)
    assert page.status_code == 400
    cells = {cell["name"]: cell for row in page.context["rows"] for cell in row["cells"]}
    assert {name for name, cell in cells.items() if cell["error"]} == {"d-1-1", "d-3-1", "d-unexposed-1"}
    assert {name: cells[name]["value"] for name in typed if name in cells} == {
        name: value for name, value in typed.items() if name in cells
    }
    assert page.content.decode().count('aria-invalid="true"') == 3
    assert not Reading.objects.exists()


def test_decimal_commas_and_points_are_read_and_thousands_are_not_guessed(client_for, owner, planned):
    client, url = client_for(owner), reverse("roll_readings", args=[planned.pk, 1])
    assert client.post(url, {"d-1-1": "1,91", "d-2-1": "1,234"}).status_code == 302
    assert Reading.objects.get(step=2).density == 1.234
    page = client.post(url, {"d-3-1": "1.10", "d-4-1": "1,234"})
    assert page.status_code == 400
    assert "thousands" in text(page)


def test_a_cell_that_the_tablet_does_not_have(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    page = client_for(owner).post(url, {"d-40-1": "1.2"})
    assert page.status_code == 400
    assert "The tablet has no step 40; it has 1 to 21." in text(page)


def test_a_falling_step_is_saved_and_told(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    page = client_for(owner).post(url, grid_post(planned, d_10_1="0.30", d_10_2="0.31"), follow=True)
    warnings = [message for message in told(page) if "step 10 has more exposure than step 11" in message]
    assert len(warnings) == 1
    assert Reading.objects.filter(step=10).count() == 2
    run_waiting_jobs()
    roll = Roll.objects.get()
    rows = step_rows(EngineAnalysis.from_dict(roll.current_analysis.as_dict()))
    assert any(row.remarks for row in rows if row.step == 10)


def test_a_correction_keeps_the_old_value_with_its_reason(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    client, url = client_for(owner), reverse("roll_readings", args=[roll.pk, 1])
    typed = grid_post(roll, d_5_1="0.77")
    old = Reading.objects.get(step=5, replicate=1)
    page = client.post(url, typed | {"reason": "digits swapped"}, follow=True)
    assert f"<del>{old.density:.2f}</del> <ins>0.77</ins>" in text(page)
    assert "Digits swapped" in text(page)
    assert Reading.objects.filter(is_current=False).count() == 1, "no other cell was touched"


def test_saving_what_stands_already_changes_nothing(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    url = reverse("roll_readings", args=[roll.pk, 1])
    page = client_for(owner).post(url, grid_post(roll), follow=True)
    assert told(page) == ["No reading was changed."]
    assert Job.objects.filter(kind="fit_roll").count() == 1


def test_what_was_typed_over_readings_that_changed_meanwhile_is_not_stored_blindly(
    client_for, owner, planned
):
    client, url = client_for(owner), reverse("roll_readings", args=[planned.pk, 1])
    version = client.get(url).context["grid"].version
    client.post(url, {"d-1-1": "1.90", "version": version})
    page = client.post(url, {"d-1-1": "1.80", "version": version})
    assert page.status_code == 400
    assert "changed in another window" in text(page)
    assert 'value="1.80"' in page.content.decode()
    again = page.context["form"]["version"].value()
    assert client.post(url, {"d-1-1": "1.80", "version": again}).status_code == 302
    assert Reading.objects.get(is_current=True).density == 1.80


def test_saved_readings_keep_their_instrument_unless_asked(client_for, owner, admin, planned):
    first = make_instrument(admin)
    second = make_instrument(admin, name="Second densitometer")
    client, url = client_for(owner), reverse("roll_readings", args=[planned.pk, 1])
    client.post(url, {"d-1-1": "1.90", "instrument_id": first.pk})
    client.post(url, {"d-1-1": "1.90", "d-2-1": "1.80", "instrument_id": second.pk})
    by = {r.step: r.instrument for r in Reading.objects.filter(is_current=True)}
    assert by == {1: first, 2: second}
    client.post(url, {"d-1-1": "1.90", "d-2-1": "1.80", "instrument_id": second.pk, "is_for_all": "on"})
    assert {r.instrument for r in Reading.objects.filter(is_current=True)} == {second}


def test_without_script_a_column_can_be_added_and_nothing_typed_is_lost(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    page = client_for(owner).post(url, {"d-1-1": "1.9", "d-1-2": "x", "add_replicate": "1"})
    assert page.status_code == 200
    assert list(page.context["replicates"]) == [1, 2, 3]
    values = [cell["value"] for cell in page.context["rows"][1]["cells"]]
    assert values == ["1.9", "x", ""]
    assert not Reading.objects.exists()


def test_the_instrument_last_used_is_proposed(client_for, owner, admin, batch, standards, planned):
    instrument = make_instrument(admin)
    client = client_for(owner)
    client.post(
        reverse("roll_readings", args=[planned.pk, 1]), {"d-1-1": "1.9", "instrument_id": instrument.pk}
    )
    other = make_roll(owner, batch, standards)
    page = client.get(reverse("roll_readings", args=[other.pk, 1]))
    assert page.context["form"]["instrument_id"].value() == instrument.pk


def test_more_strips(client_for, owner, planned):
    client = client_for(owner)
    for _ in range(9):
        page = client.post(reverse("roll_strips", args=[planned.pk]), follow=True)
    assert planned.strips.count() == 9
    assert any("at most nine strips" in message for message in told(page))
    assert client.get(reverse("roll_readings", args=[planned.pk, 9])).status_code == 200
    assert client.get(reverse("roll_readings", args=[planned.pk, 10])).status_code == 404


# --- Files


def upload(client, roll, content: str, name="strip.csv"):
    file = SimpleUploadedFile(name, content.encode())
    return client.post(reverse("roll_import", args=[roll.pk, 1]), {"file": file}, follow=True)


def test_a_faulty_file_lists_row_column_value_and_advice(client_for, owner, planned):
    page = upload(client_for(owner), planned, "step,density\n1,1.9\n2,1.8x\n99,1.2\n")
    assert page.status_code == 400
    faults = page.context["faults"]
    assert [(f["row"], f["column"], f["value"]) for f in faults] == [
        (3, "density", "1.8x"),
        (4, "step", "99"),
    ]
    assert "<code>1.8x</code>" in text(page)
    assert not StagedImport.objects.exists()


def test_no_file_at_all(client_for, owner, planned):
    page = client_for(owner).post(reverse("roll_import", args=[planned.pk, 1]), {})
    assert page.status_code == 400
    assert "file" in page.context["form"].errors


def test_a_file_is_previewed_then_stored(client_for, owner, planned):
    client = client_for(owner)
    lines = "".join(f"{step},{2 - 0.08 * step:.2f}\n" for step in range(1, 22))
    preview = upload(client, planned, "step,density\n" + lines)
    staged = StagedImport.objects.get()
    assert preview.redirect_chain == [(reverse("import", args=[staged.pk]), 302)]
    assert "<strong>21</strong> new readings" in text(preview)
    assert not Reading.objects.exists()
    version = {"version": preview.context["shown"].grid.version}
    stored = client.post(reverse("import_store", args=[staged.pk]), version, follow=True)
    assert Reading.objects.count() == 21
    assert stored.redirect_chain == [(reverse("roll", args=[planned.pk]), 302)]
    again = client.post(reverse("import_store", args=[staged.pk]), version, follow=True)
    assert any("stored already" in message for message in told(again))
    assert Reading.objects.count() == 21


def test_a_stale_preview_is_shown_again(client_for, owner, planned):
    client = client_for(owner)
    preview = upload(client, planned, "step,density\n1,1.9\n2,1.8\n")
    staged = preview.context["shown"].staged
    client.post(reverse("roll_readings", args=[planned.pk, 1]), {"d-1-1": "1.5"})
    version = {"version": preview.context["shown"].grid.version}
    page = client.post(reverse("import_store", args=[staged.pk]), version, follow=True)
    assert any("changed meanwhile" in message for message in told(page))
    assert '<del><span class="visually-hidden">instead of </span>1.50</del> <ins>1.90</ins>' in text(page)


def test_a_preview_can_be_discarded(client_for, owner, planned):
    client = client_for(owner)
    staged = upload(client, planned, "step,density\n1,1.9\n2,1.8\n").context["shown"].staged
    client.post(reverse("import_discard", args=[staged.pk]))
    assert client.get(reverse("import", args=[staged.pk])).status_code == 404
    assert not Reading.objects.exists()


def test_a_name_with_markup_is_shown_as_text(client_for, owner, planned):
    page = upload(client_for(owner), planned, "step,density\n1,1.9\n2,1.8\n", name="<b>x.csv")
    assert "&lt;b&gt;x.csv" in text(page) and "<b>x" not in text(page)


# --- The roll's page


def test_every_measure_of_the_registry_stands_in_one_group():
    named = [name for _, names in GROUPS for name in names]
    assert sorted(named) == sorted(ROLL_MEASURES)


def test_the_page_shows_every_measure_or_why_it_is_withheld(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    page = client_for(owner).get(reverse("roll", args=[roll.pk]))
    result = page.context["page"].result
    shown = [row for _, rows in grouped_measures(result) for row in rows]
    assert len(shown) == len(result.measures)
    body = text(page)
    for row in shown:
        assert row.definition.title in body
        assert row.definition.explanation in body.replace("&#x27;", "'")
    assert "Withheld." in body, "one strip cannot tell the spread between strips"


def test_flags_stand_beside_their_step_or_above_the_table(owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    result = EngineAnalysis.from_dict(roll.current_analysis.as_dict())
    beside = sum(len(row.remarks) for row in step_rows(result))
    assert beside + len(general_flags(result)) == len(result.flags)
    assert len(result.flags) > 0, "a curve that still rises says so"


def test_the_reference_is_told_in_words_where_there_is_one(client_for, owner, admin, standards):
    process, exposure = standards
    reference = make_accepted_roll(owner, admin, make_batch(owner, "Oak 100"), standards)
    roll = make_read_roll(owner, make_batch(owner), standards, seed=2, speed_point=-1.9)
    url = reverse("roll", args=[roll.pk])
    assert "Against the house reference" not in text(client_for(owner).get(url))
    appoint_reference(
        actor=admin,
        stock_id=reference.batch.stock_id,
        process_revision_id=process.pk,
        exposure_revision_id=exposure.pk,
        reason="",
    )
    page = client_for(owner).get(url)
    # Its speed point was made 0.3 lower in log exposure: a stop faster.
    shift = page.context["page"].reference.comparison.measures["speed_shift_stops"]
    assert shift.low < 0.3 / 0.30103 < shift.high
    assert "faster than the reference" in text(page)
    assert f"standards={process.pk}-{exposure.pk}" in page.content.decode()


def test_a_reviewer_sees_the_roll_over_earlier_ones(client_for, owner, admin, batch, standards):
    earlier = make_accepted_roll(owner, admin, batch, standards)
    roll = make_submitted_roll(owner, batch, standards, seed=2)
    url = reverse("roll", args=[roll.pk])
    page = client_for(admin).get(url)
    assert [row[0].pk for row in page.context["compared"]["rows"]] == [roll.pk, earlier.pk]
    assert page.context["overlay"]["meta"]["kind"] == "comparison"
    theirs = client_for(owner).get(url)
    assert theirs.context["overlay"] is None
    assert earlier.code in text(theirs)


def test_rolls_under_other_standards_are_not_compared(client_for, owner, admin, batch, standards):
    make_accepted_roll(owner, admin, batch, (standards[0], make_exposure(admin, "Second exposure")))
    roll = make_read_roll(owner, batch, standards, seed=2)
    page = client_for(owner).get(reverse("roll", args=[roll.pk]))
    assert page.context["page"].earlier == ()


def test_a_failed_fit_is_told_and_can_be_asked_for_again(client_for, owner, planned, standards):
    assign_run(actor=owner, roll_id=planned.pk, run_id=make_run(owner, standards[0]).pk)
    record_readings(actor=owner, strip_id=planned.strips.get().pk, values=reading_values(planned))
    Job.objects.update(state="failed", error_text="The machine stopped.")
    client, url = client_for(owner), reverse("roll", args=[planned.pk])
    page = client.get(url)
    assert "Its fit failed." in text(page) and "The machine stopped." in text(page)
    client.post(reverse("roll_refit", args=[planned.pk]))
    run_waiting_jobs()
    assert "submit the roll" in text(client.get(url))


def test_a_curve_of_an_older_engine_is_marked_until_it_is_fitted_again(client_for, owner, admin, submitted):
    Analysis.objects.update(engine_version="0.1")
    page = client_for(admin).get(reverse("roll", args=[submitted.pk]))
    assert "Not the curve of these readings" in text(page)
    accept = client_for(admin).post(reverse("roll_accept", args=[submitted.pk]), {}, follow=True)
    assert any("not ready" in message for message in told(accept))
    client_for(admin).post(reverse("roll_refit", args=[submitted.pk]))
    run_waiting_jobs()
    assert "Next: review" in text(client_for(admin).get(reverse("roll", args=[submitted.pk])))


def test_an_accepted_roll_is_not_fitted_again(client_for, owner, admin, batch, standards):
    roll = make_accepted_roll(owner, admin, batch, standards)
    page = client_for(admin).post(reverse("roll_refit", args=[roll.pk]), follow=True)
    assert any("stands as it was decided on" in message for message in told(page))


def test_remarks_are_kept_and_an_empty_one_is_refused(client_for, labmate, planned):
    client, url = client_for(labmate), reverse("roll_remark", args=[planned.pk])
    assert "Dust on step 4." in text(client.post(url, {"text": "Dust on step 4."}, follow=True))
    assert client.post(url, {"text": " "}).status_code == 400


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


# --- The list


def test_the_list_filters_sorts_and_exports(client_for, owner, labmate, admin, standards):
    process, exposure = standards
    rolls = [
        roll_row(member, process, exposure, state=state)
        for member, state in ((owner, "draft"), (labmate, "submitted"), (owner, "accepted"))
    ]
    client, url = client_for(owner), reverse("roll_list")

    def listed(**query):
        return [roll.pk for roll in client.get(url, query).context["page"]]

    assert listed() == [roll.pk for roll in reversed(rolls)]
    assert listed(sort="roll") == [roll.pk for roll in rolls]
    assert listed(state="draft") == [rolls[0].pk]
    assert listed(is_mine="on", sort="roll") == [rolls[0].pk, rolls[2].pk]
    assert listed(member_id=labmate.pk) == [rolls[1].pk]
    assert listed(
        process_id=process.pk, exposure_id=exposure.pk, stock_id=rolls[0].batch.stock_id, sort="roll"
    ) == [r.pk for r in rolls]
    assert listed(state="no such") == []
    file = client.get(url, {"export": "csv", "is_mine": "on", "sort": "roll"})
    rows = list(csv.DictReader(io.StringIO(file.content.decode())))
    assert [row["roll"] for row in rows] == [rolls[0].code, rolls[2].code]
    assert rows[0]["member"] == str(owner)


def test_visitors_of_an_open_lab_list_accepted_rolls_without_their_members(
    client_for, visitor, owner, standards, open_lab
):
    process, exposure = standards
    for state in ("draft", "accepted"):
        roll = roll_row(owner, process, exposure, state=state)
    page = client_for(visitor).get(reverse("roll_list"))
    assert [each.pk for each in page.context["page"]] == [roll.pk]
    assert str(owner) not in text(page)
    file = client_for(visitor).get(reverse("roll_list"), {"export": "csv"})
    assert "member" not in file.content.decode().splitlines()[0]


# --- What others may see


def test_a_visitor_of_an_open_lab_sees_results_but_not_the_lab_s_talk(
    client_for, visitor, owner, admin, batch, standards, open_lab
):
    roll = make_accepted_roll(owner, admin, batch, standards)
    client_for(owner).post(reverse("roll_remark", args=[roll.pk]), {"text": "Between us."})
    page = client_for(visitor).get(reverse("roll", args=[roll.pk]))
    assert page.status_code == 200
    assert "Between us." not in text(page) and str(owner) not in text(page)
    assert page.context["page"].job is None and page.context["page"].reviews == ()
    assert owner.credit_line in text(page)
    draft = make_roll(owner, batch, standards)
    assert client_for(visitor).get(reverse("roll", args=[draft.pk])).status_code == 404


def test_a_labmate_reads_everything_and_changes_nothing(client_for, labmate, submitted, planned):
    client = client_for(labmate)
    page = client.get(reverse("roll", args=[planned.pk]))
    assert "has to record the process run" in text(page)
    for name in ("roll_edit", "roll_run"):
        assert client.get(reverse(name, args=[planned.pk])).status_code == 403
    for name in ("roll_readings", "roll_import"):
        assert client.get(reverse(name, args=[planned.pk, 1])).status_code == 403
    assert client.post(reverse("roll_readings", args=[planned.pk, 1]), {"d-1-1": "1.9"}).status_code == 403
    for name in ("roll_submit", "roll_strips", "roll_refit"):
        assert client.post(reverse(name, args=[planned.pk])).status_code == 403
    for name in ("roll_recall", "roll_accept", "roll_return", "roll_void", "roll_override"):
        assert client.post(reverse(name, args=[submitted.pk]), {"reasons": "x"}).status_code == 403
    assert client.get(reverse("review_queue")).status_code == 403
    assert not Reading.objects.filter(strip__roll=planned).exists()


# --- Files out


def test_the_readings_file_is_one_that_the_site_takes_back(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    client = client_for(owner)
    file = client.get(reverse("roll_readings_csv", args=[roll.pk, 1]))
    assert file["Content-Disposition"] == f'attachment; filename="{roll.code}-strip-1-readings.csv"'
    preview = upload(client, roll, file.content.decode())
    assert preview.context["shown"].counts == {"new": 0, "same": 45, "replaced": 0, "kept": 0}


def test_results_come_as_json_and_csv(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    client = client_for(owner)
    document = json.loads(client.get(reverse("roll_result_json", args=[roll.pk])).content)
    assert document["measures"] == roll.current_analysis.measures
    assert document["input_digest"] == roll.current_analysis.input_digest
    rows = csv.DictReader(
        io.StringIO(client.get(reverse("roll_measures_csv", args=[roll.pk])).content.decode())
    )
    values = {row["measure"]: row["value"] for row in rows}
    assert float(values["base_plus_fog"]) == roll.current_analysis.measures["base_plus_fog"]["value"]
    assert values["between_strip_stops"] == ""
    curve = list(
        csv.DictReader(io.StringIO(client.get(reverse("roll_curve_csv", args=[roll.pk])).content.decode()))
    )
    assert [float(row["density"]) for row in curve] == roll.current_analysis.detail["curve"]["density"]


def test_a_roll_without_result_has_none_to_download(client_for, owner, planned):
    for name in ("roll_result_json", "roll_measures_csv", "roll_curve_csv"):
        assert client_for(owner).get(reverse(name, args=[planned.pk])).status_code == 404


# --- Query budgets


def test_the_roll_s_page_asks_the_same_whatever_it_holds(
    client_for, owner, admin, batch, standards, django_assert_max_num_queries
):
    process, exposure = standards
    reference = make_accepted_roll(owner, admin, batch, standards)
    appoint_reference(
        actor=admin,
        stock_id=reference.batch.stock_id,
        process_revision_id=process.pk,
        exposure_revision_id=exposure.pk,
        reason="",
    )
    for seed in (2, 3):
        make_accepted_roll(owner, admin, batch, standards, seed=seed)
    roll = make_submitted_roll(owner, batch, standards, seed=4)
    for number in range(6):
        client_for(owner).post(reverse("roll_remark", args=[roll.pk]), {"text": f"Remark {number}"})
    client = client_for(admin)
    with django_assert_max_num_queries(20):
        page = client.get(reverse("roll", args=[roll.pk]))
    assert len(page.context["page"].earlier) == 3 and page.context["page"].reference


def test_the_list_asks_the_same_whatever_its_length(
    client_for, owner, standards, django_assert_max_num_queries
):
    for _ in range(30):
        roll_row(owner, *standards, state="draft")
    client = client_for(owner)
    with django_assert_max_num_queries(10):
        client.get(reverse("roll_list"))
