"""What films cost: a price as somebody paid it or saw it asked, on a day; never changed, only struck out."""

from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models

from curves.models.films import FilmStock
from curves.sensitometry.frame_cost import cost_per_frame, rolls_from_bulk

LEAST_PRICE = MinValueValidator(Decimal("0.01"), "Give a price above nothing.")


class PriceKind(models.TextChoices):
    """In which form the film was bought."""

    PACK = "pack", "rolls"
    BULK = "bulk", "bulk roll"
    SHEETS = "sheets", "sheets"


class PriceEntry(models.Model):
    """One price of a stock in one form."""

    stock = models.ForeignKey(FilmStock, on_delete=models.PROTECT, related_name="prices")
    kind = models.CharField(max_length=8, choices=PriceKind.choices)
    film_format = models.CharField(max_length=40, help_text="Such as 35 mm, 120 or 9 × 12 cm.")
    price = models.DecimalField(max_digits=10, decimal_places=2, validators=[LEAST_PRICE])
    currency = models.CharField(
        max_length=3,
        validators=[RegexValidator(r"\A[A-Z]{3}\Z", "Give the currency's three letters, such as EUR.")],
    )
    priced_on = models.DateField()
    source = models.CharField(max_length=120, help_text="Such as mail order, or the club's own order.")
    count = models.PositiveIntegerField(default=1, help_text="Rolls in the pack, or sheets in the box.")
    frames_per_roll = models.PositiveIntegerField(null=True, blank=True)
    length_m = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    frames_per_metre = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    loss_m = models.DecimalField(
        max_digits=5, decimal_places=2, null=True, blank=True, help_text="Leader and trailer of each roll."
    )
    cassette_price = models.DecimalField(
        max_digits=8, decimal_places=2, null=True, blank=True, validators=[LEAST_PRICE]
    )
    cassette_uses = models.PositiveIntegerField(default=1, help_text="Rolls that one cassette serves for.")
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(auto_now_add=True)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    strike_reason = models.TextField(blank=True)

    class Meta:
        ordering = ["-priced_on", "-id"]
        verbose_name_plural = "price entries"
        constraints = [
            models.CheckConstraint(condition=models.Q(price__gt=0), name="price_entry_price_positive"),
            models.CheckConstraint(condition=models.Q(count__gt=0), name="price_entry_count_positive"),
            models.CheckConstraint(
                condition=models.Q(kind=PriceKind.SHEETS) | models.Q(frames_per_roll__gt=0),
                name="price_entry_rolls_have_frames",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind=PriceKind.BULK)
                | models.Q(length_m__gt=0, frames_per_metre__gt=0, loss_m__gte=0, cassette_uses__gt=0),
                name="price_entry_bulk_has_length",
            ),
            models.CheckConstraint(
                condition=models.Q(struck_at__isnull=True) | ~models.Q(strike_reason=""),
                name="price_entry_strike_reason_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.price} {self.currency} for {self.content_words}"

    @property
    def roll_count(self) -> int:
        """Rolls that come of it; 0 for sheets."""
        if self.kind == PriceKind.SHEETS:
            return 0
        if self.kind == PriceKind.PACK:
            return self.count
        return rolls_from_bulk(self.length_m, self.frames_per_roll, self.frames_per_metre, self.loss_m)

    @property
    def frames(self) -> int:
        """Frames that come of it."""
        return self.count if self.kind == PriceKind.SHEETS else self.roll_count * self.frames_per_roll

    @property
    def cost_per_frame(self) -> Decimal:
        """What one frame costs, its share of the cassette included."""
        return cost_per_frame(
            self.price,
            self.frames,
            frames_per_roll=self.frames_per_roll or 0,
            cassette_price=self.cassette_price,
            cassette_uses=self.cassette_uses,
        )

    @property
    def content_words(self) -> str:
        """What was paid for."""
        if self.kind == PriceKind.SHEETS:
            return f"{self.count} sheet{'' if self.count == 1 else 's'}, {self.film_format}"
        if self.kind == PriceKind.PACK:
            rolls = "1 roll" if self.count == 1 else f"{self.count} rolls"
            return f"{rolls} of {self.frames_per_roll} frames, {self.film_format}"
        return (
            f"{self.length_m.normalize():f} m bulk, {self.film_format}: "
            f"{self.roll_count} rolls of {self.frames_per_roll} frames"
        )

    @property
    def is_struck(self) -> bool:
        """Whether somebody found it wrong."""
        return self.struck_at is not None
