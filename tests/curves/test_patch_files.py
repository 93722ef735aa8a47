"""Files of patch densities: read or refused as a whole, previewed, stored once; and their pages."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from curves.models import PatchReading, Roll, StagedPatchFile
from curves.queries.patch_files import patch_file_preview
from curves.queries.patches import roll_patches
from curves.services.patch_files import commit_staged_patches, discard_staged_patches, stage_patch_file
from curves.services.patch_readings import record_patch_frame
from curves.services.patch_sets import PatchValue, enter_patch_set
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.importers.workbooks import workbook

PATCHES = [PatchValue("Middle grey", 0.18, True), PatchValue("Blue", 0.1), PatchValue("Red", 0.12)]
FILE = "frame,patch,density,offset_stops,filter\n3,Middle grey,0.88,-1,\n3,Blue,0.71,-1,\n7,2,0.65,1,yellow\n"


@pytest.fixture
def roll(owner, admin):
    standards = make_standards(admin)
    enter_patch_set(
        actor=admin, exposure_revision_id=standards[1].pk, name="Target", source="Lin", patches=PATCHES
    )
    return make_roll(owner, make_batch(owner), standards)


@pytest.fixture
def stage(roll, owner):
    """``stage("frame,patch…")`` by the roll's owner; bytes, too."""

    def make(content, filename="patches.csv", **how):
        data = content.encode() if isinstance(content, str) else content
        return stage_patch_file(actor=owner, roll_id=roll.pk, filename=filename, data=data, **how)

    return make


def standing(roll) -> dict:
    rows = PatchReading.objects.filter(frame__roll=roll, is_current=True).select_related("frame", "patch")
    return {(row.frame.label, row.patch.label, row.replicate): row.density for row in rows}


def faults(stage, content, **how) -> list[tuple]:
    """(row, column, message) of each problem, after proving that nothing was kept."""
    with pytest.raises(InvalidInput) as refused:
        stage(content, **how)
    assert not StagedPatchFile.objects.exists() and not PatchReading.objects.exists()
    assert refused.value.field == "file"
    return [(p["row"], p["column"], p["message"]) for p in refused.value.problems]


# --- What is read and stored


def test_a_file_is_staged_and_stored_as_a_whole_and_once(stage, owner, roll):
    staged = stage(FILE)
    assert not PatchReading.objects.exists()
    assert commit_staged_patches(actor=owner, staged_id=staged.pk) == 3
    assert standing(roll) == {
        ("3", "Middle grey", 1): 0.88,
        ("3", "Blue", 1): 0.71,
        ("7", "Blue", 1): 0.65,
    }
    frame = roll.patch_frames.get(label="7")
    assert (frame.offset_stops, frame.filter_name, frame.metered_index) == (1.0, "yellow", 100.0)
    reading = PatchReading.objects.first()
    assert (reading.source, reading.source_name, reading.read_by) == ("file", "patches.csv", owner)
    with pytest.raises(WrongState, match="stored already"):
        commit_staged_patches(actor=owner, staged_id=staged.pk)
    with pytest.raises(WrongState, match="stored already"):
        discard_staged_patches(actor=owner, staged_id=staged.pk)
    actions = list(AuditRecord.objects.order_by("pk").values_list("action", flat=True))
    assert actions[-2:] == ["stage patch file", "record patch readings"]


def test_a_file_replaces_what_stood_and_keeps_it_with_the_reason(stage, owner, roll):
    record_patch_frame(
        actor=owner, roll_id=roll.pk, label="3", densities={1: 0.9, 2: 0.71, 3: 0.5}, filter_name="red"
    )
    staged = stage("frame,patch,density\n3,Middle grey,0.88\n3,Blue,0.71\n")
    preview = patch_file_preview(owner, staged.pk)
    assert preview.counts == {"new": 0, "same": 1, "replaced": 1, "kept": 0}
    assert commit_staged_patches(actor=owner, staged_id=staged.pk, version=preview.read.version) == 1
    ended = PatchReading.objects.get(is_current=False)
    assert (ended.density, ended.ended_reason) == (0.9, "replaced by file patches.csv")
    assert standing(roll)["3", "Red", 1] == 0.5, "what the file does not have stays"
    assert roll.patch_frames.get(label="3").filter_name == "red", "and so does what it does not say"


def test_a_preview_over_readings_that_have_changed_is_refused(stage, owner, roll):
    staged = stage(FILE)
    version = patch_file_preview(owner, staged.pk).read.version
    record_patch_frame(actor=owner, roll_id=roll.pk, label="3", densities={1: 0.5})
    with pytest.raises(WrongState) as refused:
        commit_staged_patches(actor=owner, staged_id=staged.pk, version=version)
    assert refused.value.code == "stale"
    assert standing(roll) == {("3", "Middle grey", 1): 0.5}


def test_repeats_are_all_kept_their_mean_is_used_and_their_scatter_widens_the_error(stage, owner, roll):
    content = "frame,patch,density_1,density_2\n3,Blue,0.70,0.80\n3,Red,0.50,0.60\n"
    staged = stage(content)
    assert any("0.10 D apart" in warning for warning in patch_file_preview(owner, staged.pk).warnings)
    commit_staged_patches(actor=owner, staged_id=staged.pk)
    assert standing(roll)["3", "Blue", 2] == 0.8
    (frame,) = roll_patches(owner, roll.pk).frames
    assert frame.densities == {2: pytest.approx(0.75), 3: pytest.approx(0.55)}
    # Two pairs that are 0.10 apart: the variance of each is 0.10²/2, and so is their mean.
    assert frame.density_sd == pytest.approx(0.10 / 2**0.5)


def test_a_workbook_and_decimal_commas_give_the_same(stage, owner, roll):
    sheet = workbook((("frame", "patch", "density"), (3, "blue", 0.71)))
    assert stage(sheet, filename="p.xlsx").rows == stage("frame;patch;density\n3;Blue;0,71\n").rows


def test_what_was_read_with_which_instrument_is_kept(stage, admin, owner, roll):
    instrument = make_instrument(admin)
    staged = stage(FILE, instrument_id=instrument.pk)
    commit_staged_patches(actor=owner, staged_id=staged.pk)
    assert {r.instrument for r in PatchReading.objects.all()} == {instrument}


# --- What is refused


@pytest.mark.parametrize(
    ("content", "row", "column", "words"),
    [
        ("frame,patch,density\n3,Bleu,0.7\n", 2, "patch", "did you mean Blue"),
        ("frame,patch,density\n3,9,0.7\n", 2, "patch", "It has: Middle grey, Blue, Red"),
        ("frame,patch,density\n3,Blue,0.7\n3,2,0.7\n", 3, "patch", "of row 2 again"),
        ("frame,patch,density\n3,Blue,0.7\n3,BLUE,0.7\n3,Red,0.5\n", 3, "patch", "stands in row 2 already"),
        ("frame,patch,density,light\n3,Blue,0.7,tungsten\n", 2, "light", "another|of that light"),
        ("frame,patch,density,repeat\n3,Blue,0.7,21\n", 2, "replicate", "at most 20"),
        ("frame,patch,density\n3,Blue,7.1\n", 2, "density", "outside"),
    ],
)
def test_a_fault_is_told_with_its_place_and_nothing_is_kept(stage, content, row, column, words):
    ((found_row, found_column, message),) = faults(stage, content)
    assert (found_row, found_column) == (row, column)
    assert any(word in message for word in words.split("|"))


def test_every_fault_of_the_file_is_told_at_once(stage):
    content = "frame,patch,density,light\n3,Bleu,0.7,\n3,Blue,x,\n4,Red,0.5,tungsten\n4,Blue,0.5,tungsten\n"
    assert [(row, column) for row, column, _ in faults(stage, content)] == [
        (2, "patch"),
        (3, "density"),
        (4, "light"),
    ], "another light is told once a frame"


def test_more_frames_than_a_roll_holds(stage):
    content = "frame,patch,density\n" + "".join(f"{n},Blue,0.{n}\n" for n in range(10, 51))
    assert "at most 40" in faults(stage, content)[0][2]


def test_densities_of_another_kind_than_the_instrument_s_are_refused(stage, admin):
    blue = make_instrument(admin, name="Blue head", density_type="blue")
    content = "frame,patch,density,channel\n3,Blue,0.7,visual\n"
    assert "another channel (visual)" in faults(stage, content, instrument_id=blue.pk)[0][2]


def test_only_the_rolls_member_uploads_and_only_while_it_may_change(stage, roll, owner, labmate):
    with pytest.raises(NotAllowed):
        stage_patch_file(actor=labmate, roll_id=roll.pk, filename="x.csv", data=FILE.encode())
    staged = stage(FILE)
    for verb in (commit_staged_patches, discard_staged_patches):
        with pytest.raises(NotFound):
            verb(actor=labmate, staged_id=staged.pk)
    with pytest.raises(NotFound):
        patch_file_preview(labmate, staged.pk)
    Roll.objects.filter(pk=roll.pk).update(state="submitted")
    with pytest.raises(WrongState):
        commit_staged_patches(actor=owner, staged_id=staged.pk)
    with pytest.raises(WrongState):
        stage(FILE)
    assert not PatchReading.objects.exists()


def test_without_a_target_nothing_can_be_uploaded(owner, admin):
    bare = make_roll(owner, make_batch(owner), make_standards(admin))
    with pytest.raises(WrongState, match="No patches are entered"):
        stage_patch_file(actor=owner, roll_id=bare.pk, filename="x.csv", data=FILE.encode())


# --- The pages


def _upload(client, roll, content, **more):
    file = SimpleUploadedFile("patches.csv", content.encode())
    return client.post(reverse("roll_patches_import", args=[roll.pk]), {"file": file, **more}, follow=True)


def test_a_member_uploads_looks_and_stores(client_for, owner, roll):
    client = client_for(owner)
    assert "Middle grey" in client.get(reverse("roll_patches_import", args=[roll.pk])).text
    page = _upload(client, roll, FILE)
    assert "<strong>3</strong> new readings" in page.text and "Without a reading: Red" in page.text
    staged = StagedPatchFile.objects.get()
    stored = client.post(reverse("patch_file_store", args=[staged.pk]), {}, follow=True)
    assert "are stored" in stored.text and "0.71" in stored.text
    assert "were stored on" in client.get(reverse("patch_file", args=[staged.pk])).text


def test_a_member_is_told_every_fault_and_may_discard(client_for, owner, roll):
    client = client_for(owner)
    refused = _upload(client, roll, "frame,patch,density\n3,Bleu,0.7\n3,Red,x\n")
    assert refused.status_code == 400
    assert "2 faults in patches.csv" in refused.text and "Did" not in refused.text
    assert "did you mean Blue" in refused.text and "“x” is not a number" in refused.text
    _upload(client, roll, FILE)
    staged = StagedPatchFile.objects.get()
    gone = client.post(reverse("patch_file_discard", args=[staged.pk]), {}, follow=True)
    assert "nothing of it was stored" in gone.text and not StagedPatchFile.objects.exists()


def test_the_table_to_fill_in_and_the_download_are_taken_back(client_for, owner, roll, stage):
    client = client_for(owner)
    empty = client.get(reverse("roll_patches_template", args=[roll.pk])).text
    assert "daylight,1,Blue,,,0.0,100.0," in empty
    filled = empty.replace("Blue,,", "Blue,0.71,")
    staged = stage(filled)
    assert [row["density"] for row in staged.rows] == [0.71]
    assert any("passed over: 2 rows" in note for note in staged.notes)
    commit_staged_patches(actor=owner, staged_id=staged.pk)
    again = stage(client.get(reverse("roll_patches_csv", args=[roll.pk])).text)
    assert patch_file_preview(owner, again.pk).counts == {"new": 0, "same": 1, "replaced": 0, "kept": 0}


def test_a_frame_with_repeats_is_corrected_cell_by_cell(client_for, owner, roll, stage):
    staged = stage("frame,patch,density_1,density_2\n3,Blue,0.70,0.80\n")
    commit_staged_patches(actor=owner, staged_id=staged.pk)
    client = client_for(owner)
    page = client.get(reverse("roll_patches", args=[roll.pk]), {"frame": "3"}).text
    assert 'name="d-2-2"' in page and 'value="0.8"' in page and "means of up to 2 readings" in page
    typed = {"label": "3", "offset_stops": "0", "d-2": "0.7", "d-2-2": "0.72", "reason": "dust"}
    client.post(reverse("roll_patches", args=[roll.pk]), typed)
    assert standing(roll) == {("3", "Blue", 1): 0.7, ("3", "Blue", 2): 0.72}
    page = client.get(reverse("roll_patches", args=[roll.pk])).text
    assert "Frame 3, Blue, reading 2" in page and "Dust" in page, "the old reading is still told"


def test_without_a_target_the_files_say_so(client_for, owner, admin):
    bare = make_roll(owner, make_batch(owner), make_standards(admin))
    for name in ("roll_patches_template", "roll_patches_csv", "roll_patches_import"):
        answer = client_for(owner).get(reverse(name, args=[bare.pk]))
        assert answer.status_code == 404 and "No patches are entered" in answer.text
