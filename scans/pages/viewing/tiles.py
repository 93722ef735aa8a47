"""Tiles and thumbnails; they never change under their address, so a browser keeps them."""

from pathlib import Path

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from scans.queries.tiles import thumbnail_path, tile_path
from scans.services.viewing import renewing_tiles

TYPES = {".png": "image/png", ".jpg": "image/jpeg"}
FOR_EVER = "private, max-age=31536000, immutable"
ASK_AGAIN = "private, no-cache"


@require_safe
@readers_only
def tile(request, pyramid_id, level, column, row, kind):
    """Send one tile."""
    path = tile_path(request.user, pyramid_id=pyramid_id, level=level, column=column, row=row, kind=kind)
    return _picture(request, path, FOR_EVER)


@require_safe
@readers_only
def thumbnail(request, scan_id):
    """Send the small picture of a scan; it changes once the scan is calibrated."""
    with renewing_tiles(scan_id=scan_id):
        path = thumbnail_path(request.user, scan_id)
    return _picture(request, path, ASK_AGAIN)


def _picture(request: HttpRequest, path: Path, keep: str) -> HttpResponse:
    stat = path.stat()
    tag = f'"{path.parent.parent.name}-{stat.st_mtime_ns:x}-{stat.st_size:x}"'
    if tag in request.headers.get("If-None-Match", ""):
        response = HttpResponseNotModified()
    else:
        response = HttpResponse(path.read_bytes(), content_type=TYPES[path.suffix])
    response["Cache-Control"], response["ETag"] = keep, tag
    return response
