"""Making room on the disk: the contents of scans that were discarded long ago go, and their rows stay."""

import shutil
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from django.db import transaction
from django.utils import timezone

from labsite.accounts.queries import current_lab
from labsite.accounts.services import record_audit
from labsite.common.access import require_admin
from scans.imaging.whole_folder import moved_aside
from scans.models import StoredFile, TilePyramid
from scans.queries.disk import removable_files

#: So many files go in one transaction, which on SQLite keeps other writers waiting: about a second.
MOST_AT_ONCE = 200


@dataclass(frozen=True)
class Freed:
    """What was removed, and how many files can still go."""

    files: int = 0
    bytes: int = 0
    tile_bytes: int = 0
    files_left: int = 0

    @property
    def all_bytes(self) -> int:
        """Files and pictures together."""
        return self.bytes + self.tile_bytes


@transaction.atomic
def remove_discarded_contents(*, actor, now: datetime | None = None) -> Freed:
    """Remove the contents that can go, with the pictures cut from them; rows and history stay.

    A content is gone from the disk before that is committed: who is killed in between leaves rows that the
    next run finds again and marks. An upload of the same content locks the file's row, too; so either its
    scan is seen here, or it finds the content removed and puts its own in place.
    """
    require_admin(actor)
    now = now or timezone.now()
    can_go = removable_files(now).order_by("pk").values_list("pk", flat=True)
    wanted = list(can_go[:MOST_AT_ONCE])
    list(StoredFile.objects.select_for_update().filter(pk__in=wanted).order_by("pk"))
    # Asked anew under the lock: what was uploaded again meanwhile stays.
    files = list(removable_files(now).filter(pk__in=wanted))
    if not files:
        return Freed()
    for file in files:
        file.path.unlink(missing_ok=True)
    _remove_tiles(files)
    StoredFile.objects.filter(pk__in=[file.pk for file in files]).update(content_removed_at=now)
    freed = Freed(
        files=len(files),
        bytes=sum(file.size_bytes for file in files),
        tile_bytes=sum(file.cut_bytes for file in files),
        files_left=can_go.count(),
    )
    record_audit(
        actor=actor,
        action="remove discarded files",
        subject=current_lab(),
        after={"files": freed.files, "bytes": freed.bytes, "bytes_of_pictures": freed.tile_bytes},
    )
    return freed


def _remove_tiles(files: list[StoredFile]) -> None:
    """Rows now and folders after the commit, as those hold many small files; strays are swept later."""
    pyramids = TilePyramid.objects.filter(file__in=files)
    for pyramid in pyramids:
        aside = moved_aside(pyramid.folder)
        if aside is not None:
            transaction.on_commit(partial(shutil.rmtree, aside, ignore_errors=True))
    pyramids.delete()
