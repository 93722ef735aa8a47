"""The check of an uploaded file, decoded in a child with limits; and the sweep of what is left over."""

from datetime import timedelta

from django.conf import settings

from labsite.common.errors import NotFound
from labsite.jobs.registry import JobRun, job_handler
from scans.imaging.decode_child import decode_in_child
from scans.models import StoredFile
from scans.services.checking import store_check
from scans.services.uploads import sweep_uploads
from scans.services.viewing import measure_tiles, renew_missing_tiles


@job_handler("check_file", time_limit_s=60)
def check_file(run: JobRun) -> dict:
    """Find out what a file holds, and whether it can be measured."""
    file = StoredFile.objects.filter(pk=run.subject["file_id"]).first()
    if file is None or not file.path.is_file():
        raise NotFound("The file is gone.")
    run.progress(10, "Reading the picture")
    folder = settings.MEDIA_ROOT / "uploads"
    folder.mkdir(parents=True, exist_ok=True)
    outcome = decode_in_child(file.path, folder=folder)
    run.progress(90, "Storing what it holds")
    with run.storing():
        stored = store_check(file_id=file.pk, outcome=outcome, requested_by_id=run.requested_by_id)
    return {"state": stored.state, "refusal": stored.refusal_code}


@job_handler("sweep_uploads", time_limit_s=300, every=timedelta(days=1), label="Remove abandoned uploads")
def sweep(run: JobRun) -> dict:
    """Remove what uploads left over, have tiles cut that are missing, and note what others take."""
    return sweep_uploads() | {"tiles": renew_missing_tiles(), "measured": measure_tiles()}
