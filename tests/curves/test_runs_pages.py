"""Process runs on their pages: recorded, judged, corrected, listed."""

from datetime import date

import pytest
from django.urls import reverse

from curves.models import ProcessRun, RollState
from curves.pages.control.run_forms import RunForm
from curves.services.runs import record_run
from tests.factories.standards import draft_process, make_exposure, make_process
from tests.factories.standing import roll_row

TYPED = {
    "ran_on": "2026-05-04",
    "temperature_start_c": "20,0",
    "temperature_end_c": "19.6",
    "development_time_s": "8:30",
    "developer_batch": "H-12",
    "films_through": "3",
    "notes": "",
}


@pytest.fixture
def process(admin):
    return make_process(admin)


def record(member, revision, **values):
    kept = {"ran_on": date(2026, 5, 4), "temperature_start_c": 20.0, "development_time_s": 510}
    return record_run(actor=member, revision_id=revision.pk, **kept | values)


def test_a_member_records_a_run_and_is_told_how_it_stands(client_for, owner, process):
    answer = client_for(owner).post(reverse("run_new"), TYPED | {"revision_id": process.pk}, follow=True)
    run = ProcessRun.objects.get()
    assert (run.operator, run.development_time_s, run.temperature_end_c) == (owner, 510, 19.6)
    assert f"Run {run.pk} is recorded: unproven." in answer.text
    assert "8 min 30 s" in answer.text
    assert "−0.4 °C" in answer.text


def test_a_broken_tolerance_is_told_at_once(client_for, owner, process):
    typed = TYPED | {"revision_id": process.pk, "temperature_start_c": "22"}
    answer = client_for(owner).post(reverse("run_new"), typed, follow=True)
    assert "Temperature at the start 22 °C is outside 20 ± 0.5 °C" in answer.text
    assert "<strong>no</strong>" in answer.text


def test_only_standards_in_force_are_offered(client_for, admin, owner, process):
    draft = draft_process(admin, "Idea")
    client = client_for(owner)
    page = client.get(reverse("run_new"))
    assert "House process, revision 1" in page.text
    assert "Idea" not in page.text
    answer = client.post(reverse("run_new"), TYPED | {"revision_id": draft.pk})
    assert answer.status_code == 400
    assert not ProcessRun.objects.exists()


def test_refusals_keep_what_was_typed(client_for, owner, process):
    typed = TYPED | {"revision_id": process.pk, "temperature_start_c": "2", "notes": "long story"}
    answer = client_for(owner).post(reverse("run_new"), typed)
    assert answer.status_code == 400
    assert "2 °C is no developing temperature" in answer.context["form"].errors["temperature_start_c"][0]
    assert "long story" in answer.text
    answer = client_for(owner).post(reverse("run_new"), typed | {"ran_on": "2126-05-04"})
    assert "still to come" in answer.context["form"].errors["ran_on"][0]


def test_the_form_of_the_rolls_area_asks_for_no_standard_but_says_it(process):
    form = RunForm(revision=process)
    assert "revision_id" not in form.fields
    assert form.fields["temperature_start_c"].help_text == "Standard: 20 ± 0.5 °C."
    assert "8 min 30 s" in form.fields["development_time_s"].help_text
    assert form.initial == {}


def test_the_operator_judges_and_the_page_keeps_every_judgement(client_for, owner, process):
    run = record(owner, process)
    client = client_for(owner)
    answer = client.post(
        reverse("run_judge", args=[run.pk]),
        {"control_state": "in_control", "reason": "strip within 0.03"},
        follow=True,
    )
    assert "is judged in control" in answer.text
    assert "judgement unproven" in answer.text
    assert "strip within 0.03" in answer.text
    answer = client.post(reverse("run_judge", args=[run.pk]), {"control_state": "unproven", "reason": ""})
    assert answer.status_code == 400


def test_what_a_member_may_not_judge_is_refused_in_words(client_for, admin, owner, labmate, process):
    run = record(owner, process, temperature_start_c=23.0)
    sent = {"control_state": "in_control", "reason": "looked fine to me"}
    answer = client_for(owner).post(reverse("run_judge", args=[run.pk]), sent)
    assert "Only an admin may lift" in answer.text
    assert "looked fine to me" in answer.text
    assert "Judge by hand" not in client_for(labmate).get(reverse("run", args=[run.pk])).text
    client_for(labmate).post(reverse("run_judge", args=[run.pk]), sent)
    run.refresh_from_db()
    assert run.control_state == "out_of_control"
    client_for(admin).post(reverse("run_judge", args=[run.pk]), sent)
    run.refresh_from_db()
    assert run.control_state == "in_control"


def test_a_record_is_corrected_with_its_reason_and_the_old_values_stay_readable(client_for, owner, process):
    run = record(owner, process, temperature_start_c=28.0)
    client = client_for(owner)
    page = client.get(reverse("run_correct", args=[run.pk]))
    assert 'value="28"' in page.text
    assert 'value="8:30"' in page.text
    answer = client.post(reverse("run_correct", args=[run.pk]), TYPED | {"reason": ""})
    assert answer.status_code == 400
    answer = client.post(
        reverse("run_correct", args=[run.pk]), TYPED | {"reason": "typed 28 for 20"}, follow=True
    )
    assert "is corrected: unproven" in answer.text
    assert "temperature at the start 28 °C" in answer.text
    assert "typed 28 for 20" in answer.text


def test_a_run_shows_its_rolls(client_for, admin, owner, process):
    run = record(owner, process)
    roll = roll_row(owner, process, make_exposure(admin), run=run, state=RollState.SUBMITTED)
    assert roll.code in client_for(owner).get(reverse("run", args=[run.pk])).text


def test_visitors_see_no_runs(client_for, visitor, owner, process):
    run = record(owner, process)
    for url in (reverse("run_list"), reverse("run_new"), reverse("run", args=[run.pk])):
        assert client_for(visitor).get(url).status_code == 302
    assert client_for(owner).get(reverse("run", args=[999])).status_code == 404


def test_the_list_filters_sorts_and_exports_in_a_fixed_number_of_queries(
    client_for, admin, owner, labmate, process, django_assert_max_num_queries
):
    other = make_process(admin, "Push process")
    record(owner, process, ran_on=date(2026, 5, 1))
    record(labmate, other, ran_on=date(2026, 5, 2), temperature_start_c=25.0)
    for day in range(3, 9):
        record(owner, process, ran_on=date(2026, 5, day), notes="=2+2", developer_batch="=B")
    client = client_for(owner)
    # Session, user, lab, standards and operators of the filter, count, rows.
    with django_assert_max_num_queries(7):
        page = client.get(reverse("run_list"))
    assert page.context["page"][0].ran_on == date(2026, 5, 8)
    for query in (
        {"standard_id": other.standard_id},
        {"control_state": "out_of_control"},
        {"operator_id": labmate.pk},
    ):
        assert "1 to 1 of 1" in client.get(reverse("run_list"), query).text
    assert client.get(reverse("run_list"), {"operator_id": "nobody"}).text.count("Nothing fits") == 1
    first = client.get(reverse("run_list"), {"sort": "-temperature"}).context["page"][0]
    assert first.temperature_start_c == 25.0
    lines = client.get(reverse("run_list"), {"export": "csv"}).text.splitlines()
    assert len(lines) == 9
    assert ",'=B," in lines[1]
