"""Uploads: begun, received, gone on with after any break, completed once, refused in words, swept."""

import hashlib
import io
import os
import threading
from base64 import b64encode
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.utils import timezone

from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound, WrongState
from labsite.jobs.models import Job
from scans.models import Scan, StoredFile, Upload
from scans.queries import disk
from scans.services import files, uploads
from scans.services.uploads import (
    MOST_BYTES,
    MOST_OPEN,
    cancel_upload,
    clean_filename,
    receive_bytes,
    resume_upload,
    start_upload,
    sweep_uploads,
)
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.imaging.picture_files import texture, write_tiff

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"
    return settings.MEDIA_ROOT


@pytest.fixture
def content(tmp_path):
    return write_tiff(tmp_path / "scan.tif", texture()).read_bytes()


def begin(member, content, name="strip 1.tif", **told):
    return start_upload(actor=member, filename=name, size_bytes=len(content), **told)


def send(member, upload, content, offset=0, **how):
    return receive_bytes(
        actor=member, upload_id=upload.pk, offset=offset, stream=io.BytesIO(content[offset:]), **how
    )


def upload_whole(member, content, **told):
    return send(member, begin(member, content, **told), content)


def names(folder):
    return sorted(path.name for path in folder.rglob("*") if path.is_file())


# --- The whole way


def test_pieces_in_order_become_a_scan_with_its_file_its_job_and_its_history(owner, folder, content):
    upload = begin(owner, content, name="C:\\scans\\strip 1.tif")
    half = len(content) // 2
    upload = receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=io.BytesIO(content[:half]))
    assert (upload.received_bytes, upload.completed_at) == (half, None)
    upload = send(owner, upload, content, half)

    digest = hashlib.sha256(content).hexdigest()
    assert (upload.file.digest, upload.file.size_bytes) == (digest, len(content))
    assert upload.file.path.read_bytes() == content
    assert upload.file.path.stat().st_mode & 0o777 == 0o440
    assert names(folder) == [digest], "the part is gone"
    scan = Scan.objects.get()
    assert (scan, scan.member, scan.filename, scan.shows) == (upload.scan, owner, "strip 1.tif", "")
    job = Job.objects.get(kind="check_file")
    assert (job.subject, job.requested_by) == ({"file_id": upload.file_id}, owner)
    assert AuditRecord.objects.get(action="upload scan").after["digest"] == digest
    # The last answer may have been lost: asking for it again changes nothing.
    assert send(owner, upload, content, len(content)).scan == scan
    assert resume_upload(actor=owner, upload_id=upload.pk).scan == scan
    assert (Scan.objects.count(), StoredFile.objects.count(), Job.objects.count()) == (1, 1, 1)


def test_a_line_that_drops_loses_nothing_that_came(owner, content):
    class Dropping(io.BytesIO):
        def read(self, size=-1):
            if self.tell() >= 8192:
                raise OSError("connection reset")
            return super().read(min(size, 4096))

    upload = begin(owner, content)
    upload = receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=Dropping(content))
    assert upload.received_bytes == 8192
    assert resume_upload(actor=owner, upload_id=upload.pk).received_bytes == 8192
    assert send(owner, upload, content, 8192).file.digest == hashlib.sha256(content).hexdigest()


def test_the_length_of_the_file_is_believed_before_the_row(owner, content):
    """A killed process wrote what it could no longer tell the row; too long a part is cut."""
    upload = begin(owner, content)
    receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=io.BytesIO(content[:1000]))
    with upload.part_path.open("ab") as part:
        part.write(content[1000:1500])
    assert resume_upload(actor=owner, upload_id=upload.pk).received_bytes == 1500
    upload.part_path.write_bytes(content + b"more")
    assert resume_upload(actor=owner, upload_id=upload.pk).file.digest == hashlib.sha256(content).hexdigest()


def test_whatever_the_last_step_was_the_next_question_completes_it_once(owner, folder, content, monkeypatch):
    """Cut off after each step of completing: digest, placing, the rows; then asked again."""
    for step in ("place_content", "_make_scan", "unlink"):
        Scan.objects.all().delete()
        upload = begin(owner, content)

        def die(*args, **kwargs):
            raise KeyboardInterrupt

        with monkeypatch.context() as patched:
            if step == "unlink":
                patched.setattr("pathlib.Path.unlink", die)
            else:
                patched.setattr(uploads, step, die)
            with pytest.raises(KeyboardInterrupt):
                send(owner, upload, content)
        upload = resume_upload(actor=owner, upload_id=upload.pk)
        assert upload.scan is not None, step
        assert upload.file.path.read_bytes() == content
        assert Scan.objects.count() == 1
        sweep_uploads()
        assert names(folder) == [upload.file.digest], step


def test_a_content_is_kept_once_and_a_repeat_leads_to_the_scan(owner, labmate, folder, content):
    first = upload_whole(owner, content)
    again = upload_whole(owner, content, name="strip 1 (copy).tif")
    assert again.scan == first.scan
    others = upload_whole(labmate, content)
    assert others.scan != first.scan
    assert others.file == first.file
    assert names(folder) == [first.file.digest]
    assert Job.objects.filter(kind="check_file").count() == 1, "one check is enough"


def test_for_another_roll_the_same_content_is_another_scan(owner, admin, content):
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    first, second = upload_whole(owner, content), upload_whole(owner, content, roll_id=roll.pk, shows="strip")
    assert second.scan != first.scan
    assert (second.scan.roll, second.scan.shows, second.scan.strip) == (roll, "strip", roll.strips.get())


@pytest.mark.parametrize("shows", ["tablet", "strip", "frame"])
def test_what_was_told_beforehand_is_not_taken_for_a_description_where_more_is_asked(owner, content, shows):
    assert upload_whole(owner, content, shows=shows).scan.shows == ""


# --- What is refused


@pytest.mark.parametrize(
    ("told", "field", "words"),
    [
        ({"size_bytes": 0}, "size_bytes", "holds nothing"),
        ({"size_bytes": -1}, "size_bytes", "holds nothing"),
        ({"size_bytes": MOST_BYTES + 1}, "size_bytes", "at most 512 MB"),
        ({"filename": " ../ "}, "filename", "name"),
        ({"shows": "holiday"}, "shows", "Choose"),
        ({"roll_id": 10**6}, "roll_id", "roll of your own"),
    ],
)
def test_what_could_never_be_stored_is_refused_at_once(owner, told, field, words):
    with pytest.raises(InvalidInput, match=words) as refusal:
        start_upload(actor=owner, **{"filename": "a.tif", "size_bytes": 100} | told)
    assert refusal.value.field == field
    assert not Upload.objects.exists()


def test_visitors_upload_nothing_and_nobody_touches_anothers_upload(owner, labmate, admin, visitor, content):
    with pytest.raises(NotAllowed):
        start_upload(actor=visitor, filename="a.tif", size_bytes=9)
    upload = begin(owner, content)
    for other in (labmate, admin):
        for act in (resume_upload, cancel_upload):
            with pytest.raises(NotFound):
                act(actor=other, upload_id=upload.pk)
        with pytest.raises(NotFound):
            send(other, upload, content)


def test_so_many_uploads_and_no_more_may_be_under_way(owner, labmate):
    for _ in range(MOST_OPEN):
        begin(owner, b"x" * 9)
    with pytest.raises(WrongState, match="under way"):
        begin(owner, b"x" * 9)
    begin(labmate, b"x" * 9)


def test_another_offset_and_too_many_bytes_are_refused_and_nothing_is_lost(owner, content):
    upload = begin(owner, content)
    receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=io.BytesIO(content[:500]))
    for offset in (0, 499, 501, 10**12):
        with pytest.raises(WrongState, match="500 bytes") as refusal:
            send(owner, upload, content, offset)
        assert refusal.value.code == "other_offset"
    with pytest.raises(InvalidInput, match="are missing"):
        send(owner, upload, content, 500, length=len(content))
    assert upload.part_path.stat().st_size == 500
    done = send(owner, upload, content + b"beyond the end", 500)
    assert done.file.digest == hashlib.sha256(content).hexdigest(), "never more than was told"


def test_a_checksum_takes_all_or_nothing(owner, content):
    upload = begin(owner, content)
    good = b64encode(hashlib.sha256(content[:800]).digest()).decode()
    for sent in (content[:799], b"X" + content[1:800]):
        with pytest.raises(InvalidInput) as refusal:
            receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=io.BytesIO(sent), checksum=good)
        assert refusal.value.code == "checksum"
        assert upload.part_path.stat().st_size == 0
    stream = io.BytesIO(content[:800])
    kept = receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=stream, checksum=good)
    assert kept.received_bytes == 800


@pytest.mark.django_db(transaction=True)
def test_of_two_who_send_the_same_upload_one_is_asked_to_wait(owner, content):
    upload = begin(owner, content)
    began, goes_on = threading.Event(), threading.Event()

    class Slow(io.BytesIO):
        def read(self, size=-1):
            began.set()
            goes_on.wait(10)
            return super().read(size)

    def first():
        from django.db import connection

        receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=Slow(content))
        connection.close()

    sender = threading.Thread(target=first)
    sender.start()
    assert began.wait(10)
    for act in (
        lambda: send(owner, upload, content),
        lambda: cancel_upload(actor=owner, upload_id=upload.pk),
    ):
        with pytest.raises(WrongState) as refusal:
            act()
        assert refusal.value.code == "busy"
    assert resume_upload(actor=owner, upload_id=upload.pk).received_bytes == 0
    goes_on.set()
    sender.join()
    assert Scan.objects.get().file.digest == hashlib.sha256(content).hexdigest()


# --- A full disk


def test_a_disk_without_room_is_told_before_anything_is_sent(owner, labmate, monkeypatch):
    monkeypatch.setattr(
        disk.shutil, "disk_usage", lambda path: SimpleNamespace(free=disk.RESERVE_BYTES + 300_000_000)
    )
    start_upload(actor=labmate, filename="a.tif", size_bytes=200_000_000)
    with pytest.raises(WrongState, match="room for 100 MB more, and this file has 120 MB") as refusal:
        start_upload(actor=owner, filename="b.tif", size_bytes=120_000_000)
    assert refusal.value.code == "no_room"
    assert "Lab, Room on disk" in refusal.value.message, "where an admin makes room"
    start_upload(actor=owner, filename="b.tif", size_bytes=99_000_000)


def test_a_disk_that_fills_up_keeps_what_came_and_goes_on_when_there_is_room(owner, content):
    """The system's own limit on a file's size stands for the full disk: it refuses in mid-write, too."""
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    upload = begin(owner, content)
    good = b64encode(hashlib.sha256(content).digest()).decode()
    resource.setrlimit(resource.RLIMIT_FSIZE, (9000, hard))
    try:
        with pytest.raises(WrongState, match="disk is full") as refusal:
            append(owner, upload, content)
        kept = upload.part_path.stat().st_size
        with pytest.raises(WrongState, match="disk is full"):
            append(owner, upload, content, kept, checksum=good)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert (refusal.value.code, kept) == ("no_room", 9000)
    assert not Scan.objects.exists()
    assert resume_upload(actor=owner, upload_id=upload.pk).received_bytes == kept
    assert send(owner, upload, content, kept).file.digest == hashlib.sha256(content).hexdigest()


def append(owner, upload, content, offset=0, checksum=""):
    """Past the database, whose file has the same limit here."""
    with files.locked_part(upload.part_path) as part:
        return files.append_to_part(
            part, io.BytesIO(content[offset:]), most_bytes=len(content) - offset, checksum=checksum
        )


# --- What is left over


def test_cancelling_removes_all(owner, folder, content):
    upload = begin(owner, content)
    receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=io.BytesIO(content[:500]))
    cancel_upload(actor=owner, upload_id=upload.pk)
    assert (names(folder), Upload.objects.count()) == ([], 0)
    with pytest.raises(WrongState, match="complete"):
        cancel_upload(actor=owner, upload_id=upload_whole(owner, content).pk)


def test_the_sweep_removes_what_is_abandoned_and_nothing_else(owner, folder, content):
    kept = begin(owner, content)
    abandoned, sending, complete = begin(owner, content), begin(owner, content), upload_whole(owner, content)
    for upload in (kept, abandoned, sending):
        receive_bytes(actor=owner, upload_id=upload.pk, offset=0, stream=io.BytesIO(content[:500]))
    long_ago = timezone.now() - timedelta(days=8)
    Upload.objects.filter(pk__in=[abandoned.pk, sending.pk]).update(updated_at=long_ago)
    (folder / "uploads" / "of nobody.part").write_bytes(b"x")
    fresh, old = (folder / "scans" / "ab" / f"ab{name}" for name in ("fresh", "old"))
    for orphan in (fresh, old):
        orphan.parent.mkdir(exist_ok=True)
        orphan.write_bytes(b"x")
    now_s = old.stat().st_ctime + files.ORPHAN_AGE_S + 1
    with files.locked_part(sending.part_path):
        assert sweep_uploads() == {"expired": 1, "finished": 0, "parts": 1, "files": 0}
    assert set(Upload.objects.all()) == {kept, sending, complete}
    parts = sorted(f"{upload.pk}.part" for upload in (kept, sending))
    assert names(folder / "uploads") == parts
    os.utime(fresh, (now_s, now_s))
    assert files.remove_orphans(now_s=now_s) == 1
    assert names(folder / "scans") == sorted([fresh.name, complete.file.digest])
    Upload.objects.filter(pk=complete.pk).update(updated_at=long_ago)
    assert sweep_uploads()["finished"] == 1
    assert complete.file.path.exists()


def test_an_orphan_that_is_uploaded_again_is_used_and_not_swept(owner, folder, content):
    digest = hashlib.sha256(content).hexdigest()
    place = StoredFile(digest=digest).path
    place.parent.mkdir(parents=True)
    place.write_bytes(content)
    os.utime(place, (1, 1))
    upload_whole(owner, content)
    sweep_uploads()
    assert place.read_bytes() == content


def test_a_file_system_without_second_names_gets_a_copy(owner, folder, content, monkeypatch):
    def no_links(*paths):
        raise PermissionError(1, "no links here")

    monkeypatch.setattr(files.os, "link", no_links)
    assert upload_whole(owner, content).file.path.read_bytes() == content
    assert upload_whole(owner, content, name="again.tif").scan == Scan.objects.get()
    assert names(folder) == [hashlib.sha256(content).hexdigest()]


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("strip 1.tif", "strip 1.tif"),
        ("/etc/pass\x00wd", "pass wd"),
        ("..\\..\\a.tif", "a.tif"),
        ("...", ""),
        ("\u202egpj.exe", "gpj.exe"),
        ("x" * 300 + ".tiff", "x" * 114 + "….tiff"),
    ],
)
def test_names_are_shown_without_folders_and_tricks(given, shown):
    assert clean_filename(given) == shown
