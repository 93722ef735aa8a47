"""What the check of a file's content found: asked for once, kept once, and measured scans follow from it."""

from django.db import transaction
from django.utils import timezone

from labsite.accounts.models import User
from labsite.jobs.models import Job
from labsite.jobs.services import submit_job
from scans.imaging.decode import Outcome
from scans.models import FileState, StoredFile
from scans.services.measuring import request_measuring
from scans.services.viewing import request_tiles

#: What the machine could not do once it may do the next time.
NOT_THE_FILES_FAULT = ("OUT_OF_MEMORY", "OUT_OF_TIME", "NOT_FOUND")


@transaction.atomic
def request_check(*, file: StoredFile, requested_by: User | None) -> Job | None:
    """Submit the check of a file; None where its outcome stands."""
    if file.state != FileState.UNCHECKED and file.refusal_code not in NOT_THE_FILES_FAULT:
        return None
    scan = file.scans.order_by("-id").first()
    return submit_job(
        kind="check_file",
        subject={"file_id": file.pk},
        label=f"Check {scan.filename if scan else file}",
        requested_by=requested_by,
        dedupe_key=f"check_file:{file.pk}",
        link=f"/scans/{scan.pk}/describe/" if scan else "",
    )


@transaction.atomic
def store_check(*, file_id: int, outcome: Outcome, requested_by_id: int | None = None) -> StoredFile:
    """Keep what the check found, once, and have scans measured that waited for it."""
    file = StoredFile.objects.select_for_update().get(pk=file_id)
    if file.state != FileState.UNCHECKED and file.refusal_code not in NOT_THE_FILES_FAULT:
        return file
    picture = outcome.picture
    refusal = outcome.refusal if picture is None else picture.refusal
    file.refusal_code = refusal.code if refusal else ""
    file.refusal_text = refusal.text if refusal else ""
    file.state = FileState.REFUSED if picture is None else FileState.VIEW_ONLY
    if picture is not None:
        file.state = FileState.MEASURABLE if refusal is None else FileState.VIEW_ONLY
        file.format, file.bit_depth, file.channels = picture.format, picture.bit_depth, picture.channels
        file.width_px, file.height_px = picture.width, picture.height
        file.resolution_x_ppi, file.resolution_y_ppi = picture.resolution_ppi or (None, None)
        file.metadata = picture.metadata
        file.flags = [flag.to_dict() for flag in picture.flags]
    file.checked_at = timezone.now()
    file.save()
    requested_by = User.objects.filter(pk=requested_by_id).first()
    for scan in file.scans.filter(is_discarded=False).select_related("file"):
        request_measuring(scan=scan, requested_by=requested_by)
    if file.can_be_seen:
        request_tiles(file=file, requested_by=requested_by)
    return file
