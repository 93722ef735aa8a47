"""What takes the lab's disk: what uploads may still take, and files by what becomes of them."""

import shutil
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from django.conf import settings
from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    Exists,
    F,
    Max,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils import timezone

from curves.models import SheetVersion
from labsite.common.access import require_admin
from scans.models import (
    CalibrationState,
    Measurement,
    Scan,
    ScannerCalibration,
    ScannerTrial,
    StoredFile,
    TilePyramid,
    Upload,
)
from scans.queries.taking_pictures import taken_measurements

#: Left free for the database, tiles and everybody else.
RESERVE_BYTES = 512 * 1024 * 1024
#: The lab's choice: within a month whoever discarded the wrong scan notices, and until then an admin can
#: still give its file back, by the SHA-256 that the history holds.
KEPT_AFTER_DISCARD = timedelta(days=30)


class Fate(StrEnum):
    """What becomes of a file's content."""

    REMOVED = "removed"
    IN_USE = "in_use"
    RESTED_ON = "rested_on"
    CAN_GO = "can_go"
    LATER = "later"


@dataclass(frozen=True)
class DiskRoom:
    """The disk that uploads go to, and what is promised to those under way."""

    free_bytes: int
    promised_bytes: int
    reserve_bytes: int = RESERVE_BYTES

    @property
    def uploads_bytes(self) -> int:
        """What new uploads may take."""
        return max(self.free_bytes - self.promised_bytes - self.reserve_bytes, 0)


@dataclass(frozen=True)
class Held:
    """Files of one fate, with the pictures cut from them; when the first and the last of them can go."""

    files: int = 0
    bytes: int = 0
    tile_bytes: int = 0
    first_from: datetime | None = None
    last_from: datetime | None = None

    @property
    def all_bytes(self) -> int:
        """Files and pictures together."""
        return self.bytes + self.tile_bytes


@dataclass(frozen=True)
class DiskUse:
    """What lies on the disk and what can go from it."""

    room: DiskRoom
    in_use: Held
    can_go: Held
    later: Held
    rested_on: Held
    removed: Held
    uploads: int
    uploads_bytes: int
    unmeasured_pictures: int
    total_bytes: int = field(init=False)

    def __post_init__(self):
        held = (self.in_use, self.can_go, self.later, self.rested_on)
        total = sum(each.all_bytes for each in held) + self.uploads_bytes
        object.__setattr__(self, "total_bytes", total)


def disk_room() -> DiskRoom:
    """Return what is free, and what uploads under way were promised and have not sent yet."""
    folder = settings.MEDIA_ROOT
    folder.mkdir(parents=True, exist_ok=True)
    open_uploads = Upload.objects.filter(completed_at=None)
    promised = open_uploads.aggregate(bytes=Sum(F("size_bytes") - F("received_bytes")))["bytes"]
    return DiskRoom(shutil.disk_usage(folder).free, promised or 0)


def disk_use(user, *, now: datetime | None = None) -> DiskUse:
    """Return what takes the disk, for admins; from the database alone, so that no folder is walked."""
    require_admin(user)
    held = {fate.value: Held() for fate in Fate}
    found = _with_fate(now or timezone.now()).order_by().values("fate")
    for row in found.annotate(
        files=Count("pk"),
        bytes=Sum("size_bytes"),
        tile_bytes=Sum("cut_bytes"),
        first=Min("discarded_at"),
        last=Max("discarded_at"),
    ):
        from_when = [row[name] and row[name] + KEPT_AFTER_DISCARD for name in ("first", "last")]
        held[row["fate"]] = Held(row["files"], row["bytes"], row["tile_bytes"], *from_when)
    uploads = Upload.objects.filter(completed_at=None).aggregate(
        count=Count("pk"), bytes=Coalesce(Sum("received_bytes"), 0)
    )
    return DiskUse(
        room=disk_room(),
        uploads=uploads["count"],
        uploads_bytes=uploads["bytes"],
        unmeasured_pictures=TilePyramid.objects.filter(size_bytes=None).count(),
        **held,
    )


def removable_files(now: datetime) -> QuerySet[StoredFile]:
    """Return the files whose content can go: all their scans discarded long ago, and nothing rests on them.

    Each has ``cut_bytes``, what the pictures cut from it take.
    """
    return _with_fate(now).filter(fate=Fate.CAN_GO)


def _with_fate(now: datetime) -> QuerySet[StoredFile]:
    """Every file with its fate, when the last of its scans was discarded, and the bytes of its pictures."""
    scans = Scan.objects.filter(file=OuterRef("pk")).order_by()
    pictures = TilePyramid.objects.filter(file=OuterRef("pk")).order_by().values("file")
    cut = Subquery(pictures.annotate(sum=Sum("size_bytes")).values("sum"), output_field=BigIntegerField())
    last = Subquery(scans.order_by("-discarded_at").values("discarded_at")[:1])
    is_in_use = Exists(scans.filter(is_discarded=False)) | ~Exists(scans)
    files = StoredFile.objects.annotate(discarded_at=last, cut_bytes=Coalesce(cut, 0))
    return files.annotate(
        fate=Case(
            When(content_removed_at__isnull=False, then=Value(Fate.REMOVED)),
            When(is_in_use, then=Value(Fate.IN_USE)),
            When(Exists(scans.filter(_something_rests_on_it())), then=Value(Fate.RESTED_ON)),
            When(discarded_at__lte=now - KEPT_AFTER_DISCARD, then=Value(Fate.CAN_GO)),
            default=Value(Fate.LATER),
        )
    )


def _something_rests_on_it() -> Q:
    """A condition on scans: as ``use_of`` has it, or a roll's grain or sharpness, or a published sheet."""
    measured = Measurement.objects.filter(scan=OuterRef("pk"))
    calibrated = ScannerCalibration.objects.filter(scan=OuterRef("pk"))
    tried = ScannerTrial.scans.through.objects.filter(scan=OuterRef("pk"), scannertrial__is_in_force=True)
    return (
        Exists(measured.filter(transfers__isnull=False))
        | Exists(measured.filter(pk__in=taken_measurements()))
        | Exists(calibrated.exclude(state=CalibrationState.VOID))
        | Exists(tried)
        | Q(pk__in=_scans_on_sheets())
    )


def _scans_on_sheets() -> set[int]:
    """The scans that published sheets name: the one that their small picture shows, and their frames."""
    named = SheetVersion.objects.values_list("content__frames", "content__crop__scan")
    ids: set[int] = set()
    for frames, code in named.order_by():
        ids.update(frames or ())
        if code:
            ids.add(int(code.removeprefix("S-")))
    return ids
