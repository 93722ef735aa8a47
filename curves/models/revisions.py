"""What every standard kept in revisions shares.

A revision is written as a draft, put in force once, and from then on never edited: a change is a
new revision, so that a result always names exactly the conditions it was got under.
"""

from django.conf import settings
from django.db import models


class RevisionState(models.TextChoices):
    """The life of a revision, one way only."""

    DRAFT = "draft", "draft"
    IN_FORCE = "in_force", "in force"
    SUPERSEDED = "superseded", "superseded"


class Revision(models.Model):
    """Number, state and history of one revision; the concrete class adds what it fixes."""

    number = models.PositiveIntegerField()
    state = models.CharField(max_length=12, choices=RevisionState.choices, default=RevisionState.DRAFT)
    change_note = models.TextField(blank=True, help_text="What changed against the revision before, and why.")
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    in_force_at = models.DateTimeField(null=True, blank=True)
    superseded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True

    @property
    def is_editable(self) -> bool:
        """Whether its values may still change."""
        return self.state == RevisionState.DRAFT
