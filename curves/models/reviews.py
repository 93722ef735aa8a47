"""What people decided and remarked about a roll."""

from django.conf import settings
from django.db import models

from curves.models.rolls import Roll, RollState


class Review(models.Model):
    """One decision on a roll, with its reasons and on which analysis it rested."""

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="reviews")
    decision = models.CharField(max_length=10, choices=RollState.choices)
    reasons = models.TextField(blank=True)
    reviewer = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reviews")
    analysis = models.ForeignKey("curves.Analysis", on_delete=models.PROTECT, null=True, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.decision} by {self.reviewer_id}"


class Remark(models.Model):
    """A note that a member left on a roll."""

    roll = models.ForeignKey(Roll, on_delete=models.CASCADE, related_name="remarks")
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    text = models.TextField()
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.text[:40]
