"""Files of readings that were read without fault and wait for their member to look at and store them."""

from django.conf import settings
from django.db import models

from curves.models.instruments import Instrument
from curves.models.rolls import Roll, Strip


class StagedFile(models.Model):
    """Parsed rows of one file; only ``commit`` turns them into readings."""

    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    filename = models.CharField(max_length=200)
    file_digest = models.CharField(max_length=64)
    rows = models.JSONField()
    notes = models.JSONField(default=list)
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)
    committed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.filename


class StagedImport(StagedFile):
    """A file of one strip's readings."""

    strip = models.ForeignKey(Strip, on_delete=models.CASCADE, related_name="staged_imports")


class StagedPatchFile(StagedFile):
    """A file of the densities of a target's patches on the frames of a roll."""

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="staged_patch_files")
