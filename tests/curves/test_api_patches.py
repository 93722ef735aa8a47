"""A roll's patches for scripts: the target, its readings frame by frame, and files of them."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from curves.models import PatchReading, StagedPatchFile
from labsite.accounts.models import AuditRecord
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scripts import Script

PATCHES = [
    {"label": "Middle grey", "luminance_factor": 0.18, "is_grey": True},
    {"label": "Blue", "luminance_factor": 0.1},
]
FILE = "frame,patch,density\n3,Blue,0.71\n3,Middle grey,0.88\n"


@pytest.fixture
def roll(owner, admin):
    standards = make_standards(admin)
    target = {"name": "Target", "source": "Lin", "patches": PATCHES}
    Script(admin).does("put", f"exposure-revisions/{standards[1].pk}/patches/", target)
    return make_roll(owner, make_batch(owner), standards)


@pytest.fixture
def script(owner):
    return Script(owner)


def cell(patch, density, replicate=1):
    return {"patch": patch, "replicate": replicate, "density": density}


def file_of(text: str):
    return SimpleUploadedFile("patches.csv", text.encode(), content_type="text/csv")


def test_a_target_is_entered_and_read(script, roll):
    target = script.does("get", f"exposure-revisions/{roll.exposure_revision_id}/patches/")
    assert [(p["number"], p["label"], p["is_grey"]) for p in target["patches"]] == [
        (1, "Middle grey", True),
        (2, "Blue", False),
    ]
    assert script.does("get", f"rolls/{roll.pk}/patch-readings/")["target"] == target


def test_frames_are_stored_read_replaced_and_ended(script, roll, admin):
    address = f"rolls/{roll.pk}/patch-readings/"
    instrument = make_instrument(admin, reading_sd=0.03)
    frames = [
        {"label": "3", "offset_stops": -1.0, "readings": [cell(1, 0.88), cell(2, 0.7), cell(2, 0.74, 2)]},
        {"label": "7", "filter_name": "yellow", "readings": [{"patch": 1, "density": 0.6}]},
    ]
    first = script.does("put", address, {"frames": frames, "instrument_id": instrument.pk})
    assert first["changed"] == 4 and first["light"] == "daylight"
    by_label = {frame["label"]: frame for frame in first["frames"]}
    assert by_label["3"]["exposure_index"] == 200.0
    assert by_label["3"]["readings"] == [cell(1, 0.88), cell(2, 0.7), cell(2, 0.74, 2)]
    assert by_label["3"]["in_use"][1] == {"patch": 2, "density": pytest.approx(0.72)}
    assert by_label["3"]["density_sd"] == 0.03, "repeats 0.04 apart scatter by 0.028, less than is stated"
    assert by_label["7"]["filter_name"] == "yellow"
    change = {"frames": [{"label": "3", "readings": [cell(1, 0.9), cell(2, None, 2)]}], "reason": "dust"}
    second = script.does("put", address, change | {"version": first["version"]})
    assert second["changed"] == 2 and second["version"] != first["version"]
    frame = next(frame for frame in second["frames"] if frame["label"] == "3")
    assert frame["readings"] == [cell(1, 0.9), cell(2, 0.7)] and frame["offset_stops"] == -1.0
    ended = PatchReading.objects.filter(is_current=False)
    assert {(reading.density, reading.ended_reason) for reading in ended} == {(0.88, "dust"), (0.74, "dust")}
    assert set(PatchReading.objects.values_list("source", flat=True)) == {"script"}
    stale = script.refused("put", address, change | {"version": first["version"]}, status=409)
    assert stale["code"] == "stale"


def test_every_fault_is_told_and_nothing_is_stored(script, roll):
    frames = [
        {"label": "3", "readings": [cell(1, 9.9), cell(7, 0.5)]},
        {"label": " ", "readings": [cell(1, 0.5)]},
    ]
    refusal = script.refused("put", f"rolls/{roll.pk}/patch-readings/", {"frames": frames}, status=400)
    told = [(problem["field"], problem["message"]) for problem in refusal["problems"]]
    assert [field for field, _ in told] == ["d-1", "d-7", "label"]
    assert told[0][1].startswith("Frame 3: A density lies between")
    twice = {"frames": [{"label": "3", "readings": [cell(1, 0.5), cell(1, 0.6)]}]}
    refusal = script.refused("put", f"rolls/{roll.pk}/patch-readings/", twice, status=400)
    assert "given twice" in refusal["message"]
    assert not PatchReading.objects.exists()


def test_a_file_is_looked_at_and_leaves_nothing_then_stored(script, roll):
    address = f"rolls/{roll.pk}/patch-file/"
    shown = script.does("post", address, {"file": file_of(FILE)}, form=True)
    assert shown["counts"]["new"] == 2 and not shown["is_stored"] and shown["stored"] is None
    assert shown["cells"][0] | {"is_new_frame": True} == {
        "frame": "3",
        "is_new_frame": True,
        "patch": 2,
        "label": "Blue",
        "replicate": 1,
        "density": 0.71,
        "standing": None,
        "change": "new",
    }
    assert not PatchReading.objects.exists() and not StagedPatchFile.objects.exists()
    body = {"file": file_of(FILE), "commit": True, "version": shown["version"]}
    stored = script.does("post", address, body, form=True)
    assert stored["is_stored"] and stored["stored"]["changed"] == 2
    assert PatchReading.objects.filter(source="file", source_name="patches.csv").count() == 2


def test_a_faulty_file_is_told_by_row_and_column(script, roll):
    body = {"file": file_of("frame,patch,density\n3,Bleu,0.7\n3,Blue,x\n")}
    refusal = script.refused("post", f"rolls/{roll.pk}/patch-file/", body, form=True, status=400)
    assert [(p["row"], p["column"]) for p in refusal["problems"]] == [(2, "patch"), (3, "density")]
    assert not AuditRecord.objects.filter(action="stage patch file").exists()
