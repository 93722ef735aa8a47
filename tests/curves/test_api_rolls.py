"""Rolls, their readings and files for scripts."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from curves.models import Reading, StagedImport
from labsite.accounts.models import AuditRecord
from labsite.jobs.models import Job
from tests.factories.instruments import make_instrument
from tests.factories.rolls import (
    make_accepted_roll,
    make_batch,
    make_read_roll,
    make_roll,
    make_run,
    make_standards,
    make_submitted_roll,
)
from tests.factories.scripts import Script


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def draft(owner, standards):
    return make_roll(owner, make_batch(owner), standards)


@pytest.fixture
def script(owner):
    return Script(owner)


def cell(step, density, replicate=1):
    return {"step": step, "replicate": replicate, "density": density}


def file_of(text: str, name="roll.csv"):
    return SimpleUploadedFile(name, text.encode(), content_type="text/csv")


TABLE = "step,density\n" + "\n".join(f"{step},{0.3 + 0.1 * (21 - step):.2f}" for step in range(1, 22))


def test_only_the_cells_that_are_sent_change(script, draft, admin):
    address = f"rolls/{draft.pk}/strips/1/readings/"
    instrument = make_instrument(admin)
    cells = [cell(1, 1.2), cell(2, 1.1), cell("unexposed", 0.25)]
    first = script.does("put", address, {"readings": cells, "instrument_id": instrument.pk})
    assert first["instrument_id"] == instrument.pk
    assert first["readings"] == [cell("unexposed", 0.25), cell(1, 1.2), cell(2, 1.1)]
    changes = {"readings": [cell(2, 1.15), cell(1, None)], "reason": "digits swapped"}
    second = script.does("put", address, changes)
    assert second["readings"] == [cell("unexposed", 0.25), cell(2, 1.15)]
    assert second["version"] != first["version"]
    ended = Reading.objects.filter(is_current=False)
    assert {reading.ended_reason for reading in ended} == {"digits swapped"}
    stored = Reading.objects.get(step=2, is_current=True)
    assert (stored.source, stored.source_name) == ("script", "Script of owner")
    roll = script.get(f"rolls/{draft.pk}/")
    corrections = {(each["step"], each["replaced_by"]) for each in roll["corrections"]}
    assert corrections == {(1, None), (2, 1.15)}


def test_sending_the_same_again_changes_nothing(script, draft):
    address, body = f"rolls/{draft.pk}/strips/1/readings/", {"readings": [cell(1, 1.2), cell(2, 1.1)]}
    first = script.does("put", address, body)
    second = script.does("put", address, body)
    assert second["job"] is None
    assert second["version"] == first["version"]
    assert (Reading.objects.count(), Job.objects.count()) == (2, 1)


def test_what_was_read_can_be_sent_back(script, draft):
    address = f"rolls/{draft.pk}/strips/1/readings/"
    script.does("put", address, {"readings": [cell("unexposed", 0.25), cell(4, 0.9), cell(4, 0.92, 2)]})
    read = script.get(address)
    again = script.does("put", address, {"readings": read["readings"], "version": read["version"]})
    assert again["job"] is None


def test_every_faulty_cell_is_told_and_none_is_stored(script, draft):
    address = f"rolls/{draft.pk}/strips/1/readings/"
    cells = [cell(1, 9.9), cell(99, 0.4), cell(3, 0.5), cell(3, 0.6), cell(4, 0.5, 21)]
    refusal = script.refused("put", address, {"readings": cells}, status=400)
    assert [problem["field"] for problem in refusal["problems"]] == ["d-1-1", "d-99-1", "d-3-1", "d-4-21"]
    assert "The tablet has no step 99; it has 1 to 21." in [p["message"] for p in refusal["problems"]]
    assert not Reading.objects.exists()


@pytest.mark.parametrize("step", [0, -1, 1.5, "base", True, None, [1], 10**30])
def test_a_step_is_a_number_or_the_unexposed_area(script, draft, step):
    address = f"rolls/{draft.pk}/strips/1/readings/"
    refusal = script.refused("put", address, {"readings": [cell(1, 0.4), cell(step, 0.4)]}, status=400)
    assert refusal["field"] == "readings.1.step"


@pytest.mark.parametrize("density", ['"thick"', "true", "1e400", "[0.4]", '"nan"', "1" + "0" * 400, "{}"])
def test_a_density_is_a_finite_number(script, draft, density):
    body = f'{{"readings": [{{"step": 1, "replicate": 1, "density": {density}}}]}}'
    address = f"/api/v1/rolls/{draft.pk}/strips/1/readings/"
    answer = script.client.generic("PUT", address, body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["field"] == "readings.0.density"
    assert not Reading.objects.exists()


def test_a_falling_step_is_stored_and_warned_of(script, draft):
    address = f"rolls/{draft.pk}/strips/1/readings/"
    stored = script.does("put", address, {"readings": [cell(5, 1.2), cell(6, 1.4)]})
    assert [warning["step"] for warning in stored["warnings"]] == [5]
    assert "reads 0.20 D less" in stored["warnings"][0]["message"]


def test_a_file_is_looked_at_and_nothing_of_it_is_kept(script, draft):
    address = f"rolls/{draft.pk}/strips/1/readings-file/"
    script.does("put", f"rolls/{draft.pk}/strips/1/readings/", {"readings": [cell(1, 2.3), cell(2, 2.0)]})
    shown = script.does("post", address, {"file": file_of(TABLE)}, form=True)
    assert not shown["is_stored"]
    assert shown["counts"] == {"new": 19, "same": 1, "replaced": 1, "kept": 0}
    assert shown["cells"][1] == {
        "step": 2,
        "replicate": 1,
        "density": 2.2,
        "standing": 2.0,
        "change": "replaced",
    }
    assert Reading.objects.count() == 2
    assert not StagedImport.objects.exists()


def test_a_file_is_stored_as_a_whole(script, draft, admin):
    instrument = make_instrument(admin)
    address = f"rolls/{draft.pk}/strips/1/readings-file/"
    body = {"file": file_of(TABLE), "commit": "true", "instrument_id": instrument.pk}
    stored = script.does("post", address, body, form=True)
    assert stored["is_stored"]
    assert len(stored["stored"]["readings"]) == 21
    assert stored["stored"]["job"]["state"] == "queued"
    assert set(Reading.objects.values_list("source", "source_name")) == {("file", "roll.csv")}
    assert StagedImport.objects.get().committed_at is not None


def test_a_file_over_readings_that_changed_since_is_refused_and_leaves_nothing(script, draft):
    strip = f"rolls/{draft.pk}/strips/1"
    seen = script.does("post", f"{strip}/readings-file/", {"file": file_of(TABLE)}, form=True)
    script.does("put", f"{strip}/readings/", {"readings": [cell(1, 2.3)]})
    body = {"file": file_of(TABLE), "commit": "true", "version": seen["version"]}
    assert script.refused("post", f"{strip}/readings-file/", body, status=409, form=True)["code"] == "stale"
    assert Reading.objects.count() == 1
    assert not StagedImport.objects.exists()


def test_every_fault_of_a_file_has_its_row_and_column(script, draft):
    text = "step,density\n1,0.2x\n2,0.3\nthree,0.4\n"
    address = f"rolls/{draft.pk}/strips/1/readings-file/"
    refusal = script.refused("post", address, {"file": file_of(text)}, status=400, form=True)
    assert [(p["row"], p["column"], p["code"]) for p in refusal["problems"]] == [
        (2, "density", "NOT_A_NUMBER"),
        (4, "step", "NOT_A_NUMBER"),
    ]
    missing = script.refused("post", address, {"commit": "true"}, status=400, form=True)
    assert missing["field"] == "file"


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"instrument_id": "x"}, "instrument_id"),
        ({"instrument_id": "987654"}, "instrument_id"),
        ({"commit": "perhaps"}, "commit"),
        ({"version": "x" * 99}, "version"),
        ({"store": "true"}, "store"),
        ({"file": "step,density"}, "file"),
    ],
)
def test_what_comes_with_a_file_is_checked_too(script, draft, fields, field):
    address, body = f"rolls/{draft.pk}/strips/1/readings-file/", {"file": file_of(TABLE), "commit": "true"}
    assert script.refused("post", address, body | fields, status=400, form=True)["field"] == field
    assert not Reading.objects.exists()


def test_a_draft_changes_only_what_is_given(script, draft):
    changed = script.does("patch", f"rolls/{draft.pk}/", {"exposed_on": "2026-05-03"})
    assert changed["roll"]["exposed_on"] == "2026-05-03"
    changed = script.does("patch", f"rolls/{draft.pk}/", {"notes": "last box"})
    assert (changed["roll"]["exposed_on"], changed["roll"]["notes"]) == ("2026-05-03", "last box")
    assert script.does("patch", f"rolls/{draft.pk}/", {"exposed_on": None})["roll"]["exposed_on"] is None
    refusal = script.refused("patch", f"rolls/{draft.pk}/", {"state": "accepted"}, status=400)
    assert refusal["field"] == "state"


def test_strips_and_remarks_are_added(script, draft, labmate):
    assert script.does("post", f"rolls/{draft.pk}/strips/", status=201)["number"] == 2
    remark = Script(labmate).does("post", f"rolls/{draft.pk}/remarks/", {"text": "mind the tank"}, status=201)
    assert remark["author"]["name"] == "Lin Matelle"
    roll = script.get(f"rolls/{draft.pk}/")
    assert [each["text"] for each in roll["remarks"]] == ["mind the tank"]
    assert [strip["number"] for strip in roll["strips"]] == [1, 2]
    assert roll["next_step"]["code"] == "record_run"


def test_the_way_of_a_roll_through_reviews(script, owner, admin, standards):
    warden = Script(admin)
    roll = make_read_roll(owner, make_batch(owner), standards)
    address = f"rolls/{roll.pk}/"
    assert script.does("post", f"{address}submit/")["roll"]["state"] == "submitted"
    assert script.does("post", f"{address}recall/")["roll"]["state"] == "draft"
    script.does("post", f"{address}submit/")
    returned = warden.does("post", f"{address}return/", {"reasons": "read step 4 again"})
    assert (returned["roll"]["state"], returned["reviews"][0]["reasons"]) == ("returned", "read step 4 again")
    script.does("post", f"{address}submit/")
    assert warden.does("post", f"{address}accept/", {})["roll"]["state"] == "accepted"
    assert (
        script.does("post", f"{address}withdraw/", {"reasons": "wrong box"})["roll"]["state"] == "withdrawn"
    )
    decisions = [review["decision"] for review in script.get(address)["reviews"]]
    assert decisions == ["withdrawn", "accepted", "returned"]


def test_an_override_lets_a_roll_in_and_holds_it_back(owner, admin, standards):
    run = make_run(owner, standards[0], temperature_start_c=22.0)
    roll = make_accepted_roll(owner, admin, make_batch(owner), standards, run=run)
    warden, address = Script(admin), f"rolls/{roll.pk}/override/"
    assert warden.get(f"rolls/{roll.pk}/")["roll"]["is_held_back"]
    assert not warden.does("post", address, {"reason": "known cause"})["roll"]["is_held_back"]
    assert warden.does("post", address, {"reason": ""})["roll"]["is_held_back"]
    assert AuditRecord.objects.filter(action="override control").count() == 2
    voided = warden.does("post", f"rolls/{roll.pk}/void/", {"reasons": "fogged"})
    assert voided["roll"]["state"] == "void"


def test_a_curve_is_asked_for_again(script, owner, standards, draft):
    refusal = script.refused("post", f"rolls/{draft.pk}/fit/", status=409)
    assert refusal["message"] == "There are no readings to fit a curve to."
    roll = make_read_roll(owner, make_batch(owner, "Birch 200"), standards)
    assert script.does("post", f"rolls/{roll.pk}/fit/")["label"] == f"Fit the curve of {roll.code}"


def test_the_list_is_filtered_by_every_property(script, owner, labmate, admin, standards, draft):
    submitted = make_submitted_roll(labmate, make_batch(labmate, "Birch 200"), standards)
    listed = script.get("rolls/")["results"]
    assert [roll["id"] for roll in listed] == [submitted.pk, draft.pk]
    assert listed[1]["measures"] is None
    assert listed[0]["measures"]["base_plus_fog"]["unit"] == "D"
    for query, found in (
        ("state=submitted", [submitted.pk]),
        (f"stock_id={draft.batch.stock_id}", [draft.pk]),
        (f"member_id={labmate.pk}", [submitted.pk]),
        ("is_mine=true", [draft.pk]),
        (f"process_revision_id={standards[0].pk + 1}", []),
        (f"exposure_revision_id={standards[1].pk}", [submitted.pk, draft.pk]),
        ("page_size=1&page=2", [draft.pk]),
    ):
        assert [roll["id"] for roll in script.get("rolls/", query)["results"]] == found, query
    assert script.refused("get", "rolls/", status=404, query="page=9")["code"] == "not_found"


def test_stocks_are_found_and_corrected(script):
    body = {"name": "Alder 100", "maker": "Fenwick Works", "box_speed": 100, "formats": ["35 mm", "120"]}
    stock = script.does("post", "stocks/", body, status=201)
    script.does("post", "stocks/", body | {"name": "Birch 400", "box_speed": 400, "formats": []}, status=201)
    address = f"stocks/{stock['id']}/"
    changed = script.does("patch", address, {"is_in_production": False})
    assert (changed["is_in_production"], changed["formats"]) == (False, ["35 mm", "120"])
    for query, names in (
        ("q=alder", ["Alder 100"]),
        ("film_format=120", ["Alder 100"]),
        ("slowest=200", ["Birch 400"]),
        ("fastest=200&slowest=", ["Alder 100"]),
        ("is_in_production=true", ["Birch 400"]),
        ("sensitisation=blue", []),
    ):
        assert [each["name"] for each in script.get("stocks/", query)["results"]] == names, query
    batch = {"emulsion_number": "0417", "expires_on": "2028-01-31"}
    assert script.does("post", f"{address}batches/", batch, status=201)["expires_on"] == "2028-01-31"
    refusal = script.refused("post", f"{address}batches/", batch, status=400)
    assert refusal["message"] == "Alder 100 has a batch 0417 already; choose it."
    assert script.get(f"{address}batches/")["count"] == 1
