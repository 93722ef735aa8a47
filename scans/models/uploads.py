"""A file on its way: how much of it has come, so that it goes on there after the line dropped."""

import uuid
from pathlib import Path

from django.conf import settings
from django.db import models

from curves.models import Roll
from scans.models.files import StoredFile


class Upload(models.Model):
    """One upload in progress; it becomes a scan when its last byte has come."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    member = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    filename = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    received_bytes = models.PositiveBigIntegerField(default=0)
    roll = models.ForeignKey(Roll, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    shows = models.CharField(max_length=8, blank=True)
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    scan = models.ForeignKey("scans.Scan", on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)
    completed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(received_bytes__lte=models.F("size_bytes")),
                name="upload_not_more_than_told",
            ),
        ]

    def __str__(self) -> str:
        return self.filename

    @property
    def part_path(self) -> Path:
        """Where the bytes that have come lie until all are there."""
        return settings.MEDIA_ROOT / "uploads" / f"{self.pk}.part"
