"""The run timer: what it counts, what it records into the run; and the lab's safety data sheets."""

import pytest
from django.urls import reverse

from curves.models import ProcessRun, RunTiming, SafetySheet
from curves.queries.run_timers import timer_steps
from curves.services.run_timings import record_run_times, record_timed_run
from curves.services.run_voids import void_run
from curves.services.safety_sheets import add_safety_sheet, remove_safety_sheet
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, WrongState
from tests.factories.rolls import make_run
from tests.factories.standards import draft_process, make_process

RHYTHM = {"agitation_initial_s": 30, "agitation_every_s": 30, "agitation_for_s": 5}
MEASURED = {"develop": 512, "stop": 31, "fix": 300, "wash": None}


@pytest.fixture
def process(admin):
    return make_process(admin, stop_s=30, fix_s=300, wash_s=600, **RHYTHM)


def test_the_steps_are_the_standard_s(process):
    steps = timer_steps(process)
    assert [(step.key, step.planned_s) for step in steps] == [
        ("develop", 510), ("stop", 30), ("fix", 300), ("wash", 600),
    ]  # fmt: skip
    assert (steps[0].initial_s, steps[0].every_s, steps[0].for_s) == (30, 30, 5)


def test_a_stock_s_own_time_is_the_one_given(admin):
    process = make_process(admin, time_rule="recommended", development_time_s=None)
    assert timer_steps(process)[0].planned_s is None
    assert timer_steps(process, 480)[0].planned_s == 480


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"agitation_every_s": 30}, "agitation_for_s"),
        ({"agitation_for_s": 5}, "agitation_every_s"),
        ({"agitation_every_s": 30, "agitation_for_s": 40}, "agitation_for_s"),
        ({"stop_s": 1}, "stop_s"),
        ({"developer_films": 0}, "developer_films"),
    ],
)
def test_a_rhythm_that_cannot_be_kept_is_refused(admin, values, field):
    with pytest.raises(InvalidInput) as refused:
        draft_process(admin, **values)
    assert field in {problem["field"] for problem in refused.value.problems}


def test_measured_times_go_into_the_run_which_is_judged_by_them(admin, owner, process):
    run = make_run(owner, process)
    record_run_times(actor=owner, run_id=run.pk, measured_s=MEASURED)
    run.refresh_from_db()
    assert run.development_time_s == 512
    timing = RunTiming.objects.get(run=run)
    assert timing.steps[0] == {"step": "develop", "planned_s": 510, "measured_s": 512}
    assert [step["step"] for step in timing.steps] == ["develop", "stop", "fix"]
    with pytest.raises(InvalidInput) as refused:
        record_run_times(actor=owner, run_id=run.pk, measured_s=MEASURED | {"develop": 560})
    assert refused.value.field == "reason"
    record_run_times(actor=owner, run_id=run.pk, measured_s=MEASURED | {"develop": 560}, reason="clock stuck")
    run.refresh_from_db()
    assert (run.development_time_s, run.control_state) == (560, "out_of_control")
    assert RunTiming.objects.filter(run=run, is_current=True).count() == 1
    assert RunTiming.objects.filter(run=run).count() == 2
    assert AuditRecord.objects.filter(action="record run times", reason="clock stuck").exists()


def test_a_new_run_is_recorded_with_its_times(owner, process):
    run = record_timed_run(
        actor=owner, revision_id=process.pk, measured_s=MEASURED, ran_on=make_run(owner, process).ran_on,
        temperature_start_c=20.1,
    )  # fmt: skip
    assert run.development_time_s == 512
    assert run.timings.count() == 1


@pytest.mark.parametrize(
    ("measured", "field"),
    [
        ({"develop": None}, "develop"),
        ({"fix": 0}, "fix"),
        ({"fix": 99999}, "fix"),
        ({"bleach": 60}, "bleach"),
    ],
)
def test_times_that_cannot_be_are_refused(admin, owner, process, measured, field):
    run = make_run(owner, process)
    with pytest.raises(InvalidInput) as refused:
        record_run_times(actor=owner, run_id=run.pk, measured_s=MEASURED | measured)
    assert refused.value.field == field
    assert not RunTiming.objects.exists()


def test_who_may_time_a_run(admin, owner, labmate, process):
    run = make_run(owner, process)
    with pytest.raises(NotAllowed):
        record_run_times(actor=labmate, run_id=run.pk, measured_s=MEASURED)
    void_run(actor=admin, run_id=run.pk, reason="wrong tank")
    with pytest.raises(WrongState):
        record_run_times(actor=owner, run_id=run.pk, measured_s=MEASURED)


def test_the_page_saves_what_is_typed_without_the_timer(client_for, owner, process):
    client = client_for(owner)
    run = make_run(owner, process)
    address = reverse("run_timer", args=[run.pk])
    page = client.get(address)
    assert "Ventilate" in page.text or "Air the room well" in page.text
    assert '"every_s": 30' in page.text
    typed = {"develop": "8:32", "stop": "0:31", "fix": "5:00", "wash": "", "started_at": ""}
    answer = client.post(address, typed, follow=True)
    assert "Times as measured" in answer.text
    assert client.post(address, typed | {"reason": ""}).status_code == 400
    answer = client.post(address, typed | {"develop": "8:30", "reason": "misread"}, follow=True)
    assert "misread" in answer.text


def test_a_run_is_timed_from_its_standard(client_for, admin, owner, process):
    client = client_for(owner)
    address = reverse("revision_timer", args=[process.standard_id, process.number])
    assert "Timer" in client.get(reverse("process_revision", args=[process.standard_id, process.number])).text
    typed = {
        "develop": "8:30", "stop": "", "fix": "", "wash": "", "ran_on": "2026-05-04",
        "temperature_start_c": "20,1", "temperature_end_c": "", "developer_batch": "H-12",
        "films_through": "3", "notes": "",
    }  # fmt: skip
    assert client.post(address, typed | {"temperature_start_c": ""}).status_code == 400
    client.post(address, typed)
    assert ProcessRun.objects.get().temperature_start_c == 20.1
    draft = draft_process(admin, "Idea")
    assert client.get(reverse("revision_timer", args=[draft.standard_id, 1])).status_code == 404


# --- Safety data sheets


def test_a_sheet_is_linked_wherever_its_process_is_shown(client_for, admin, owner, process):
    other = make_process(admin, "Other process")
    client = client_for(admin)
    typed = {"chemical": "Hearth D", "url": "https://sheets.example/d", "title": "", "standard_id": ""}
    for wrong in ({"url": "javascript:alert(1)"}, {"url": "sheet on the shelf"}, {"chemical": ""}):
        assert client.post(reverse("safety_sheet_add"), typed | wrong).status_code == 400
    client.post(reverse("safety_sheet_add"), typed)
    client.post(
        reverse("safety_sheet_add"),
        typed
        | {"chemical": "Hearth stop", "standard_id": process.standard_id, "url": "https://sheets.example/s"},
    )
    page = client_for(owner).get(reverse("process", args=[process.standard_id])).text
    assert "Hearth D" in page and "https://sheets.example/s" in page
    page = client_for(owner).get(reverse("process", args=[other.standard_id])).text
    assert "https://sheets.example/d" in page and "https://sheets.example/s" not in page


def test_a_sheet_is_taken_off_the_list_and_stays_in_the_history(admin, owner):
    sheet = add_safety_sheet(actor=admin, chemical="Hearth D", url="https://sheets.example/d")
    with pytest.raises(NotAllowed):
        remove_safety_sheet(actor=owner, sheet_id=sheet.pk)
    remove_safety_sheet(actor=admin, sheet_id=sheet.pk)
    with pytest.raises(WrongState):
        remove_safety_sheet(actor=admin, sheet_id=sheet.pk)
    assert SafetySheet.objects.filter(is_active=True).count() == 0
    assert AuditRecord.objects.filter(action="remove safety sheet").exists()
