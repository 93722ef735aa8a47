"""Room on disk: what admins and their scripts are shown of it, and what whoever discards a scan is told."""

import importlib
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.utils import timezone

from labsite.accounts.models import AuditRecord
from scans.models import StoredFile, TilePyramid
from scans.queries import disk
from scans.services.uploads import start_upload
from tests.factories.discards import age, discarded
from tests.factories.scripts import Script
from tests.factories.uploads import upload_file

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"
    return settings.MEDIA_ROOT


def test_the_page_says_what_can_go_and_removes_it(owner, admin, client_for, monkeypatch):
    monkeypatch.setattr(
        disk.shutil, "disk_usage", lambda path: SimpleNamespace(free=disk.RESERVE_BYTES + 3_000_000_000)
    )
    client = client_for(admin)
    assert "no file of a discarded scan" in client.get("/lab/disk/").text
    start_upload(actor=owner, filename="a.tif", size_bytes=400_000_000)
    scan = discarded(upload_file(owner, b"x" * 1_500_000), days=20)
    shown = client.get("/lab/disk/").text
    when = timezone.localtime(scan.discarded_at + timedelta(days=30))
    assert f"{when:%Y-%m-%d}" in shown and "Nothing can go today" in shown
    assert "2.6 GB" in shown, "for new uploads, without what is promised and kept"
    assert "Make room" not in shown
    assert "Nothing can go now" in client.get("/lab/disk/make-room/").text
    age(scan, days=30)
    shown = client.get("/lab/disk/").text
    assert "1 file can go" in shown and "1.5 MB" in shown
    assert "1 file goes for good" in client.get("/lab/disk/make-room/").text
    answer = client.post("/lab/disk/make-room/", follow=True).text
    assert "1 file is removed; 1.5 MB of the disk are free again." in answer
    assert "Removed so far: 1 file" in answer
    assert "nothing was removed" in client.post("/lab/disk/make-room/", follow=True).text
    assert "/lab/disk/" in client.get("/lab/").text
    assert "/lab/disk/" not in client_for(owner).get("/lab/").text


def test_a_full_disk_and_pictures_of_unknown_size_are_told(owner, admin, client_for, monkeypatch):
    monkeypatch.setattr(disk.shutil, "disk_usage", lambda path: SimpleNamespace(free=1_000_000))
    file = StoredFile.objects.create(digest="1" * 64, size_bytes=9)
    TilePyramid.objects.create(file=file, document={})
    shown = client_for(admin).get("/lab/disk/").text
    assert "No upload can begin" in shown
    assert "pictures of 1 file are left out" in shown


def test_scripts_of_admins_see_and_do_the_same(owner, admin):
    discarded(upload_file(owner, b"x" * 1000), days=31)
    later = discarded(upload_file(owner, b"y" * 500), days=1)
    script = Script(admin)
    use = script.get("disk/")
    assert use["can_go"] == {"files": 1, "bytes": 1000, "tile_bytes": 0}
    assert use["later"]["files"] == 1
    assert use["later"]["first_from"][:10] == f"{later.discarded_at + timedelta(days=30):%Y-%m-%d}"
    assert use["room"]["uploads_bytes"] <= use["room"]["free_bytes"]
    freed = script.does("post", "disk/make-room/")
    assert freed == {"files": 1, "bytes": 1000, "tile_bytes": 0, "files_left": 0}
    assert script.get("disk/")["removed"]["files"] == 1
    assert script.does("post", "disk/make-room/")["files"] == 0
    Script(owner).refused("get", "disk/", status=403)
    Script(owner).refused("post", "disk/make-room/", status=403)


def test_whoever_discards_a_scan_is_told_what_becomes_of_its_file(owner, client_for):
    scan = upload_file(owner, b"x")
    for page in ("describe", "discard"):
        assert "Its file stays for 30 days" in client_for(owner).get(f"/scans/{scan.pk}/{page}/").text


# --- Labs that are older than this


@pytest.mark.django_db(transaction=True)
def test_earlier_discards_get_their_time_from_the_history(owner):
    scans = [upload_file(owner, b"x" * (n + 1)) for n in range(3)]
    discarded(scans[0], days=0)
    discarded(scans[1], days=0)
    long_ago = timezone.now() - timedelta(days=70)
    AuditRecord.objects.filter(action="discard scan", subject_id=str(scans[0].pk)).update(at=long_ago)
    AuditRecord.objects.filter(action="discard scan", subject_id=str(scans[1].pk)).delete()
    module = importlib.import_module("scans.migrations.0003_room_on_disk")
    module.tell_when_discarded(apps, None)
    for scan in scans:
        scan.refresh_from_db()
    assert scans[0].discarded_at == long_ago
    assert scans[1].discarded_at == scans[1].updated_at
    assert scans[2].discarded_at is None
