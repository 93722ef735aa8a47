"""Pages of agreement: a strip is set up, read, judged, and a correction is previewed, in force, and out."""

import json

import pytest
from django.utils import timezone

from curves.models import AgreementStudy, InstrumentCorrection
from curves.services.agreement import close_study
from curves.services.readings import record_readings
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_standards, reading_values
from tests.factories.studies import make_study, read_study


@pytest.fixture
def instruments(admin):
    return make_instrument(admin, "Bench A"), make_instrument(admin, "Bench B")


@pytest.fixture
def study(owner, labmate, instruments):
    """Two members have read a strip with a good instrument and one that reads 0.06 D too high."""
    made = make_study(owner)
    for seed, member in enumerate((owner, labmate)):
        read_study(made, member, instruments[0], seed=2 * seed)
        read_study(made, member, instruments[1], seed=2 * seed + 1, zero=0.06)
    return made


def typed(study, client, instrument, cells, **more):
    address = f"/control/agreement/{study.pk}/readings/?instrument={instrument.pk}"
    return client.post(address, {f"d-{step}-{k}": text for (step, k), text in cells.items()} | more)


def test_a_study_is_set_up_and_listed(owner, client_for):
    client = client_for(owner)
    assert "No study yet" in client.get("/control/agreement/").content.decode()
    form = {
        "name": "Autumn round", "strip_name": "Strip 7", "step_count": "21", "density_type": "visual",
        "geometry": "diffuse", "planned_replicates": "2", "notes": "",
    }  # fmt: skip
    refused = client.post("/control/agreement/new/", form | {"step_count": ""})
    assert refused.status_code == 400
    assert "Give the number of steps" in refused.content.decode()
    assert client.post("/control/agreement/new/", form).status_code == 302
    assert AgreementStudy.objects.get().created_by == owner
    assert "Autumn round" in client.get("/control/agreement/").content.decode()
    assert "Strip 7" in client.get("/control/agreement/?export=csv").content.decode()


def test_readings_are_entered_in_the_grid_and_nothing_typed_is_lost(owner, client_for, instruments):
    study, client = make_study(owner), client_for(owner)
    page = client.get(f"/control/agreement/{study.pk}/readings/").content.decode()
    assert "Bench A" in page
    assert 'name="d-1-1"' not in page
    bad = typed(study, client, instruments[0], {(1, 1): "0,05", (2, 1): "o.20"})
    assert bad.status_code == 400
    assert 'value="0,05"' in bad.content.decode()
    assert not study.readings.exists()
    assert typed(study, client, instruments[0], {(1, 1): "0,05", (2, 1): "0.20"}).status_code == 302
    more = typed(study, client, instruments[0], {(1, 1): "0.05"}, add_replicate="1").content.decode()
    assert 'name="d-1-3"' in more
    stale = typed(study, client, instruments[0], {(1, 1): "0.06"}, version="0" * 16)
    assert "changed in another window" in stale.content.decode()
    typed(study, client, instruments[0], {(1, 1): "0.06"}, reason="digits swapped")
    shown = client.get(f"/control/agreement/{study.pk}/").content.decode()
    assert "Withdrawn readings: 1" in shown
    assert "digits swapped" in shown


def test_the_study_says_what_it_found_and_what_it_withholds(owner, client_for, study):
    client = client_for(owner)
    shown = client.get(f"/control/agreement/{study.pk}/").content.decode()
    assert "By analysis of variance" in shown
    assert "By the mean range" in shown
    assert "Bench B reads 0.0" in shown
    assert "D higher than Bench A" in shown
    assert "an admin decides" in shown
    consensus = client.get(f"/control/agreement/{study.pk}/?reference=consensus").content.decode()
    assert "a consensus needs three instruments" in consensus
    assert client.get(f"/control/agreement/{study.pk}/?reference=xx").status_code == 400
    assert client.get(f"/control/agreement/{study.pk}/?first=999").status_code == 404
    rows = client.get(f"/control/agreement/{study.pk}/?export=csv").content.decode().splitlines()
    assert len(rows) == 1 + study.readings.count()


def test_a_members_own_readings_are_withdrawn_from_the_page(owner, admin, client_for, study, instruments):
    client = client_for(owner)
    form = {"group": f"{owner.pk}-{instruments[1].pk}", "step": "3", "reason": ""}
    address = f"/control/agreement/{study.pk}/withdraw/"
    assert client.post(address, form).status_code == 400
    assert client.post(address, form | {"reason": "wrong step"}).status_code == 302
    assert study.readings.filter(is_current=False).count() == 2
    assert client.post(f"/control/agreement/{study.pk}/close/").status_code == 302
    reopen = f"/control/agreement/{study.pk}/reopen/"
    assert client.post(reopen, {"reason": ""}).status_code == 400
    assert client.post(reopen, {"reason": "one more"}).status_code == 302


def test_an_admin_previews_brings_into_force_and_takes_out(
    owner, admin, client_for, study, instruments, django_capture_on_commit_callbacks
):
    good, off = instruments
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    record_readings(
        actor=owner, strip_id=roll.strips.get().pk, values=reading_values(roll), instrument_id=off.pk
    )
    run_waiting_jobs()
    close_study(actor=owner, study_id=study.pk)
    client = client_for(admin)
    address = f"/control/agreement/{study.pk}/instruments/{off.pk}/correct/"
    preview = client.get(f"{address}?reference={good.pk}").content.decode()
    assert f'href="/rolls/{roll.pk}/"' in preview
    early = client.get(f"{address}?reference={good.pk}&applies_from_on=2030-01-01").content.decode()
    assert "No roll rests on this instrument" in early
    odd = client.get(f"{address}?reference={good.pk}&applies_from_on=0001-01-01")
    assert odd.status_code == 400
    assert "1900 to 2200" in odd.content.decode()
    assert "Enter a valid date" in client.get(f"{address}?applies_from_on=soon").content.decode()
    form = {"reference": str(good.pk), "applies_from_on": f"{timezone.localdate():%Y-%m-%d}", "reason": ""}
    assert client.post(address, form).status_code == 400
    stale = client.post(address, form | {"reason": "reads high", "seen": "0" * 16}).content.decode()
    assert "not those that you looked at" in stale
    answer = client.post(address, form | {"reason": "reads high"})
    made = InstrumentCorrection.objects.get()
    assert answer["Location"] == f"/control/corrections/{made.pk}/"
    assert "Being computed anew" in client.get(answer["Location"]).content.decode()
    run_waiting_jobs()
    shown = client_for(owner).get(answer["Location"]).content.decode()
    assert "Being computed anew" not in shown
    assert "Take it out of force" not in shown
    result = client_for(owner).get(f"/rolls/{roll.pk}/").content.decode()
    assert "corrected by revision 1 of Bench B" in result
    about = client_for(owner).get(f"/control/instruments/{off.pk}/").content.decode()
    assert "corrected by revision 1 (" in about
    assert f"/control/instruments/{off.pk}/corrections/" in about
    listed = client_for(owner).get(f"/control/instruments/{off.pk}/corrections/").content.decode()
    assert "in force" in listed
    assert "/control/corrections/" in client.get(f"/control/agreement/{study.pk}/").content.decode()
    end = f"/control/corrections/{made.pk}/end/"
    assert client.post(end, {"reason": ""}).status_code == 400
    assert client.post(end, {"reason": "lamp replaced"}).status_code == 302
    assert "lamp replaced" in client.get(f"/control/corrections/{made.pk}/").content.decode()
    assert roll.code in client.get(f"/control/corrections/{made.pk}/?export=csv").content.decode()


def test_scripts_do_the_same(owner, admin, client_for, study, instruments):
    good, off = instruments
    member, warden = client_for(owner), client_for(admin)

    def sent(client, address, body):
        return client.post(f"/api/v1/{address}", json.dumps(body), content_type="application/json")

    said = member.get(f"/api/v1/agreement-studies/{study.pk}/?reference={good.pk}").json()
    found = next(each for each in said["corrections"] if each["instrument_id"] == off.pk)
    assert found["offset"]["value"] == pytest.approx(-0.06, abs=0.01)
    assert said["precision"]["repeatability_sd"]["value"] == pytest.approx(0.0065, abs=0.002)
    cells = {"instrument_id": good.pk, "readings": [{"step": 1, "replicate": 3, "density": 0.05}]}
    assert sent(member, f"agreement-studies/{study.pk}/readings/", cells).json() == {"changed": 1}
    gone = {"member_id": owner.pk, "instrument_id": good.pk, "step": 1, "reason": "slip"}
    assert sent(member, f"agreement-studies/{study.pk}/withdraw/", gone).json() == {"changed": 3}
    assert sent(member, f"agreement-studies/{study.pk}/close/", {}).json()["closed_at"]
    asked = f"instruments/{off.pk}/corrections/preview/?study_id={study.pk}&reference={good.pk}"
    assert warden.get(f"/api/v1/{asked}").json()["reading_count"] == 0
    body = {
        "study_id": study.pk, "reference": str(good.pk), "applies_from_on": "2026-01-01", "reason": "high",
    }  # fmt: skip
    made = sent(warden, f"instruments/{off.pk}/corrections/", body)
    assert made.status_code == 201
    pk = made.json()["correction"]["id"]
    assert sent(warden, f"corrections/{pk}/end/", {"reason": "mended"}).json()["correction"]["ended_reason"]
    listed = member.get(f"/api/v1/instruments/{off.pk}/corrections/").json()["results"]
    assert [each["state"] for each in listed] == ["taken out of force"]
