"""Film stocks and the batches they came in."""

from django.conf import settings
from django.db import models


class Sensitisation(models.TextChoices):
    """Which light the emulsion answers to, by the trade's classes."""

    PANCHROMATIC = "panchromatic", "panchromatic"
    ORTHOPANCHROMATIC = "orthopanchromatic", "orthopanchromatic"
    EXTENDED_RED = "extended_red", "extended red"
    ORTHOCHROMATIC = "orthochromatic", "orthochromatic"
    BLUE = "blue", "blue-sensitive"


class FilmStock(models.Model):
    """One film as it is sold: a name, a maker and the speed on the box."""

    name = models.CharField(max_length=80)
    maker = models.CharField(max_length=80)
    box_speed = models.PositiveIntegerField(help_text="Arithmetic speed printed on the box, such as 100.")
    formats = models.JSONField(default=list, blank=True, help_text='Such as ["35 mm", "120", "sheet"].')
    sensitisation = models.CharField(
        max_length=20, choices=Sensitisation.choices, default=Sensitisation.PANCHROMATIC
    )
    base_material = models.CharField(max_length=80, blank=True, help_text="Such as grey triacetate.")
    is_in_production = models.BooleanField(default=True)
    notes = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name", "maker"]
        constraints = [
            models.UniqueConstraint("name", "maker", name="film_stock_name_maker_unique"),
            models.CheckConstraint(condition=models.Q(box_speed__gt=0), name="film_stock_box_speed_positive"),
        ]

    def __str__(self) -> str:
        return self.name


class Batch(models.Model):
    """One emulsion batch of a stock, with what could make it differ from another."""

    stock = models.ForeignKey(FilmStock, on_delete=models.PROTECT, related_name="batches")
    emulsion_number = models.CharField(max_length=60)
    expires_on = models.DateField(null=True, blank=True)
    storage = models.CharField(max_length=120, blank=True, help_text="Such as refrigerator, 5 °C.")
    notes = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["stock", "emulsion_number"]
        verbose_name_plural = "batches"
        constraints = [
            models.UniqueConstraint("stock", "emulsion_number", name="batch_emulsion_number_unique"),
        ]

    def __str__(self) -> str:
        return f"batch {self.emulsion_number}"
