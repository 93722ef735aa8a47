"""Standards, instruments, runs and references for scripts: drafts, enforcement, revisions, judgements."""

import pytest

from curves.models import HouseReference, ProcessRevision
from labsite.accounts.models import AuditRecord
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards
from tests.factories.scripts import Script
from tests.factories.standards import DENSITIES, draft_process, make_exposure, make_process, make_tablet
from tests.factories.standing import result_row, stock_row


@pytest.fixture
def warden(admin):
    return Script(admin)


def test_a_draft_is_edited_enforced_and_revised(warden, admin):
    draft = draft_process(admin)
    address = f"process-revisions/{draft.pk}/"
    seen = warden.get(address)
    assert (seen["state"], seen["temperature_c"], seen["label"]) == (
        "draft",
        20.0,
        "House process, revision 1",
    )
    changed = warden.does("patch", address, {"temperature_c": 21.5, "seen": seen["fingerprint"]})
    assert (changed["temperature_c"], changed["developer"]) == (21.5, "Hearth D")
    refusal = warden.refused("patch", address, {"wash": "5 min", "seen": seen["fingerprint"]}, status=409)
    assert refusal["code"] == "changed_meanwhile"
    enforced = warden.does("post", f"{address}enforce/", {"seen": changed["fingerprint"]})
    assert enforced["state"] == "in_force"
    revise = f"process-standards/{draft.standard_id}/revise/"
    second = warden.does("post", revise, {"change_note": "cooler"}, status=201)
    assert (second["number"], second["temperature_c"], second["state"]) == (2, 21.5, "draft")
    assert warden.refused("post", revise, {"change_note": "again"}, status=409)["code"] == "wrong_state"
    standard = warden.get(f"process-standards/{draft.standard_id}/")
    assert [revision["number"] for revision in standard["revisions"]] == [2, 1]
    assert (standard["in_force_number"], standard["draft_number"]) == (1, 2)
    assert warden.does("delete", f"process-revisions/{second['id']}/", status=204) is None
    assert ProcessRevision.objects.count() == 1


def test_a_standard_is_renamed_and_keeps_what_is_not_given(warden, admin):
    standard = draft_process(admin, about="to compare").standard
    renamed = warden.does("patch", f"process-standards/{standard.pk}/", {"name": "Cold process"})
    assert (renamed["name"], renamed["purpose"]) == ("Cold process", "to compare")
    assert AuditRecord.objects.get(action="rename process standard").after == {"name": "Cold process"}


def test_every_fault_of_a_draft_is_told(warden):
    body = {
        "name": "Hot process",
        "developer": "Hearth D",
        "temperature_c": 80,
        "temperature_tolerance_c": 0.5,
        "development_time_s": 1,
        "agitation": "",
    }
    refusal = warden.refused("post", "process-standards/", body, status=400)
    assert {p["field"] for p in refusal["problems"]} == {"temperature_c", "development_time_s", "agitation"}


def test_a_tablet_is_sent_and_read_as_a_row_of_densities(warden, admin):
    tablet = make_tablet(admin)
    read = warden.get(f"tablet-revisions/{tablet.pk}/")
    assert read["densities"] == DENSITIES
    revise = f"step-tablets/{tablet.tablet_id}/revise/"
    draft = warden.does("post", revise, {"change_note": "new certificate"}, status=201)
    falling = [*DENSITIES[:4], 0.1, *DENSITIES[5:]]
    address = f"tablet-revisions/{draft['id']}/"
    refusal = warden.refused(
        "patch", address, {"densities": falling, "source": "certificate 119"}, status=400
    )
    assert "Step 5 (0.1) has to be more dense than step 4" in refusal["message"]
    moved = [round(density + 0.01, 2) for density in DENSITIES]
    changes = {"densities": moved, "source": "certificate 119"}
    assert warden.does("patch", address, changes)["densities"] == moved


def test_revisions_are_listed_with_their_ids(warden, admin):
    revision = make_process(admin)
    make_exposure(admin)
    listed = warden.get("process-revisions/", "state=in_force")["results"]
    assert [(each["id"], each["standard_id"]) for each in listed] == [(revision.pk, revision.standard_id)]
    assert warden.get("process-revisions/", "state=draft")["count"] == 0
    other = f"standard_id={revision.standard_id + 1}"
    assert warden.get("process-revisions/", other)["count"] == 0
    assert warden.get("exposure-standards/", "q=DAYLIGHT")["count"] == 1
    assert warden.get("exposure-standards/", "q=tungsten")["count"] == 0


def test_only_admins_change_standards(owner, admin):
    draft = draft_process(admin)
    script = Script(owner)
    for method, path, body in (
        ("post", "process-standards/", {}),
        ("patch", f"process-standards/{draft.standard_id}/", {"name": "Mine"}),
        ("patch", f"process-revisions/{draft.pk}/", {"temperature_c": "hot"}),
        ("delete", f"process-revisions/{draft.pk}/", None),
        ("post", f"process-revisions/{draft.pk}/enforce/", {}),
        ("post", f"process-standards/{draft.standard_id}/revise/", {"change_note": "x"}),
    ):
        refusal = script.refused(method, path, body, status=403)
        assert refusal["message"] == "Only an admin of the lab may do this."
    assert script.get(f"process-revisions/{draft.pk}/")["state"] == "draft"


def test_instruments_are_described_and_retired(warden, owner):
    made = warden.does("post", "instruments/", {"name": "Bench densitometer", "reading_sd": 0.01}, status=201)
    address = f"instruments/{made['id']}/"
    edited = warden.does("patch", address, {"aperture_mm": 3})
    assert (edited["aperture_mm"], edited["reading_sd"], edited["is_active"]) == (3, 0.01, True)
    assert not warden.does("post", f"{address}retire/", {"reason": "drifts"})["is_active"]
    assert warden.refused("post", f"{address}retire/", {}, status=409)["code"] == "wrong_state"
    member = Script(owner)
    assert member.get("instruments/", "is_active=true")["count"] == 0
    assert member.get(address)["reading_count"] == 0
    assert warden.does("post", f"{address}reactivate/", {})["is_active"]
    assert member.get("instruments/", "is_active=true")["count"] == 1


def test_a_run_is_judged_at_once_by_hand_and_after_a_correction(warden, admin, owner):
    revision = make_process(admin)
    body = {
        "revision_id": revision.pk,
        "ran_on": "2026-05-04",
        "temperature_start_c": 22.0,
        "development_time_s": 510,
        "developer_batch": "mixed 2026-05-01",
    }
    member = Script(owner)
    run = member.does("post", "process-runs/", body, status=201)
    assert run["control_state"] == "out_of_control"
    assert "22 °C is outside 20 ± 0.5 °C" in run["control_reason"]
    address = f"process-runs/{run['id']}/"
    lift = {"control_state": "unproven", "reason": "strip agrees"}
    refusal = member.refused("post", f"{address}judge/", lift, status=403)
    assert "Only an admin may lift" in refusal["message"]
    corrected = member.does(
        "post", f"{address}correct/", {"temperature_start_c": 20.2, "reason": "misread the thermometer"}
    )
    assert (corrected["control_state"], corrected["developer_batch"]) == ("unproven", "mixed 2026-05-01")
    judged = member.does(
        "post", f"{address}judge/", {"control_state": "in_control", "reason": "control strip within 0.02 D"}
    )
    assert judged["control_state"] == "in_control"
    page = warden.get(address)
    assert [change["action"] for change in page["changes"]] == ["judge run", "correct run"]
    assert "temperature at the start 22 °C" in page["changes"][1]["before"]
    assert (page["can_judge"], page["can_lift"], page["rolls"]) == (True, True, [])
    assert member.get("process-runs/", "control_state=in_control")["count"] == 1
    assert member.get("process-runs/", f"operator_id={admin.pk}")["count"] == 0


def test_a_run_knows_its_rolls(admin, owner):
    standards = make_standards(admin)
    run = make_run(owner, standards[0])
    roll = make_accepted_roll(owner, admin, make_batch(owner), standards, run=run)
    page = Script(owner).get(f"process-runs/{run.pk}/")
    assert page["rolls"] == [{"id": roll.pk, "code": roll.code, "state": "accepted"}]
    assert not page["can_correct"], "accepted results rest on it"


def test_the_reference_is_appointed_and_its_history_kept(warden, admin, owner):
    pair = make_process(admin), make_exposure(admin)
    stocks = [stock_row(owner, name) for name in ("Alder 100", "Birch 200")]
    for stock in stocks:
        result_row(stock, *pair)
    key = {"process_revision_id": pair[0].pk, "exposure_revision_id": pair[1].pk}
    for stock in stocks:
        body = key | {"stock_id": stock.pk, "reason": "known best"}
        assert warden.does("post", "references/", body, status=201)["stock"]["name"] == stock.name
    refusal = warden.refused("post", "references/", key | {"stock_id": stocks[1].pk}, status=400)
    assert refusal["field"] == "stock_id"
    listed = Script(owner).get("references/")["results"]
    assert [(each["reference"]["stock"]["name"], each["stock_count"]) for each in listed] == [
        ("Birch 200", 2)
    ]
    page = warden.get(f"references/{pair[0].pk}/{pair[1].pk}/")
    assert [each["stock"]["name"] for each in page["history"]] == ["Birch 200", "Alder 100"]
    assert [each["stock"]["name"] for each in page["candidates"]] == ["Alder 100"]
    assert HouseReference.objects.filter(ended_at__isnull=True).count() == 1
    Script(owner).refused("post", "references/", key | {"stock_id": stocks[0].pk}, status=403)
