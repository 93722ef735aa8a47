"""The pages of uploads without their script: files stored, refused in words, cancelled, downloaded."""

import hashlib

import imagecodecs
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from curves.services.rolls import add_strip
from labsite.jobs.runner import run_waiting_jobs
from scans.models import Scan, Upload
from scans.services.uploads import start_upload
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import make_scanner
from tests.factories.uploads import make_scan, upload_file
from tests.imaging.picture_files import texture, write_tiff

pytestmark = pytest.mark.django_db
UPLOAD = "/scans/upload/"


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def roll(owner, admin):
    return make_roll(owner, make_batch(owner), make_standards(admin))


def tiff(tmp_path, name="strip 1.tif", seed=1):
    content = write_tiff(tmp_path / f"{seed}.tif", texture(seed=seed)).read_bytes()
    return SimpleUploadedFile(name, content, "image/tiff")


def test_one_file_without_script_leads_to_its_description(client_for, owner, tmp_path):
    answer = client_for(owner).post(UPLOAD, {"files": tiff(tmp_path)})
    scan = Scan.objects.get()
    assert answer["Location"] == f"/scans/{scan.pk}/describe/"
    assert scan.filename == "strip 1.tif"
    run_waiting_jobs()
    page = client_for(owner).get(answer["Location"]).content.decode()
    assert "TIFF, 16 bits, grey, 130 × 90 pixels, 2400 ppi." in page
    assert "Fill this in only where that is wrong." in page
    assert scan.file.digest in page


def test_several_files_lead_to_one_table_of_descriptions(client_for, owner, tmp_path):
    files = [tiff(tmp_path, "a.tif", 1), tiff(tmp_path, "b.tif", 2)]
    answer = client_for(owner).post(UPLOAD, {"files": files})
    first, second = Scan.objects.order_by("pk")
    assert answer["Location"] == f"/scans/describe/?scan={first.pk}&scan={second.pk}"


def test_what_is_refused_is_named_and_what_is_stored_too(client_for, owner, tmp_path):
    files = [SimpleUploadedFile("empty.tif", b""), tiff(tmp_path)]
    answer = client_for(owner).post(UPLOAD, {"files": files})
    assert answer.status_code == 400
    page = answer.content.decode()
    assert "empty.tif: empty.tif holds nothing." in page
    assert "1 of the files are stored" in page
    assert Scan.objects.count() == 1
    assert client_for(owner).post(UPLOAD, {}).status_code == 400


def test_the_same_file_again_leads_to_the_scan_that_there_is(client_for, owner, labmate, tmp_path):
    client = client_for(owner)
    client.post(UPLOAD, {"files": tiff(tmp_path)})
    answer = client.post(UPLOAD, {"files": tiff(tmp_path, "copy.tif")}, follow=True)
    assert Scan.objects.count() == 1
    assert "You had uploaded copy.tif already; this is its scan." in answer.content.decode()
    mate = client_for(labmate).post(UPLOAD, {"files": tiff(tmp_path)}, follow=True)
    page = " ".join(mate.content.decode().split())
    assert f"The very same file is also {Scan.objects.earliest('pk').code} of {owner}" in page


def test_a_link_from_a_roll_chooses_it_beforehand(client_for, owner, roll):
    page = client_for(owner).get(f"{UPLOAD}?roll={roll.pk}&shows=strip").content.decode()
    assert f'<option value="{roll.pk}" selected>' in page
    assert '<option value="strip" selected>' in page
    assert client_for(owner).get(f"{UPLOAD}?roll=x&shows=y").status_code == 200


def test_unfinished_uploads_are_listed_and_can_be_cancelled(client_for, owner, labmate):
    upload = start_upload(actor=owner, filename="strip 9.tif", size_bytes=130_000_000)
    page = client_for(owner).get(UPLOAD).content.decode()
    assert "strip 9.tif" in page
    assert "0.0 MB of 130.0 MB are here" in page
    assert "strip 9.tif" not in client_for(labmate).get(UPLOAD).content.decode()
    address = reverse("scan_upload_cancel", args=[upload.pk])
    assert client_for(owner).post(address, follow=True).redirect_chain == [(UPLOAD, 302)]
    assert not Upload.objects.exists()


# --- Describing


def test_a_description_is_typed_and_its_faults_stand_beside_their_fields(
    client_for, owner, admin, roll, tmp_path
):
    scan, scanner, client = make_scan(owner, tmp_path), make_scanner(admin), client_for(owner)
    address = reverse("scan_describe", args=[scan.pk])
    second = add_strip(actor=owner, roll_id=roll.pk)
    answer = client.post(address, {"shows": "strip", "place": str(roll.pk)})
    assert answer.status_code == 400
    assert f"Choose which strip of {roll.code} it shows." in answer.content.decode()
    told = {
        "shows": "strip",
        "place": f"{roll.pk}.{second.pk}",
        "scanner_id": scanner.pk,
        "holder": "film holder",
        "corrections": "on",
        "scanned_on": "2026-05-04",
        "notes": "second pass",
    }
    assert client.post(address, told).status_code == 302
    scan.refresh_from_db()
    assert (scan.strip, scan.scanner) == (second, scanner)
    assert scan.settings == {"holder": "film holder", "corrections": "off"}
    page = client.get(address).content.decode()
    assert f'<option value="{roll.pk}.{second.pk}" selected>' in page
    # The next scan begins with the scanner and the settings of this one.
    other = make_scan(owner, tmp_path, "next.tif", seed=5)
    page = client.get(reverse("scan_describe", args=[other.pk])).content.decode()
    assert f'<option value="{scanner.pk}" selected>' in page
    assert 'value="film holder"' in page


def test_several_scans_are_described_with_common_values(client_for, owner, roll, tmp_path):
    first, second = make_scan(owner, tmp_path, seed=1), make_scan(owner, tmp_path, "b.tif", seed=2)
    address = f"{reverse('scans_describe')}?scan={first.pk}&scan={second.pk}"
    client = client_for(owner)
    assert client.get(address).status_code == 200
    common = {"shows": "frame", "holder": "glass"}
    own = {f"s{first.pk}-place": str(roll.pk), f"s{first.pk}-frame_label": "frame 1"}
    answer = client.post(address, common | own)
    assert answer.status_code == 400
    assert "Choose the roll that it belongs to." in answer.content.decode()
    assert set(Scan.objects.values_list("shows", flat=True)) == {""}
    own |= {f"s{second.pk}-frame_label": "frame 2"}
    answer = client.post(address, common | own | {"place": str(roll.pk)})
    assert answer.status_code == 302, answer.content.decode()
    told = Scan.objects.order_by("pk").values_list("roll", "frame_label", "settings__holder")
    assert list(told) == [(roll.pk, "frame 1", "glass"), (roll.pk, "frame 2", "glass")]


@pytest.mark.parametrize("query", ["", "?scan=x", "?scan=999999", "?scan=٣", f"?scan={2**63}"])
def test_scans_that_there_are_not_cannot_be_described(client_for, owner, query):
    assert client_for(owner).get(reverse("scans_describe") + query).status_code == 404


def test_resolution_is_asked_for_where_the_file_is_silent(client_for, owner):
    content = imagecodecs.png_encode(texture())
    scan = upload_file(owner, content, "frame.png")
    run_waiting_jobs()
    address = reverse("scan_describe", args=[scan.pk])
    page = client_for(owner).get(address).content.decode()
    assert "The file does not say it." in page
    assert "told_resolution_reason" not in page
    answer = client_for(owner).post(address, {"shows": "edge"})
    assert "this is measured per millimetre: give it" in answer.content.decode()
    assert (
        client_for(owner).post(address, {"shows": "edge", "told_resolution_ppi": "2400,0"}).status_code == 302
    )
    scan.refresh_from_db()
    assert scan.told_resolution_ppi == 2400.0


# --- The file itself


@pytest.mark.parametrize(
    ("content", "name", "kind", "shown"),
    [
        (None, "strip 1.exe", "image/tiff", "S-{pk:04d} strip 1.tif"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "evil.html", "application/octet-stream", "S-{pk:04d} evil.bin"),
    ],
)
def test_the_original_comes_byte_for_byte_under_a_safe_name(
    client_for, owner, labmate, tmp_path, content, name, kind, shown
):
    content = content or write_tiff(tmp_path / "a.tif", texture()).read_bytes()
    scan = upload_file(owner, content, name)
    run_waiting_jobs()
    answer = client_for(labmate).get(reverse("scan_file", args=[scan.pk]))
    assert hashlib.sha256(answer.getvalue()).hexdigest() == scan.file.digest
    assert answer["Content-Type"] == kind
    assert answer["Content-Disposition"] == f'attachment; filename="{shown.format(pk=scan.pk)}"'
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Length"] == str(len(content))


def test_a_file_that_is_missing_is_told_as_such(client_for, owner, tmp_path):
    scan = make_scan(owner, tmp_path)
    scan.file.path.unlink()
    answer = client_for(owner).get(reverse("scan_file", args=[scan.pk]))
    assert answer.status_code == 404
    assert "missing from the lab" in answer.content.decode()
