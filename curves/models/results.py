"""What the engine made of the readings. Rows are immutable; a refit on other input is a new row.

``measures`` stands apart from ``detail`` (curve, points, flags, constructions) so that lists can
show fifty stocks without loading fifty curves. Together they are the engine's own dictionary.
"""

from django.conf import settings
from django.db import models

from curves.models.exposures import ExposureRevision
from curves.models.films import FilmStock
from curves.models.processes import ProcessRevision
from curves.models.rolls import Roll


class EngineResult(models.Model):
    """The engine's dictionary, with what is needed to repeat it."""

    engine_version = models.CharField(max_length=20)
    input_digest = models.CharField(max_length=64, help_text="SHA-256 of the canonical inputs.")
    measures = models.JSONField()
    detail = models.JSONField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        abstract = True

    def as_dict(self) -> dict:
        """The engine's result dictionary as it was made."""
        return {**self.detail, "measures": self.measures}


class Analysis(EngineResult):
    """The curve and measures of one roll."""

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="analyses")

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "analyses"
        constraints = [
            models.UniqueConstraint("roll", "engine_version", "input_digest", name="analysis_once_per_input"),
        ]

    def __str__(self) -> str:
        return f"analysis {self.pk} of {self.roll_id}"


class PooledAnalysis(EngineResult):
    """The curve and measures of a stock under one process and one exposure revision."""

    stock = models.ForeignKey(FilmStock, on_delete=models.PROTECT, related_name="pooled_analyses")
    process_revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="+")
    exposure_revision = models.ForeignKey(ExposureRevision, on_delete=models.PROTECT, related_name="+")
    analyses = models.ManyToManyField(Analysis, related_name="pooled_in")
    roll_count = models.PositiveIntegerField(help_text="Rolls that the numbers rest on.")
    left_out_count = models.PositiveIntegerField(
        default=0, help_text="Accepted rolls that could not be pooled, since they have no speed point."
    )

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "pooled analyses"
        constraints = [
            models.UniqueConstraint(
                "stock",
                "process_revision",
                "exposure_revision",
                "engine_version",
                "input_digest",
                name="pooled_analysis_once_per_input",
            ),
        ]

    def __str__(self) -> str:
        return f"pooled analysis {self.pk}"

    @property
    def rolls_in_words(self) -> str:
        """How many rolls it rests on, and of how many where some were left out."""
        given = self.roll_count + self.left_out_count
        return f"{self.roll_count} of {given}" if self.left_out_count else str(self.roll_count)


class StockResult(models.Model):
    """Which pooled analysis stands for a stock now: the one row that moves when rolls are accepted."""

    stock = models.ForeignKey(FilmStock, on_delete=models.PROTECT, related_name="results")
    process_revision = models.ForeignKey(
        ProcessRevision, on_delete=models.PROTECT, related_name="stock_results"
    )
    exposure_revision = models.ForeignKey(
        ExposureRevision, on_delete=models.PROTECT, related_name="stock_results"
    )
    pooled = models.ForeignKey(PooledAnalysis, on_delete=models.PROTECT, related_name="+")
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["stock"]
        constraints = [
            models.UniqueConstraint(
                "stock", "process_revision", "exposure_revision", name="stock_result_one_standing"
            ),
        ]

    def __str__(self) -> str:
        return f"result of {self.stock_id}"


class SpreadEstimate(models.Model):
    """How much rolls of one stock differ under two standards, and where from; one is the yardstick now.

    ``spread`` is what verdicts need and nothing else; ``basis`` holds the components, and ``entries`` every
    value that they were estimated from, so that they can be estimated again.
    """

    process_revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="+")
    exposure_revision = models.ForeignKey(ExposureRevision, on_delete=models.PROTECT, related_name="+")
    engine_version = models.CharField(max_length=20)
    input_digest = models.CharField(max_length=64, help_text="SHA-256 of the analyses it rests on.")
    spread = models.JSONField()
    basis = models.JSONField(default=dict)
    entries = models.JSONField(default=list)
    created_at = models.DateTimeField(auto_now_add=True)
    is_current = models.BooleanField(default=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "process_revision",
                "exposure_revision",
                "engine_version",
                "input_digest",
                name="spread_estimate_once_per_input",
            ),
            models.UniqueConstraint(
                "process_revision",
                "exposure_revision",
                condition=models.Q(is_current=True),
                name="spread_estimate_one_current",
            ),
        ]

    def __str__(self) -> str:
        return f"spread estimate {self.pk}"


class HouseReference(models.Model):
    """The stock that all others are held against, under one process and one exposure revision."""

    stock = models.ForeignKey(FilmStock, on_delete=models.PROTECT, related_name="references")
    process_revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="references")
    exposure_revision = models.ForeignKey(
        ExposureRevision, on_delete=models.PROTECT, related_name="references"
    )
    reason = models.TextField(blank=True)
    appointed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    appointed_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "process_revision",
                "exposure_revision",
                condition=models.Q(ended_at__isnull=True),
                name="house_reference_one_in_force",
            ),
        ]

    def __str__(self) -> str:
        return f"house reference {self.stock_id}"
