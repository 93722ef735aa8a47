"""Comparisons that are kept: by name for their owner, frozen for good, and what counts as the same."""

from django.conf import settings
from django.db import models

from curves.models.exposures import ExposureRevision
from curves.models.processes import ProcessRevision
from curves.models.results import PooledAnalysis


class SavedComparison(models.Model):
    """An address of the Compare page under a name; what it shows follows the newest results."""

    name = models.CharField(max_length=80)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="saved_comparisons"
    )
    query = models.CharField(max_length=2000, blank=True, help_text="The canonical address without its path.")
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [models.UniqueConstraint("owner", "name", name="saved_comparison_name_once_an_owner")]

    def __str__(self) -> str:
        return self.name


class FrozenComparison(models.Model):
    """A comparison as it was on a day. Never changed: its link is for citing.

    ``document`` and ``table`` are kept as they were made, so that neither newer results nor a newer engine
    can change them; ``results`` pins the stored results that they were made from.
    """

    code = models.CharField(max_length=12, unique=True, help_text="The short name in its address.")
    title = models.CharField(max_length=120)
    query = models.CharField(max_length=2000, blank=True)
    process_revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="+")
    exposure_revision = models.ForeignKey(ExposureRevision, on_delete=models.PROTECT, related_name="+")
    results = models.ManyToManyField(PooledAnalysis, related_name="frozen_in")
    document = models.JSONField()
    table = models.TextField(help_text="The CSV file.")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the CSV file.")
    engine_version = models.CharField(max_length=20)
    frozen_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    frozen_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-frozen_at", "-id"]

    def __str__(self) -> str:
        return self.title


class EquivalenceMargins(models.Model):
    """How far two stocks may differ and still count as the same; the newest row is in force."""

    speed_stops = models.FloatField()
    contrast_share = models.FloatField(help_text="0.10: contrasts from 0.90 to 1.10 times pass.")
    shape_density = models.FloatField()
    reason = models.TextField(blank=True)
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "equivalence margins"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(speed_stops__gt=0, shape_density__gt=0)
                & models.Q(contrast_share__gt=0, contrast_share__lt=1),
                name="equivalence_margins_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"margins {self.pk}"
