"""Control strips on their pages: read into a run, struck out, aims drafted and put in force."""

import pytest
from django.urls import reverse

from curves.models import ControlAims, ControlStrip, StripBatch
from tests.factories.rolls import make_run
from tests.factories.standards import make_process
from tests.factories.strips import make_aims, make_strip_batch, make_strip_runs, next_run, read_as

TYPED = {"base_fog": "0,28", "speed_step": "0.39", "high_step": "1,45", "dmax": "2.20", "instrument_id": ""}


@pytest.fixture
def process(admin):
    return make_process(admin)


@pytest.fixture
def batch(admin):
    return make_strip_batch(admin)


def test_a_member_reads_a_strip_and_is_told_at_once(client_for, admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    client = client_for(owner)
    page = client.get(reverse("run_strip_new", args=[run.pk]))
    assert f'<option value="{batch.pk}" selected>' in page.text, "the batch read last is chosen"
    answer = client.post(
        reverse("run_strip_new", args=[run.pk]), TYPED | {"batch_id": batch.pk, "dmax": "2,9"}, follow=True
    )
    assert f"Run {run.pk} is out of control: control strip: maximum density" in answer.text
    assert "Deviations from the aims" in answer.text
    assert "beyond the action limit" in answer.text
    assert "One point lies beyond three standard deviations." in answer.text
    assert "Likely causes" in answer.text
    assert "common practice, no source" in answer.text
    assert ControlStrip.objects.get(run=run).base_fog == 0.28


def test_a_strip_as_usual_and_one_without_aims(client_for, admin, owner, process, batch):
    run = make_run(owner, process)
    client = client_for(owner)
    address = reverse("run_strip_new", args=[run.pk])
    answer = client.post(address, TYPED | {"batch_id": batch.pk}, follow=True)
    assert "No aims are set" in answer.text
    make_aims(admin, owner, process, batch)
    answer = client.post(address, TYPED | {"batch_id": batch.pk}, follow=True)
    assert f"Run {run.pk} is in control." in answer.text
    assert "Control strip: no rule is broken on any step" in answer.text


def test_refusals_keep_what_was_typed(client_for, owner, process, batch):
    run = make_run(owner, process)
    answer = client_for(owner).post(
        reverse("run_strip_new", args=[run.pk]), TYPED | {"batch_id": batch.pk, "speed_step": "0,1"}
    )
    assert answer.status_code == 400
    assert "Is it in the right place?" in answer.context["form"].errors["speed_step"][0]
    assert 'value="1,45"' in answer.text
    assert not ControlStrip.objects.exists()


def test_a_strip_is_struck_out_with_its_reason(client_for, owner, labmate, process, batch):
    run = make_run(owner, process)
    strip = read_as(owner, run, batch)
    address = reverse("run_strip_strike", args=[strip.pk])
    assert client_for(labmate).get(address).status_code == 403
    client = client_for(owner)
    assert client.post(address, {"reason": ""}).status_code == 400
    answer = client.post(address, {"reason": "upside down"}, follow=True)
    assert "Struck out" in answer.text
    assert "upside down" in answer.text


def test_an_admin_sets_aims_from_strips(client_for, admin, owner, process, batch):
    runs = make_strip_runs(owner, process, batch, count=11)
    client = client_for(admin)
    typed = {
        "process_revision_id": process.pk, "batch_id": batch.pk, "least": "10", "rules": "western_electric",
        "left_out": f"{runs[0].pk}, x", "change_note": "",
    }  # fmt: skip
    address = reverse("strip_aims_from_strips")
    assert client.post(address, typed).status_code == 400
    answer = client.post(address, typed | {"left_out": f"{runs[0].pk}"}, follow=True)
    aims = ControlAims.objects.get()
    assert "Put in force" in answer.text
    assert f"Run {runs[10].pk}" in answer.text
    answer = client.post(reverse("strip_aims_enforce", args=[aims.pk]), follow=True)
    assert "11 runs could be judged by them" in answer.text
    assert "never edited" in answer.text
    listed = client_for(owner).get(reverse("strip_list"))
    assert f"Aims {aims.number}" in listed.text
    assert batch.code in listed.text
    assert client.post(reverse("strip_aims_discard", args=[aims.pk])).status_code == 409


def test_an_admin_states_aims_by_hand_and_throws_them_away(client_for, admin, process, batch):
    client = client_for(admin)
    page = client.get(f"{reverse('strip_aims_by_hand')}?revision={process.pk}&batch={batch.pk}")
    assert 'value="0.03"' in page.text, "usual limits are filled in"
    typed = {
        "process_revision_id": process.pk, "batch_id": batch.pk, "rules": "action",
        "change_note": "as bought",
        "base_fog_aim": "0,28", "base_fog_warning": "0,03", "base_fog_action": "0,05",
        "speed_step_aim": "0,39", "speed_step_warning": "0,06", "speed_step_action": "0,08",
        "contrast_aim": "1,06", "contrast_warning": "0,06", "contrast_action": "0,09",
        "dmax_aim": "", "dmax_warning": "0,1", "dmax_action": "0,15",
    }  # fmt: skip
    assert client.post(reverse("strip_aims_by_hand"), typed | {"contrast_aim": ""}).status_code == 400
    answer = client.post(reverse("strip_aims_by_hand"), typed, follow=True)
    assert "Provisional" in answer.text
    assert "0.230 to 0.330" in answer.text
    client.post(reverse("strip_aims_discard", args=[ControlAims.objects.get().pk]))
    assert not ControlAims.objects.exists()


def test_aims_are_carried_over_to_a_new_batch(client_for, admin, owner, process, batch):
    aims = make_aims(admin, owner, process, batch)
    client = client_for(admin)
    client.post(reverse("strip_batch_new"), {"code": "CS-2", "notes": ""})
    new = StripBatch.objects.get(code="CS-2")
    address = reverse("strip_aims_carry_over", args=[aims.pk])
    answer = client.post(address, {"batch_id": new.pk, "change_note": ""})
    assert "No run has strips of both" in answer.text
    run = next_run(owner, process)
    for _ in range(3):
        read_as(owner, run, batch)
        read_as(owner, run, new, off={"high_step": 0.05})
    answer = client.post(address, {"batch_id": new.pk, "change_note": ""}, follow=True)
    assert "How the new strips differ" in answer.text
    assert "From 1 run with strips of both CS-1 and CS-2" in answer.text


def test_strip_batches_as_a_file(client_for, owner, process, batch):
    read_as(owner, make_run(owner, process), batch)
    answer = client_for(owner).get(reverse("strip_list") + "?export=csv")
    assert answer.text.splitlines()[1].startswith("CS-1,1,2026-05-04")
