"""The lab itself: one row of settings that admins change on a page."""

from django.core.exceptions import ValidationError
from django.db import models

READING_SD_MAX = 0.5


def check_reading_sd(value: float) -> None:
    """Refuse a spread that no densitometer has; not a number is refused too."""
    if not 0 < value <= READING_SD_MAX:
        raise ValidationError(f"Give a density above 0, at most {READING_SD_MAX}.")


class Lab(models.Model):
    """Name and habits of this lab. There is one row; ``queries.current_lab`` finds it."""

    ONLY_ID = 1

    id = models.PositiveSmallIntegerField(primary_key=True, default=ONLY_ID, editable=False)
    name = models.CharField(max_length=80, default="Our lab")
    contact = models.CharField(max_length=200, blank=True)
    is_open_to_visitors = models.BooleanField(
        "open to visitors",
        default=False,
        help_text="People without an account may read accepted results, comparisons and stock sheets.",
    )
    is_demo = models.BooleanField("demo lab", default=False, editable=False)
    reading_sd = models.FloatField(
        "spread of one reading, density",
        default=0.01,
        validators=[check_reading_sd],
        help_text="Standard deviation of one density reading where a roll has no replicates.",
    )

    class Meta:
        verbose_name = "lab"
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="lab_is_one_row"),
            models.CheckConstraint(
                condition=models.Q(reading_sd__gt=0, reading_sd__lte=READING_SD_MAX),
                name="lab_reading_sd_sensible",
            ),
        ]

    def __str__(self) -> str:
        return self.name
