"""How long each step of a run really took, as the timer measured it."""

from django.conf import settings
from django.db import models

from curves.models.processes import ProcessRun


class RunTiming(models.Model):
    """The measured steps of one run; a change by hand ends the old row and says why."""

    run = models.ForeignKey(ProcessRun, on_delete=models.CASCADE, related_name="timings")
    steps = models.JSONField(help_text="A list of step, planned_s and measured_s in their order.")
    started_at = models.DateTimeField(null=True, blank=True)
    reason = models.TextField(blank=True, help_text="Why it differs from what the timer measured.")
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)
    is_current = models.BooleanField(default=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                "run", condition=models.Q(is_current=True), name="run_timing_one_current"
            ),
        ]

    def __str__(self) -> str:
        return f"times of run {self.run_id}"
