"""Published stock sheets: versions that are frozen, each with what it shows and what it changed."""

from django.conf import settings
from django.db import models

from curves.models.exposures import ExposureRevision
from curves.models.films import FilmStock
from curves.models.processes import ProcessRevision
from curves.models.results import PooledAnalysis


class SheetPicture(models.Model):
    """A small picture on published sheets; kept by its content, as the scan may be cut anew one day."""

    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the PNG.")
    png = models.BinaryField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.digest[:12]


class SheetVersion(models.Model):
    """A stock's sheet under one pair of standards as it was published. Never changed: it is cited.

    ``content`` holds every number and word of the sheet but the names of members, who may change their
    mind about being named; page, figure and files are all made from it.
    """

    stock = models.ForeignKey(FilmStock, on_delete=models.PROTECT, related_name="sheet_versions")
    process_revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="+")
    exposure_revision = models.ForeignKey(ExposureRevision, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField(help_text="Counts from 1 under these standards.")
    pooled = models.ForeignKey(PooledAnalysis, on_delete=models.PROTECT, related_name="sheet_versions")
    picture = models.ForeignKey(
        SheetPicture, on_delete=models.PROTECT, null=True, blank=True, related_name="versions"
    )
    content = models.JSONField()
    changes = models.JSONField(default=list, help_text="What differs from the version before, in sentences.")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the content as canonical JSON.")
    reason = models.TextField(blank=True, help_text="Why it was published by hand; empty: by itself.")
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    published_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "stock",
                "process_revision",
                "exposure_revision",
                "number",
                name="sheet_version_number_unique",
            ),
        ]

    def __str__(self) -> str:
        return f"sheet of {self.content['stock']['name']}, version {self.number}"

    @property
    def pair_key(self) -> str:
        """The pair of standards in addresses."""
        return f"{self.process_revision_id}-{self.exposure_revision_id}"
