"""What members say a stock is good for, by its result under two standards; a new text is a new row."""

from django.conf import settings
from django.db import models

from curves.models.exposures import ExposureRevision
from curves.models.films import FilmStock
from curves.models.processes import ProcessRevision
from curves.models.results import PooledAnalysis


class Purpose(models.TextChoices):
    """What a stock can be recommended for."""

    PORTRAIT = "portrait", "portraits"
    LANDSCAPE = "landscape", "landscapes"
    ARCHITECTURE = "architecture", "architecture"
    STREET = "street", "streets and people"
    ACTION = "action", "movement"
    LOW_LIGHT = "low_light", "low light"
    STUDIO = "studio", "studio light"
    STILL_LIFE = "still_life", "still lifes"
    COPY = "copy", "copying"
    BIG_PRINTS = "big_prints", "big prints"
    CONTACT_PRINTS = "contact_prints", "contact prints"
    LEARNING = "learning", "learning"


class VerdictState(models.TextChoices):
    """waiting → approved or declined; a text written anew replaces one; its author may withdraw one."""

    WAITING = "waiting", "waiting for an admin"
    APPROVED = "approved", "approved"
    DECLINED = "declined", "declined"
    REPLACED = "replaced", "replaced by a later text"
    WITHDRAWN = "withdrawn", "withdrawn by its author"


class Verdict(models.Model):
    """One text of one member on one stock; only its state ever changes."""

    stock = models.ForeignKey(FilmStock, on_delete=models.PROTECT, related_name="verdicts")
    process_revision = models.ForeignKey(ProcessRevision, on_delete=models.PROTECT, related_name="+")
    exposure_revision = models.ForeignKey(ExposureRevision, on_delete=models.PROTECT, related_name="+")
    result = models.ForeignKey(
        PooledAnalysis,
        on_delete=models.PROTECT,
        related_name="verdicts",
        help_text="The numbers that its author had before them.",
    )
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="verdicts")
    purposes = models.JSONField(default=list, help_text="What it is recommended for.")
    what_for = models.CharField(max_length=300)
    strengths = models.TextField(max_length=800)
    watch_out = models.TextField(max_length=800, blank=True)
    state = models.CharField(max_length=10, choices=VerdictState.choices, default=VerdictState.WAITING)
    replaces = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="later"
    )
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    decision_reason = models.TextField(max_length=800, blank=True)
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-written_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                "stock",
                "process_revision",
                "exposure_revision",
                "author",
                condition=models.Q(state=VerdictState.WAITING),
                name="verdict_one_waiting",
            ),
            models.UniqueConstraint(
                "stock",
                "process_revision",
                "exposure_revision",
                "author",
                condition=models.Q(state=VerdictState.APPROVED),
                name="verdict_one_approved",
            ),
            models.CheckConstraint(
                condition=~models.Q(state=VerdictState.DECLINED) | ~models.Q(decision_reason=""),
                name="verdict_declined_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"verdict of {self.author} on {self.stock}"

    @property
    def pair_key(self) -> str:
        """The two standards as addresses name them."""
        return f"{self.process_revision_id}-{self.exposure_revision_id}"

    @property
    def purpose_words(self) -> list[str]:
        """The purposes in words."""
        return [Purpose(each).label for each in self.purposes if each in Purpose.values]
