"""Addresses: uploading scans, saying what they show, and the list of them."""

from django.urls import path

from scans.pages.files import describing, lists, uploading

urlpatterns = [
    path("", lists.scan_list, name="scan_list"),
    path("upload/", uploading.upload, name="scan_upload"),
    path("uploads/<uuid:upload_id>/cancel/", uploading.cancel, name="scan_upload_cancel"),
    path("describe/", describing.describe_several, name="scans_describe"),
    path("<int:scan_id>/describe/", describing.describe, name="scan_describe"),
    path("<int:scan_id>/discard/", describing.discard, name="scan_discard"),
    path("<int:scan_id>/file", describing.original, name="scan_file"),
]
