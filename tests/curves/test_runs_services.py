"""Process runs: recorded, judged by tolerance, judged by hand, mended with a reason."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from curves.models import RollState
from curves.models.processes import ControlState
from curves.services.processes import PROCESSES
from curves.services.runs import correct_run, judge_run, record_run
from curves.services.standards import edit_draft, put_in_force, revise_standard
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound
from labsite.jobs.models import Job
from tests.factories.standards import draft_process, make_exposure, make_process
from tests.factories.standing import roll_row

AS_MEANT = {
    "ran_on": date(2026, 5, 4),
    "temperature_start_c": 20.0,
    "temperature_end_c": 19.6,
    "development_time_s": 510,
}


def record(member, revision, **values):
    return record_run(actor=member, revision_id=revision.pk, **AS_MEANT | values)


def correct(person, run, reason="typed 28 for 20", **values):
    return correct_run(actor=person, run_id=run.pk, reason=reason, **AS_MEANT | values)


def test_a_run_within_tolerance_is_unproven_until_a_strip_shows_more(admin, owner):
    run = record(owner, make_process(admin), developer_batch=" H-12 ", films_through=3)
    assert (run.control_state, run.control_reason) == (ControlState.UNPROVEN, "")
    assert (run.operator, run.developer_batch) == (owner, "H-12")
    assert AuditRecord.objects.get(action="record run").after["films_through"] == 3


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"temperature_start_c": 20.6}, "temperature at the start 20.6 °C is outside 20 ± 0.5 °C"),
        ({"temperature_end_c": 19.4}, "temperature at the end 19.4 °C is outside"),
        ({"development_time_s": 521}, "developing time 8 min 41 s is outside 8 min 30 s ± 10 s"),
    ],
)
def test_a_broken_tolerance_is_told_at_once(admin, owner, values, words):
    run = record(owner, make_process(admin), **values)
    assert run.control_state == ControlState.OUT_OF_CONTROL
    assert words in run.control_reason


@pytest.mark.parametrize(
    "values",
    [
        {"temperature_start_c": 20.5, "temperature_end_c": 19.5},
        {"temperature_end_c": None},
        {"development_time_s": 520},
    ],
)
def test_the_limit_itself_is_within_tolerance(admin, owner, values):
    assert record(owner, make_process(admin), **values).control_state == ControlState.UNPROVEN


def test_time_is_not_judged_where_each_stock_has_its_own(admin, owner):
    revision = make_process(admin, time_rule="recommended", development_time_s=None)
    assert record(owner, revision, development_time_s=900).control_state == ControlState.UNPROVEN


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"temperature_start_c": 200.0}, "temperature_start_c"),
        ({"temperature_end_c": float("nan")}, "temperature_end_c"),
        ({"development_time_s": 5}, "development_time_s"),
        ({"development_time_s": 7201}, "development_time_s"),
        ({"ran_on": timezone.localdate() + timedelta(days=2)}, "ran_on"),
        ({"films_through": -1}, "films_through"),
        ({"developer_batch": "x" * 81}, "developer_batch"),
    ],
)
def test_what_cannot_have_happened_is_refused(admin, owner, values, field):
    revision = make_process(admin)
    with pytest.raises(InvalidInput) as refused:
        record(owner, revision, **values)
    assert [problem["field"] for problem in refused.value.problems] == [field]
    assert not revision.runs.exists()


def test_a_draft_is_no_ground_for_a_run_but_a_superseded_revision_is(admin, owner):
    draft = draft_process(admin)
    with pytest.raises(InvalidInput, match="still a draft") as refused:
        record(owner, draft)
    assert refused.value.field == "revision_id"
    put_in_force(kind=PROCESSES, actor=admin, revision_id=draft.pk)
    second = revise_standard(kind=PROCESSES, actor=admin, standard_id=draft.standard_id, change_note="warmer")
    edit_draft(kind=PROCESSES, actor=admin, revision_id=second.pk, temperature_c=22.0)
    put_in_force(kind=PROCESSES, actor=admin, revision_id=second.pk)
    assert record(owner, draft).control_state == ControlState.UNPROVEN
    with pytest.raises(NotFound):
        record_run(actor=owner, revision_id=999, **AS_MEANT)


def test_only_members_record_runs(admin, stranger, visitor):
    revision = make_process(admin)
    for person in (stranger, visitor):
        with pytest.raises(NotAllowed):
            record(person, revision)


def test_the_operator_says_what_a_strip_showed(admin, owner, labmate):
    run = record(owner, make_process(admin))
    judge_run(actor=owner, run_id=run.pk, control_state="in_control", reason="strip within 0.03")
    run.refresh_from_db()
    assert (run.control_state, run.control_reason) == (ControlState.IN_CONTROL, "strip within 0.03")
    with pytest.raises(NotAllowed):
        judge_run(actor=labmate, run_id=run.pk, control_state="out_of_control", reason="looks thin")
    for wrong, field in (({"control_state": "fine"}, "control_state"), ({"reason": " "}, "reason")):
        with pytest.raises(InvalidInput) as refused:
            judge_run(actor=owner, run_id=run.pk, **{"control_state": "unproven", "reason": "lost"} | wrong)
        assert refused.value.field == field


@pytest.mark.parametrize("by_tolerance", [True, False])
def test_only_an_admin_lifts_out_of_control(admin, owner, by_tolerance):
    run = record(owner, make_process(admin), temperature_start_c=22.0 if by_tolerance else 20.0)
    if not by_tolerance:
        judge_run(actor=admin, run_id=run.pk, control_state="out_of_control", reason="strip 0.2 too dense")
    for state in ("unproven", "in_control"):
        with pytest.raises(NotAllowed, match="Only an admin may lift"):
            judge_run(actor=owner, run_id=run.pk, control_state=state, reason="it was fine")
    judge_run(actor=admin, run_id=run.pk, control_state="in_control", reason="thermometer read high")
    run.refresh_from_db()
    assert run.control_state == ControlState.IN_CONTROL
    assert ("is outside" in run.control_reason) is by_tolerance


def test_a_judgement_pools_the_stocks_again_only_where_it_lets_in_or_holds_back(admin, owner):
    process = make_process(admin)
    run = record(owner, process)
    exposure = make_exposure(admin)
    roll_row(owner, process, exposure, run=run)
    roll_row(owner, process, exposure, run=run, state=RollState.DRAFT)
    judge_run(actor=owner, run_id=run.pk, control_state="in_control", reason="strip read")
    assert not Job.objects.exists()
    judge_run(actor=owner, run_id=run.pk, control_state="out_of_control", reason="strip read again")
    assert Job.objects.get().kind == "pool_stock"


def test_a_slip_of_the_pen_is_mended_and_judged_anew(admin, owner):
    run = record(owner, make_process(admin), temperature_start_c=28.0)
    assert run.control_state == ControlState.OUT_OF_CONTROL
    run = correct(owner, run)
    assert (run.control_state, run.temperature_start_c) == (ControlState.UNPROVEN, 20.0)
    history = AuditRecord.objects.get(action="correct run")
    assert (history.before["temperature_start_c"], history.reason) == (28.0, "typed 28 for 20")


def test_what_was_judged_by_hand_stands_when_the_record_is_mended(admin, owner):
    run = record(owner, make_process(admin))
    judge_run(actor=admin, run_id=run.pk, control_state="out_of_control", reason="strip 0.2 too dense")
    run = correct(owner, run, films_through=4)
    assert (run.control_state, run.control_reason) == (ControlState.OUT_OF_CONTROL, "strip 0.2 too dense")
    judge_run(actor=admin, run_id=run.pk, control_state="in_control", reason="wrong strip")
    run = correct(owner, run, temperature_end_c=17.0)
    assert run.control_state == ControlState.OUT_OF_CONTROL
    assert "17 °C is outside" in run.control_reason


def test_mending_asks_for_a_reason_a_right_value_and_the_right_person(admin, owner, labmate):
    process = make_process(admin)
    run = record(owner, process)
    with pytest.raises(InvalidInput) as refused:
        correct(owner, run, reason=" ")
    assert refused.value.field == "reason"
    with pytest.raises(InvalidInput):
        correct(owner, run, temperature_start_c=2.0)
    with pytest.raises(NotAllowed):
        correct(labmate, run)
    with pytest.raises(NotFound):
        correct_run(actor=owner, run_id=999, reason="why", **AS_MEANT)
    roll_row(owner, process, make_exposure(admin), run=run)
    with pytest.raises(NotAllowed, match="only an admin"):
        correct(owner, run)
    correct(admin, run, temperature_start_c=21.0)
    assert Job.objects.get().kind == "pool_stock"
