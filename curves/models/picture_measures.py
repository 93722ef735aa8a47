"""Grain and sharpness of a roll as read off its pictures: taken into the roll once, never changed."""

from django.conf import settings
from django.db import models

from curves.models.rolls import Roll
from curves.sensitometry import MEASURES


class PictureMeasureName(models.TextChoices):
    """What can be read off pictures; the values are keys of the registry of measures."""

    GRAIN = "rms_granularity", "RMS granularity"
    SHARPNESS = "film_mtf50", "half modulation (MTF50)"


class PictureMeasure(models.Model):
    """One number of one roll, by one rig; another one ends it and says why."""

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="picture_measures")
    name = models.CharField(max_length=20, choices=PictureMeasureName.choices)
    value = models.FloatField()
    low = models.FloatField(null=True, blank=True)
    high = models.FloatField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    rig = models.CharField(max_length=300, help_text="Scanner and settings in words.")
    rig_digest = models.CharField(max_length=64, help_text="What tells one rig from another.")
    source_key = models.CharField(max_length=80, help_text="What it was read from, for the lab itself.")
    source_name = models.CharField(max_length=80, help_text="What it was read from, for people.")
    source_url = models.CharField(max_length=200, blank=True)
    engine_version = models.CharField(max_length=20)
    taken_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(auto_now_add=True)
    is_current = models.BooleanField(default=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["roll", "name", "id"]
        indexes = [models.Index(fields=["is_current", "name", "rig_digest"], name="picture_measure_standing")]
        constraints = [
            models.UniqueConstraint(
                "roll",
                "name",
                "rig_digest",
                condition=models.Q(is_current=True),
                name="picture_measure_one_current",
            ),
            models.CheckConstraint(condition=models.Q(value__gt=0), name="picture_measure_above_zero"),
            models.CheckConstraint(
                condition=(models.Q(low__isnull=True) | models.Q(low__lte=models.F("value")))
                & (models.Q(high__isnull=True) | models.Q(high__gte=models.F("value"))),
                name="picture_measure_within_interval",
            ),
            models.CheckConstraint(
                condition=models.Q(is_current=True) | ~models.Q(ended_reason=""),
                name="picture_measure_ended_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_name_display()} of {self.roll_id} from {self.source_name}"

    @property
    def unit(self) -> str:
        """Unit of the three numbers, as the registry of measures has it."""
        return MEASURES[self.name].unit
