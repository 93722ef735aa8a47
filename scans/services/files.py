"""Files on disk: parts that grow under a lock, and contents in their place under their digest.

A content lies in its place before any row names it, so a row without its file cannot come about; what a
killed process leaves is a file without a row, which the sweep removes.
"""

import base64
import errno
import fcntl
import hashlib
import os
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Protocol

from django.conf import settings

from labsite.common.errors import InvalidInput, WrongState
from scans.models import StoredFile
from scans.queries.disk import disk_room

#: So much is held in memory at once, and so much may be lost from a part when the power goes.
PIECE_BYTES = 1024 * 1024
SYNC_BYTES = 16 * PIECE_BYTES
#: A file without a row is younger than this while its upload is being completed.
ORPHAN_AGE_S = 24 * 3600
WHERE_TO_MAKE_ROOM = "the page Lab, Room on disk shows what can go."
NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


class ByteStream(Protocol):
    """What bytes are read from: a request, an uploaded file."""

    def read(self, size: int, /) -> bytes:
        """Return up to so many bytes; fewer only at the end."""


@contextmanager
def locked_part(path: Path) -> Iterator[BinaryIO]:
    """Open a part for this caller alone; the system drops the lock with the process, however that ends."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except PermissionError:  # complete and read-only already; only its taking over was cut off
        handle = os.open(path, os.O_RDONLY)
    except OSError as fault:
        raise _no_room(fault) from None
    # Unbuffered: what a full disk refuses must not be tried again when the file is closed.
    with os.fdopen(handle, "rb" if _is_read_only(handle) else "r+b", buffering=0) as part:
        try:
            fcntl.flock(part, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            text = "Another request is sending this file just now; try again in a moment."
            raise WrongState(text, code="busy") from None
        yield part


def append_to_part(
    part: BinaryIO, stream: ByteStream, *, most_bytes: int, checksum: str = "", on_synced=lambda size: None
) -> int:
    """Write what the stream has, up to so many bytes, at the part's end; return its new size.

    What came before a stream broke off or the disk was full is kept, unless a checksum (SHA-256 in
    base64) was told: then it is all or nothing.
    """
    start = part.seek(0, os.SEEK_END)
    size, synced, digest = start, start, hashlib.sha256()
    try:
        while piece := _next_piece(stream, min(PIECE_BYTES, start + most_bytes - size)):
            _write_all(part, piece)
            digest.update(piece)
            size += len(piece)
            if size - synced >= SYNC_BYTES and not checksum:
                os.fsync(part.fileno())
                on_synced(size)
                synced = size
        is_as_told = checksum in ("", base64.b64encode(digest.digest()).decode())
        if not is_as_told:
            part.truncate(start)
        os.fsync(part.fileno())
    except OSError as fault:
        if checksum:
            part.truncate(start)
        raise _no_room(fault) from None
    if not is_as_told:
        raise InvalidInput("These bytes changed on their way; send them again.", code="checksum")
    return size


def require_room(*, size_bytes: int) -> None:
    """Refuse what would fill the disk, counting what is promised to uploads under way."""
    room = disk_room().uploads_bytes
    if size_bytes > room:
        raise WrongState(
            f"The lab's disk has room for {room // 1_000_000} MB more, and this file has "
            f"{max(size_bytes // 1_000_000, 1)} MB. Ask an admin to make room: {WHERE_TO_MAKE_ROOM}",
            code="no_room",
        )


def digest_of_file(path: Path) -> str:
    """SHA-256 of a file, read in small pieces."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def place_content(*, part: Path, digest: str) -> Path:
    """Put a complete part in its place under its digest, read-only; the part itself stays."""
    place = StoredFile(digest=digest).path
    place.parent.mkdir(parents=True, exist_ok=True)
    part.chmod(0o440)
    try:
        _link(part, place)
    except FileExistsError:
        os.utime(place)  # an orphan that is wanted again is none for the sweep
    folder = os.open(place.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
    return place


def remove_orphans(*, now_s: float | None = None) -> int:
    """Remove contents that no row names, once they are old enough; how many."""
    now_s = time.time() if now_s is None else now_s
    removed = 0
    for path in (settings.MEDIA_ROOT / "scans").glob("??/*"):
        if _is_old(path, now_s) and not StoredFile.objects.filter(digest=path.name).exists():
            path.unlink(missing_ok=True)
            removed += 1
    return removed


def _is_old(path: Path, now_s: float) -> bool:
    try:
        # The link to its place, and whoever wants it again, set the one or the other.
        status = path.stat()
    except FileNotFoundError:
        return False
    return now_s - max(status.st_mtime, status.st_ctime) > ORPHAN_AGE_S


def _link(part: Path, place: Path) -> None:
    """A second name for the same content; a copy where the file system knows no second names."""
    try:
        os.link(part, place)
    except FileExistsError:
        raise
    except OSError:
        if place.exists():
            raise FileExistsError(place) from None
        copy = place.with_name(f"{part.name}.copy")
        shutil.copy(part, copy)
        with copy.open("rb") as file:
            os.fsync(file.fileno())
        copy.replace(place)


def _next_piece(stream: ByteStream, size: int) -> bytes:
    """The next bytes, none at the end; a line that dropped is an end, too."""
    try:
        return stream.read(size) if size else b""
    except OSError:  # Django's UnreadablePostError is one
        return b""


def _write_all(part: BinaryIO, piece: bytes) -> None:
    """An unbuffered file may take less than it is given."""
    rest = memoryview(piece)
    while rest:
        rest = rest[part.write(rest) :]


def _is_read_only(handle: int) -> bool:
    return fcntl.fcntl(handle, fcntl.F_GETFL) & os.O_ACCMODE == os.O_RDONLY


def _no_room(fault: OSError) -> OSError | WrongState:
    """A full disk in words; any other fault of the disk as it is."""
    if fault.errno not in NO_ROOM:
        return fault
    text = "The lab's disk is full. What has come is kept; go on when an admin has made room: "
    return WrongState(text + WHERE_TO_MAKE_ROOM, code="no_room")
