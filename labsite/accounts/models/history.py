"""The lab's history: every write, who did it, and what changed."""

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils import timezone


class AuditRecord(models.Model):
    """One change. Written by ``services.record_audit`` in the transaction of the change; never edited."""

    # No actor: done by the site itself (a job, a command at the console).
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="audit_records"
    )
    action = models.CharField(max_length=60)
    subject_type = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=40)
    subject_label = models.CharField(max_length=200)
    before = models.JSONField(null=True, encoder=DjangoJSONEncoder)
    after = models.JSONField(null=True, encoder=DjangoJSONEncoder)
    reason = models.TextField(blank=True)
    request_id = models.CharField(max_length=64, blank=True)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        verbose_name = "history entry"
        verbose_name_plural = "history"
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["-at", "-id"], name="audit_newest"),
            models.Index(fields=["subject_type", "subject_id"], name="audit_subject"),
            models.Index(fields=["action"], name="audit_action"),
        ]

    def __str__(self) -> str:
        return f"{self.action} {self.subject_label}"

    @property
    def changes(self) -> list[tuple[str, object, object]]:
        """Each changed field, before and after; None where there was nothing."""
        before, after = self.before or {}, self.after or {}
        return [(name.replace("_", " "), before.get(name), after.get(name)) for name in before | after]
