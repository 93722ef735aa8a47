"""The check of uploaded files: what honest ones are, what hostile ones get, and that only a job decodes."""

import ast
import resource
import time

import imagecodecs
import pytest

from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from labsite.jobs.services import submit_job
from scans.imaging.decode import Outcome
from scans.imaging.measures import Refusal
from scans.models import Scan, StoredFile, TilePyramid
from scans.services.checking import store_check
from scans.services.describing import describe_scan
from tests.architecture.sources import python_files, short, tree_of
from tests.factories.uploads import make_scan, upload_file
from tests.imaging.picture_files import hostile_files, texture, write_png, write_tiff

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("decoding_child")]
#: A dozen of the hand-made ones: what claims to be huge, unpacks without end, lies, or is no picture.
HOSTILE = (
    "text",
    "archive",
    "vector program",
    "TIFF, directory follows itself",
    "TIFF, 10,000 pages",
    "TIFF, honest giant",
    "TIFF, widest",
    "TIFF, tile larger than memory",
    "TIFF, deflate bomb behind a small header",
    "TIFF, noise for LZW",
    "TIFF, half a file",
    "PNG, giant",
    "PNG, more pixels than declared",
    "JPEG, half a file",
    "JPEG in the clothes of a TIFF",
)


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"
    return settings.MEDIA_ROOT


def checked(member, content, name="scan.tif") -> StoredFile:
    scan = upload_file(member, content, name)
    run_waiting_jobs()
    return StoredFile.objects.get(pk=scan.file_id)


def test_what_an_honest_file_says_is_kept_as_far_as_it_is_of_use(owner, tmp_path):
    file = checked(owner, write_tiff(tmp_path / "a.tif", texture(channels=3)).read_bytes())
    assert (file.state, file.format, file.bit_depth, file.channels) == ("measurable", "TIFF", 16, 3)
    assert (file.width_px, file.height_px, file.resolution_ppi) == (130, 90, (2400.0, 2400.0))
    assert file.metadata == {"make": "Invented maker", "model": "Flatbed model 3", "compression": "none"}
    assert file.checked_at is not None


def test_where_it_was_made_is_not_kept(owner, tmp_path):
    """A TIFF with a GPS directory and a description that names a place; tags as in EXIF 2.32, from memory."""
    samples = texture()
    place = b"Lane End 4, 51.5 N"
    path = write_png(tmp_path / "a.png", samples, extra=[(b"tEXt", b"GPSPosition\0" + place)])
    file = checked(owner, path.read_bytes(), "a.png")
    assert file.state == "measurable"
    assert "Lane End" not in str(file.metadata)
    assert not {name for name in file.metadata if "gps" in name.lower()}


@pytest.mark.parametrize(
    ("content", "code", "words"),
    [
        (lambda path: write_tiff(path, texture(bits=8)).read_bytes(), "EIGHT_BITS", "16 bits"),
        (lambda path: imagecodecs.jpeg8_encode(texture(bits=8)), "LOSSY", "TIFF or PNG"),
    ],
    ids=["eight bits", "JPEG"],
)
def test_what_has_lost_its_fine_differences_is_for_looking_only(owner, tmp_path, content, code, words):
    file = checked(owner, content(tmp_path / "a.tif"))
    assert (file.state, file.refusal_code) == ("view_only", code)
    assert words in file.refusal_text
    assert TilePyramid.objects.filter(file=file).exists(), "it can be looked at"
    describe_scan(actor=owner, scan_id=Scan.objects.get().pk, shows="print")
    assert not Job.objects.filter(kind="measure_scan").exists()


@pytest.mark.one_database
def test_hostile_files_are_refused_or_read_within_their_limits(owner, folder):
    """The whole way: upload, job, outcome with a reason; at most 1 GB and 30 s each."""
    made = hostile_files()
    for name in HOSTILE:
        content, codes = made[name]
        began = time.monotonic()
        file = checked(owner, content, f"{name}.tif")
        assert time.monotonic() - began < 30, name
        assert file.state in ("refused", "view_only", "measurable"), name
        if codes is not None:
            assert file.refusal_code in codes, name
            assert file.refusal_text.endswith("."), name
    # In kB: the largest of all children that ended.
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss < 1024 * 1024
    assert not Job.objects.filter(state="failed").exists()
    assert list((folder / "uploads").iterdir()) == [], "no decoded pixels are left"


def test_a_check_that_runs_twice_adds_nothing(owner, tmp_path):
    scan = make_scan(owner, tmp_path)
    before = StoredFile.objects.values().get(), Job.objects.count()
    submit_job(kind="check_file", subject={"file_id": scan.file_id}, label="again")
    run_waiting_jobs()
    assert (StoredFile.objects.values().get(), Job.objects.count()) == (before[0], before[1] + 1)


def test_a_scan_that_was_described_meanwhile_is_measured_once_its_file_is_checked(owner, tmp_path):
    scan = make_scan(owner, tmp_path, is_checked=False)
    describe_scan(actor=owner, scan_id=scan.pk, shows="field", told_resolution_ppi=2400.0)
    assert not Job.objects.filter(kind="measure_scan").exists()
    run_waiting_jobs()
    assert Job.objects.filter(kind="measure_scan", requested_by=owner).count() == 1


def test_what_the_machine_could_not_do_is_tried_again_when_the_file_comes_again(owner, tmp_path):
    scan = make_scan(owner, tmp_path, is_checked=False)
    Job.objects.all().delete()
    store_check(file_id=scan.file_id, outcome=Outcome(refusal=Refusal("OUT_OF_TIME", "Too slow today.")))
    make_scan(owner, tmp_path)
    assert StoredFile.objects.get().state == "measurable"


def test_a_file_that_is_gone_fails_its_job_in_words(owner, tmp_path):
    scan = make_scan(owner, tmp_path, is_checked=False)
    scan.file.path.unlink()
    run_waiting_jobs()
    job = Job.objects.get(kind="check_file")
    assert (job.state, job.error_text) == ("failed", "The file is gone.")


@pytest.mark.one_database
def test_only_jobs_and_commands_decode():
    """Whoever serves pages never reads a pixel of a file from outside."""
    decoders = {"read_picture", "decode_in_child", "read_tiff", "read_png", "read_jpeg"}
    found = {
        short(path)
        for path in python_files("scans", "labsite", "curves")
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.ImportFrom) and decoders & {name.name for name in node.names}
    }
    allowed = ("scans/imaging/", "scans/tasks/", "scans/management/")
    assert {path for path in found if not path.startswith(allowed)} == set()
    assert "scans/tasks/checking.py" in found
