"""The list of rolls and the page of one: what they show, to whom, and at what cost."""

import csv
import io
import json
from dataclasses import replace

import pytest
from django.urls import reverse

from curves.models import Analysis, Reading, RollState
from curves.models.rolls import UNDECIDED_STATES
from curves.pages.rolls.measure_groups import GROUPS, grouped_measures
from curves.pages.rolls.step_rows import general_flags, step_rows
from curves.queries.roll_progress import roll_actions
from curves.sensitometry import ROLL_MEASURES
from curves.sensitometry import Analysis as EngineAnalysis
from curves.services.readings import record_readings
from curves.services.references import appoint_reference
from curves.services.reviews import return_roll
from curves.services.rolls import assign_run
from labsite.accounts.models import Lab
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.curves.roll_forms import text, told, upload
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
from tests.factories.standards import make_exposure
from tests.factories.standing import roll_row


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


def test_a_step_left_out_of_the_fit_is_named_where_people_look(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    values = [
        replace(v, density={1: 1.02, 2: 0.72}[v.replicate]) if v.step == 10 else v
        for v in reading_values(roll)
    ]
    record_readings(actor=owner, strip_id=roll.strips.get().pk, values=values, reason="read again")
    run_waiting_jobs()
    page = client_for(owner).get(reverse("roll", args=[roll.pk]))
    things = page.context["things"]
    (named,) = [thing for thing in things if thing.startswith("Step 10: ")]
    assert named.startswith("Step 10: Left out of the fit.")
    assert named.endswith("Its readings on strip 1 lie 0.30 D apart (0.72 to 1.02 D).")
    body = text(page)
    assert f"{len(things)} things to look at" in body
    listed = body.split('id="look"')[1].split("</ul>")[0]
    assert listed.count("<li>") == len(things) and named.replace("'", "&#x27;") in listed


def test_readings_that_no_curve_fits_lead_back_to_the_grid(client_for, owner, planned, standards):
    assign_run(actor=owner, roll_id=planned.pk, run_id=make_run(owner, standards[0]).pk)
    few = [value for value in reading_values(planned) if value.step in (0, 1, 2)]
    record_readings(actor=owner, strip_id=planned.strips.get().pk, values=few)
    run_waiting_jobs()
    page = client_for(owner).get(reverse("roll", args=[planned.pk]))
    assert page.context["page"].next_step.code == "correct_readings"
    action = text(page).split("Next: correct the readings")[1].split("</section>")[0]
    grid = reverse("roll_readings", args=[planned.pk, 1])
    (primary,) = [tag for tag in action.split("<") if "button-primary" in tag]
    assert f'href="{grid}"' in primary and "Correct the readings" in primary


def test_a_returned_roll_has_its_curve(client_for, owner, admin, submitted):
    return_roll(actor=admin, roll_id=submitted.pk, reasons="Read step 4 again.")
    page = client_for(owner).get(reverse("roll", args=[submitted.pk])).context["page"]
    assert page.result is not None
    stages = {stage.title: stage.state for stage in page.next_step.stages}
    assert stages["Readings"] == "now" and stages["Curve"] == "done" and stages["Submission"] == "to come"


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
    assert "This curve is out of date" in text(page)
    accept = client_for(admin).post(reverse("roll_accept", args=[submitted.pk]), {}, follow=True)
    assert any("not ready" in message for message in told(accept))
    client_for(admin).post(reverse("roll_refit", args=[submitted.pk]))
    run_waiting_jobs()
    assert "Next: review" in text(client_for(admin).get(reverse("roll", args=[submitted.pk])))


def test_a_curve_out_of_date_for_the_box_speed_is_not_laid_to_the_readings(client_for, owner, submitted):
    stock = submitted.batch.stock
    stock.box_speed *= 2
    stock.save()
    page = text(client_for(owner).get(reverse("roll", args=[submitted.pk])))
    assert "This curve is out of date" in page and "the stock’s box speed" in page
    assert "readings have changed since" not in page and "other readings" not in page


def test_only_an_undecided_roll_offers_a_new_fit(owner, batch, standards):
    offered = set()
    for state in RollState:
        roll = roll_row(owner, *standards, state=state)
        actions = roll_actions(owner, roll, has_readings=True, is_fitted=False, job=None)
        offered |= {state} if actions.can_refit else set()
    assert offered == set(UNDECIDED_STATES)


def test_an_accepted_roll_is_not_fitted_again(client_for, owner, admin, batch, standards):
    roll = make_accepted_roll(owner, admin, batch, standards)
    Analysis.objects.update(engine_version="0.1")
    assert not client_for(admin).get(reverse("roll", args=[roll.pk])).context["page"].actions.can_refit
    page = client_for(admin).post(reverse("roll_refit", args=[roll.pk]), follow=True)
    assert any("stands as it was decided on" in message for message in told(page))


def test_remarks_are_kept_and_an_empty_one_is_refused(client_for, labmate, planned):
    client, url = client_for(labmate), reverse("roll_remark", args=[planned.pk])
    assert "Dust on step 4." in text(client.post(url, {"text": "Dust on step 4."}, follow=True))
    assert client.post(url, {"text": " "}).status_code == 400


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
