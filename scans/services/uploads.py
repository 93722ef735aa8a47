"""Uploads: begun, received piece by piece, completed into a scan, given up; what is left over, swept."""

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from curves.models import Roll
from labsite.accounts.services import record_audit
from labsite.common.access import require_member
from labsite.common.errors import InvalidInput, NotFound, WrongState
from scans.imaging.decode_checks import DEFAULT_LIMITS, MEGABYTE
from scans.models import FileState, Scan, Shows, StoredFile, Upload
from scans.queries.uploads import EXPIRES_AFTER
from scans.services.checking import request_check
from scans.services.files import (
    ByteStream,
    append_to_part,
    digest_of_file,
    locked_part,
    place_content,
    remove_orphans,
    require_room,
)

MOST_BYTES = DEFAULT_LIMITS.file_bytes
#: So many files may one member have under way.
MOST_OPEN = 40
GONE = "There is no such upload of yours; it may have been given up. Begin it again."


def start_upload(
    *, actor, filename: str, size_bytes: int, shows: str = "", roll_id: int | None = None
) -> Upload:
    """Begin an upload; refuse at once what could never be stored."""
    require_member(actor)
    name = clean_filename(filename)
    if not name:
        raise InvalidInput("Give the file's name.", field="filename")
    if size_bytes <= 0:
        raise InvalidInput(f"{name} holds nothing.", field="size_bytes")
    if size_bytes > MOST_BYTES:
        raise InvalidInput(
            f"{name} has {size_bytes // MEGABYTE} MB; at most {MOST_BYTES // MEGABYTE} MB are accepted. "
            "Scan a smaller area, or with grey instead of colour.",
            field="size_bytes",
            code="too_large",
        )
    if shows not in Shows.values:
        raise InvalidInput("Choose what the scan shows.", field="shows")
    roll = _own_roll(actor, roll_id)
    under_way = Upload.objects.filter(completed_at=None)
    if under_way.filter(member=actor).count() >= MOST_OPEN:
        raise WrongState(
            f"You have {MOST_OPEN} uploads under way; finish or cancel some first.", code="too_many_open"
        )
    require_room(size_bytes=size_bytes)
    return Upload.objects.create(member=actor, filename=name, size_bytes=size_bytes, shows=shows, roll=roll)


def resume_upload(*, actor, upload_id) -> Upload:
    """Say how much is there, by the file itself; complete what a killed process left complete."""
    upload = _own_upload(actor, upload_id)
    if upload.completed_at is None and upload.part_path.exists():
        try:
            with locked_part(upload.part_path) as part:
                return _settled(upload, _true_size(upload, part))
        except WrongState as fault:
            if fault.code != "busy":  # somebody sends just now: what is stored will do
                raise
    return upload


def receive_bytes(
    *, actor, upload_id, offset: int, stream: ByteStream, length: int | None = None, checksum: str = ""
) -> Upload:
    """Append what the stream has to the upload's part; the last byte makes it a scan.

    Only one sender at a time; whoever begins elsewhere than where the part ends is told where that is.
    """
    upload = _own_upload(actor, upload_id)
    if upload.completed_at is not None and offset == upload.size_bytes:
        return upload
    if upload.completed_at is not None:
        raise _other_offset(upload.size_bytes, offset)
    with locked_part(upload.part_path) as part:
        there = _true_size(upload, part)
        if offset != there:
            raise _other_offset(there, offset)
        room = upload.size_bytes - there
        if length is not None and length > room:
            text = f"Only {room} bytes are missing of this file, and {length} were sent."
            raise InvalidInput(text, field="length", code="too_large")
        if room:
            there = append_to_part(
                part,
                stream,
                most_bytes=room if length is None else length,
                checksum=checksum,
                on_synced=lambda size: _remember(upload, size),
            )
        return _settled(upload, there)


def cancel_upload(*, actor, upload_id) -> None:
    """Give an upload up; what came of it is removed."""
    upload = _own_upload(actor, upload_id)
    if upload.completed_at is not None:
        raise WrongState("This upload is complete; discard its scan instead.")
    part = upload.part_path
    with locked_part(part):
        upload.delete()
        part.unlink(missing_ok=True)


def sweep_uploads(*, now=None) -> dict[str, int]:
    """Remove abandoned uploads, parts that belong to none, and contents without a row."""
    now = now or timezone.now()
    old = Upload.objects.filter(updated_at__lt=now - EXPIRES_AFTER)
    expired = sum(_expire(upload) for upload in old.filter(completed_at=None))
    finished, _ = old.exclude(completed_at=None).delete()
    left = list((settings.MEDIA_ROOT / "uploads").glob("*.part"))
    wanted = {upload.part_path for upload in Upload.objects.filter(completed_at=None).only("pk")}
    strays = [path for path in left if path not in wanted]
    for path in strays:
        path.unlink(missing_ok=True)
    return {"expired": expired, "finished": finished, "parts": len(strays), "files": remove_orphans()}


def clean_filename(name: str) -> str:
    """A name to show: without folders and what can't be printed, short, its ending kept."""
    name = name.replace("\\", "/").rsplit("/", 1)[-1]
    name = "".join(each if each.isprintable() else " " for each in name)
    name = " ".join(name.split()).strip(". ")
    longest = 120
    if len(name) <= longest:
        return name
    stem, dot, ending = name.rpartition(".")
    return f"{stem[: longest - len(ending) - 2]}…{dot}{ending}" if len(ending) < 10 else name[:longest]


def _own_upload(actor, upload_id) -> Upload:
    require_member(actor)
    upload = Upload.objects.filter(pk=upload_id, member=actor).first()
    if upload is None:
        raise NotFound(GONE)
    return upload


def _own_roll(actor, roll_id: int | None) -> Roll | None:
    if roll_id is None:
        return None
    roll = Roll.objects.filter(pk=roll_id).first()
    if roll is None or roll.member_id != actor.pk or not roll.is_editable:
        raise InvalidInput("Choose a roll of your own that can still be changed.", field="roll_id")
    return roll


def _other_offset(there: int, offset: int) -> WrongState:
    text = f"{there} bytes of this file are here; go on from there, not from {offset}."
    return WrongState(text, code="other_offset")


def _true_size(upload: Upload, part) -> int:
    """The part's own length: a killed process may have written more than it could tell the row."""
    size = part.seek(0, 2)
    if size > upload.size_bytes:
        part.truncate(upload.size_bytes)
        size = upload.size_bytes
    return size


def _remember(upload: Upload, size: int) -> None:
    now = timezone.now()
    if not Upload.objects.filter(pk=upload.pk).update(received_bytes=size, updated_at=now):
        raise NotFound(GONE)
    upload.received_bytes = size


def _settled(upload: Upload, size: int) -> Upload:
    if size < upload.size_bytes:
        if size != upload.received_bytes:
            _remember(upload, size)
        return upload
    return _completed(upload)


def _completed(upload: Upload) -> Upload:
    """Content in place, then rows and job in one transaction, then the part away; each step may be the last.

    Whatever is cut off is done by whoever asks for the upload next, or swept.
    """
    part = upload.part_path
    digest = digest_of_file(part)
    place = place_content(part=part, digest=digest)
    with transaction.atomic():
        upload = _locked(upload.pk)
        if upload.completed_at is None:
            _make_scan(upload, digest)
            if not place.exists():  # removed to make room just before the file's row was locked
                place_content(part=part, digest=digest)
    if not place.exists():  # swept as an orphan just before its row was there
        place_content(part=part, digest=digest)
    part.unlink(missing_ok=True)
    return upload


def _locked(pk) -> Upload:
    upload = (
        Upload.objects.select_for_update(of=("self",)).select_related("member", "roll").filter(pk=pk).first()
    )
    if upload is None:
        raise NotFound(GONE)
    return upload


def _make_scan(upload: Upload, digest: str) -> None:
    """The same content from the same member for the same roll is the same scan."""
    file = _locked_file(digest, upload.size_bytes)
    known = file.scans.filter(member=upload.member, roll=upload.roll, is_discarded=False).first()
    scan = known or Scan.objects.create(
        file=file, member=upload.member, filename=upload.filename, roll=upload.roll, **_told(upload)
    )
    upload.file, upload.scan = file, scan
    upload.received_bytes, upload.completed_at = upload.size_bytes, timezone.now()
    upload.save(update_fields=["file", "scan", "received_bytes", "completed_at", "updated_at"])
    if known is None:
        after = {"filename": scan.filename, "bytes": file.size_bytes, "digest": digest}
        record_audit(actor=upload.member, action="upload scan", subject=scan, after=after)
    request_check(file=file, requested_by=upload.member)


def _locked_file(digest: str, size_bytes: int) -> StoredFile:
    """The content's row, which nobody removes to make room now; once removed, it is new to the lab again."""
    StoredFile.objects.get_or_create(digest=digest, defaults={"size_bytes": size_bytes})
    file = StoredFile.objects.select_for_update().get(digest=digest)
    if file.content_removed_at is not None:
        # Tiles went with it: the check has them cut anew, and scans measured.
        file.content_removed_at, file.checked_at = None, None
        file.state, file.refusal_code, file.refusal_text = FileState.UNCHECKED, "", ""
        file.save()
    return file


def _told(upload: Upload) -> dict:
    """What was told beforehand, as far as it is all that has to be known."""
    if upload.shows == Shows.STRIP:
        strips = list(upload.roll.strips.all()[:2]) if upload.roll else []
        return {"shows": upload.shows, "strip": strips[0]} if len(strips) == 1 else {}
    is_whole = upload.shows in (Shows.PRINT, Shows.FIELD, Shows.EDGE) or (upload.roll and upload.shows)
    return {"shows": upload.shows} if is_whole and upload.shows != Shows.TABLET else {}


def _expire(upload: Upload) -> bool:
    try:
        with locked_part(upload.part_path):
            upload.part_path.unlink(missing_ok=True)
            return bool(Upload.objects.filter(pk=upload.pk, completed_at=None).delete()[0])
    except WrongState:  # somebody sends just now
        return False
