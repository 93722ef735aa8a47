"""Scans as members bring them: a real file, uploaded through the service and checked by its job."""

import io

from labsite.jobs.runner import run_waiting_jobs
from scans.models import Scan
from scans.services.uploads import receive_bytes, start_upload
from tests.imaging.picture_files import texture, write_tiff


def upload_file(member, content: bytes, filename="strip.tif", **told) -> Scan:
    """A file uploaded by a member, not checked yet."""
    upload = start_upload(actor=member, filename=filename, size_bytes=len(content), **told)
    stream = io.BytesIO(content)
    return receive_bytes(actor=member, upload_id=upload.pk, offset=0, stream=stream).scan


def make_scan(member, folder, filename="strip.tif", *, seed=1, is_checked=True, **told) -> Scan:
    """A small 16-bit scan of nothing in particular, uploaded and checked; ``folder`` takes its source."""
    content = write_tiff(folder / f"source-{seed}.tif", texture(seed=seed)).read_bytes()
    scan = upload_file(member, content, filename, **told)
    if is_checked:
        run_waiting_jobs()
        scan.refresh_from_db()
    return scan
