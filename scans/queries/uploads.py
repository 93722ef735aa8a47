"""Uploads as their member sees them: what is under way, and what became of one."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import QuerySet

from labsite.common.access import is_member
from labsite.jobs.models import Job
from scans.models import FileState, Scan, StoredFile, Upload
from scans.queries.scan_list import file_words, same_content

#: An upload that nothing came for in so long is given up.
EXPIRES_AFTER = timedelta(days=7)


@dataclass(frozen=True)
class UploadReport:
    """How far an upload is, and what was found in it.

    ``stage`` is "sending", "checking", or the state of the checked file.
    """

    upload: Upload
    stage: str
    words: str
    is_repeat: bool
    others: tuple[Scan, ...]

    @property
    def expires_at(self) -> datetime:
        """When it is given up unless more comes."""
        return self.upload.updated_at + EXPIRES_AFTER


def open_uploads(user) -> QuerySet[Upload]:
    """Return a member's own uploads that are not complete."""
    if not is_member(user):
        return Upload.objects.none()
    return Upload.objects.filter(member=user, completed_at=None).select_related("roll")


def upload_report(upload: Upload) -> UploadReport:
    """Return how far an upload is; once complete, what the check says and whose scan it already was."""
    if upload.completed_at is None or upload.scan is None:
        return UploadReport(upload, "sending", "", False, ())
    scan, file = upload.scan, upload.file
    return UploadReport(
        upload=upload,
        stage="checking" if file.state == FileState.UNCHECKED else file.state,
        words=_words(file),
        is_repeat=scan.created_at < upload.created_at,
        others=tuple(same_content(scan)),
    )


def _words(file: StoredFile) -> str:
    if file.state != FileState.UNCHECKED:
        return file_words(file)
    job = Job.objects.filter(dedupe_key=f"check_file:{file.pk}").order_by("-created_at").first()
    failed = job is not None and job.state in (Job.State.FAILED, Job.State.CANCELLED)
    return f"The check ended without an answer: {job.error_text or 'it was cancelled.'}" if failed else ""
