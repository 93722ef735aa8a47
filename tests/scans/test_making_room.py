"""Making room: which contents go and which stay, kills and uploads in between."""

import threading
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.utils import timezone

from curves.models import SheetVersion
from labsite.accounts.models import AuditRecord
from labsite.common.errors import NotAllowed, NotFound
from labsite.jobs.runner import run_waiting_jobs
from scans.models import FileState, Scan, Shows, StoredFile, TilePyramid, Transfer
from scans.queries.disk import disk_use
from scans.services import making_room, uploads
from scans.services.describing import describe_scan, use_of
from scans.services.making_room import remove_discarded_contents
from scans.services.viewing import measure_tiles, store_pyramid
from tests.factories.discards import age, discarded
from tests.factories.pictures import picture_row
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.scans import bare_scan, calibration_row, make_scanner, measurement_row
from tests.factories.sheets import priced_and_published
from tests.factories.uploads import make_scan, upload_file

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"
    return settings.MEDIA_ROOT


def held(admin):
    """How many files have which fate."""
    use = disk_use(admin)
    names = ("in_use", "rested_on", "later", "can_go", "removed")
    return {name: getattr(use, name).files for name in names if getattr(use, name).files}


# --- What goes and what stays


def test_a_content_discarded_long_ago_goes_with_its_pictures_and_its_rows_stay(
    owner, admin, folder, tmp_path, django_capture_on_commit_callbacks
):
    scan = make_scan(owner, tmp_path)
    kept = make_scan(owner, tmp_path, seed=2)
    size = sum(path.stat().st_size for path in (folder / "tiles").rglob(f"{scan.file_id}-*/**/*.png"))
    discarded(scan, days=30)
    assert held(admin) == {"in_use": 1, "can_go": 1}
    with django_capture_on_commit_callbacks(execute=True):
        freed = remove_discarded_contents(actor=admin)

    assert (freed.files, freed.bytes, freed.tile_bytes) == (1, scan.file.size_bytes, size)
    assert freed.all_bytes == scan.file.size_bytes + size and size > 0
    scan.refresh_from_db()
    assert scan.is_discarded and scan.file.content_removed_at is not None
    assert not scan.file.path.exists() and kept.file.path.exists()
    assert [path.name for path in (folder / "tiles").iterdir()] == [f"{kept.file_id}-levels"]
    assert TilePyramid.objects.get().file == kept.file
    told = AuditRecord.objects.get(action="remove discarded files")
    assert told.actor == admin
    assert told.after == {"files": 1, "bytes": freed.bytes, "bytes_of_pictures": size}
    assert held(admin) == {"in_use": 1, "removed": 1}
    # Once more there is nothing to do, and nothing to tell.
    assert remove_discarded_contents(actor=admin).files == 0
    assert AuditRecord.objects.filter(action="remove discarded files").count() == 1


def test_a_file_that_could_not_be_read_goes_too(owner, admin):
    scan = upload_file(owner, b"of no picture")
    StoredFile.objects.update(state=FileState.REFUSED, refusal_text="No picture.")
    discarded(scan, days=31)
    assert remove_discarded_contents(actor=admin).files == 1


def test_the_daily_sweep_notes_the_size_of_pictures_that_were_cut_before_it_was_noted(owner, tmp_path):
    make_scan(owner, tmp_path)
    known = TilePyramid.objects.get().size_bytes
    TilePyramid.objects.update(size_bytes=None)
    assert (measure_tiles(), measure_tiles()) == (1, 0)
    assert TilePyramid.objects.get().size_bytes == known > 1000


def test_only_admins_make_room_and_see_what_takes_it(owner, visitor):
    discarded(upload_file(owner, b"x"), days=31)
    for person in (owner, visitor):
        for act in (lambda who: remove_discarded_contents(actor=who), disk_use):
            with pytest.raises(NotAllowed):
                act(person)
    assert StoredFile.objects.get().path.exists()


def test_a_month_passes_between_the_last_discard_and_the_removal(owner, labmate, admin):
    first, last = (upload_file(member, b"the same") for member in (owner, labmate))
    assert first.file == last.file
    discarded(first, days=90)
    assert held(admin) == {"in_use": 1}, "somebody else still has a scan of it"
    discarded(last, days=29.9)
    assert held(admin) == {"later": 1}
    use = disk_use(admin)
    assert use.later.first_from == use.later.last_from
    assert (use.later.first_from - last.discarded_at).days == 30, "by the last discard, not by the first"
    assert remove_discarded_contents(actor=admin).files == 0
    age(last, days=30)
    assert remove_discarded_contents(actor=admin).files == 1


def by_readings(scan):
    strip = scan.roll.strips.get()
    return Transfer.objects.create(
        measurement=measurement_row(scan, {1: 1.8}), strip=strip, taken_by=scan.member
    ).delete


def by_calibration(scan):
    row = calibration_row(scan)
    return lambda: type(row).objects.update(state="void", void_reason="wrong tablet")


def by_trial(scan):
    trial = scan.trials.create(
        scanner=scan.scanner, setup={}, setup_digest="7" * 64, document={}, made_by=scan.member
    )
    return lambda: type(trial).objects.filter(pk=trial.pk).update(is_in_force=False)


def by_grain(scan):
    source_key = f"measurement {measurement_row(scan, {1: 1.8}).pk}"
    row = picture_row(scan.roll, "rms_granularity", 9.4, source_key=source_key)
    return lambda: type(row).objects.update(is_current=False, ended_reason="read anew")


def by_a_frame_of_a_sheet(scan):
    return _on_a_sheet(scan, {"crop": None, "frames": [999, scan.pk]})


def by_the_picture_of_a_sheet(scan):
    return _on_a_sheet(scan, {"crop": {"picture": "0" * 64, "scan": scan.code}, "frames": []})


def _on_a_sheet(scan, pictures):
    roll = scan.roll
    priced_and_published(scan.member, roll.batch.stock, roll.process_revision, roll.exposure_revision)
    SheetVersion.objects.update(content={"stock": {"name": "x"}} | pictures)
    return SheetVersion.objects.all().delete


WAYS = [by_readings, by_calibration, by_trial, by_grain, by_a_frame_of_a_sheet, by_the_picture_of_a_sheet]


@pytest.mark.parametrize("rests", WAYS)
def test_what_something_rests_on_stays_until_nothing_does(owner, admin, rests):
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    scan = bare_scan(owner, roll, make_scanner(admin))
    let_go = rests(scan)
    assert bool(use_of(scan)) == (rests in WAYS[:3]), "these can't even be discarded"
    Scan.objects.update(is_discarded=True, discarded_at=timezone.now() - timedelta(days=99))
    assert held(admin) == {"rested_on": 1}
    assert remove_discarded_contents(actor=admin).files == 0
    assert scan.file.path.exists()
    let_go()
    assert held(admin) == {"can_go": 1}


def test_with_very_many_files_some_go_and_the_rest_is_told(owner, admin, monkeypatch):
    monkeypatch.setattr(making_room, "MOST_AT_ONCE", 2)
    for number in range(3):
        discarded(upload_file(owner, b"x" * (number + 1)), days=31)
    freed = remove_discarded_contents(actor=admin)
    assert (freed.files, freed.bytes, freed.files_left) == (2, 3, 1)
    assert remove_discarded_contents(actor=admin).bytes == 3


def test_looking_takes_the_same_few_queries_for_one_file_and_for_many(
    owner, admin, django_assert_max_num_queries
):
    for number in range(12):
        scan = upload_file(owner, b"x" * (number + 1))
        TilePyramid.objects.create(file=scan.file, document={}, size_bytes=1000)
        if number % 3:
            discarded(scan, days=20 * (number % 3))
    with django_assert_max_num_queries(6):
        use = disk_use(admin)
    assert (use.in_use.files, use.later.files, use.can_go.files) == (4, 4, 4)
    assert use.total_bytes == 12_000 + sum(range(1, 13))
    with django_assert_max_num_queries(14):
        remove_discarded_contents(actor=admin)


# --- Kills and uploads in between


def test_a_kill_between_the_disk_and_the_commit_leaves_what_the_next_run_mends(
    owner, admin, tmp_path, monkeypatch
):
    scan = make_scan(owner, tmp_path)
    discarded(scan, days=31)

    def die(**told):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(making_room, "record_audit", die)
        with pytest.raises(KeyboardInterrupt):
            remove_discarded_contents(actor=admin)
    file = StoredFile.objects.get()
    assert (file.path.exists(), file.content_removed_at) == (False, None)
    assert remove_discarded_contents(actor=admin).files == 1
    file.refresh_from_db()
    assert file.content_removed_at is not None
    assert not TilePyramid.objects.exists()
    assert AuditRecord.objects.get(action="remove discarded files").after["files"] == 1


@pytest.mark.django_db(transaction=True)
def test_a_removed_content_that_is_uploaded_again_is_checked_cut_and_measured_anew(owner, admin, tmp_path):
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    scanner = make_scanner(admin)
    first = make_scan(owner, tmp_path)
    discarded(first, days=31)
    remove_discarded_contents(actor=admin)

    again = make_scan(owner, tmp_path)
    assert (again.file, again.pk != first.pk) == (first.file, True)
    file = StoredFile.objects.get()
    assert (file.content_removed_at, file.state) == (None, FileState.MEASURABLE)
    assert file.path.exists()
    assert TilePyramid.objects.get().is_on_disk
    describe_scan(actor=owner, scan_id=again.pk, shows=Shows.FIELD, roll_id=roll.pk, scanner_id=scanner.pk)
    run_waiting_jobs()
    assert again.placements.exists(), "it was looked at by the measuring job"
    assert held(admin) == {"in_use": 1}


def test_an_upload_whose_content_is_removed_just_before_its_row_is_locked_puts_it_back(
    owner, admin, monkeypatch
):
    discarded(upload_file(owner, b"content"), days=31)
    place = uploads.place_content
    freed = []

    def placed_and_removed(**how):
        where = place(**how)
        if not freed:
            freed.append(remove_discarded_contents(actor=admin))
        return where

    monkeypatch.setattr(uploads, "place_content", placed_and_removed)
    scan = upload_file(owner, b"content")
    assert [each.files for each in freed] == [1], "it went in between"
    scan.file.refresh_from_db()
    assert scan.file.path.read_bytes() == b"content"
    assert (scan.file.content_removed_at, scan.file.state) == (None, FileState.UNCHECKED)


@pytest.mark.django_db(transaction=True)
def test_whoever_is_killed_after_the_commit_of_such_an_upload_has_put_it_back_already(
    owner, admin, monkeypatch
):
    discarded(upload_file(owner, b"content"), days=31)
    place, make, freed = uploads.place_content, uploads._make_scan, []

    def placed_and_removed(**how):
        where = place(**how)
        if not freed:
            freed.append(remove_discarded_contents(actor=admin))
        return where

    def die():
        raise KeyboardInterrupt

    def made_and_killed(upload, digest):
        make(upload, digest)
        transaction.on_commit(die)

    monkeypatch.setattr(uploads, "place_content", placed_and_removed)
    monkeypatch.setattr(uploads, "_make_scan", made_and_killed)
    with pytest.raises(KeyboardInterrupt):
        upload_file(owner, b"content")
    assert [each.files for each in freed] == [1]
    assert Scan.objects.get(is_discarded=False).file.path.read_bytes() == b"content"


def test_what_is_uploaded_while_the_files_that_can_go_are_looked_for_stays(owner, admin, monkeypatch):
    discarded(upload_file(owner, b"content"), days=31)
    look, scans = making_room.removable_files, []

    def looked_and_uploaded(now):
        found = look(now)
        if not scans:
            found = StoredFile.objects.filter(pk__in=list(found.values_list("pk", flat=True)))
            scans.append(upload_file(owner, b"content"))
        return found

    monkeypatch.setattr(making_room, "removable_files", looked_and_uploaded)
    assert remove_discarded_contents(actor=admin).files == 0
    assert scans[0].file.path.read_bytes() == b"content"


@pytest.mark.django_db(transaction=True)
def test_a_removal_waits_for_the_upload_that_holds_the_row_and_leaves_the_file(owner, admin, monkeypatch):
    """Two connections: the upload is inside its transaction when the removal begins."""
    discarded(upload_file(owner, b"content"), days=31)
    freed, make = [], uploads._make_scan

    def remove():
        freed.append(remove_discarded_contents(actor=admin))
        connection.close()

    remover = threading.Thread(target=remove)

    def make_and_wait(upload, digest):
        make(upload, digest)
        remover.start()
        remover.join(0.5)
        assert not freed, "it waits"

    monkeypatch.setattr(uploads, "_make_scan", make_and_wait)
    scan = upload_file(owner, b"content")
    remover.join(20)
    assert [each.files for each in freed] == [0]
    assert scan.file.path.read_bytes() == b"content"
    assert StoredFile.objects.get().content_removed_at is None


def test_a_picture_that_was_being_cut_meanwhile_is_not_kept(owner, admin):
    scan = discarded(upload_file(owner, b"content"), days=31)
    remove_discarded_contents(actor=admin)
    with pytest.raises(NotFound, match="removed to make room"):
        store_pyramid(file_id=scan.file_id, calibration_id=None, document={}, size_bytes=1)
    assert not TilePyramid.objects.exists()
