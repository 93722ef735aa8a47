"""Who gets what of scans as files: uploads, the list, what scans show, and the original."""

from scans.services.uploads import start_upload
from tests.factories.uploads import upload_file

PAGES = """
GET   scan_list                  -              200 200 200 302 302 302
GET   scan_upload                -              200 200 200 302 302 302
POST  scan_upload                -              400 400 400 403 403 403
GET   scan_upload_cancel         upload         302 302 302 302 302 302
POST  scan_upload_cancel         upload         302 404 404 403 403 403
GET   scans_describe             -              404 404 404 302 302 302
POST  scans_describe             -              404 404 404 403 403 403
GET   scan_describe              own-scan       200 403 200 302 302 302
POST  scan_describe              own-scan       400 403 400 403 403 403
GET   scan_discard               own-scan       200 403 200 302 302 302
POST  scan_discard               own-scan       302 403 302 403 403 403
GET   scan_file                  own-scan       200 200 200 302 302 302
GET   disk                       -              403 403 200 302 302 302
GET   disk_make_room             -              403 403 200 302 302 302
POST  disk_make_room             -              403 403 302 403 403 403
"""
# A PATCH of JSON is refused for its kind before anything is looked up: tests/scans has the right kind.
OPERATIONS = """
POST   api_uploads               -                  400 400 400 401 401 401
GET    api_upload                upload             200 404 404 401 401 401
PATCH  api_upload                upload             415 415 415 401 401 401
DELETE api_upload                upload             204 404 404 401 401 401
GET    api_scans                 -                  200 200 200 401 401 401
GET    api_scan                  own-scan           200 200 200 401 401 401
PATCH  api_scan                  own-scan           200 403 200 401 401 401
POST   api_scan_discard          own-scan           204 403 204 401 401 401
GET    api_disk                  -                  403 403 200 401 401 401
POST   api_disk_make_room        -                  403 403 200 401 401 401
"""
BODIES = {"api_scan": {"shows": "edge"}}


def things(lab):
    """An upload under way and a scan, both the owner's."""
    owner = lab.people["owner"]
    scan = upload_file(owner, b"of no picture", "edge.tif")
    upload = start_upload(actor=owner, filename="strip.tif", size_bytes=1000)
    return {}, {"own-scan": {"scan_id": scan.pk}, "upload": {"upload_id": upload.pk}}
