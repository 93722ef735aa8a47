"""The lab's history: every write, who did it, and what changed."""

import re
from datetime import datetime

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models
from django.utils import timezone

STORED_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")


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
    def changes(self) -> list[tuple[str, str, str]]:
        """Each changed field with its words before and after; "" where there was nothing."""
        before, after = self.before or {}, self.after or {}
        rows = [
            (name.replace("_", " "), in_words(before.get(name)), in_words(after.get(name)))
            for name in before | after
        ]
        return [row for row in rows if row[1] or row[2]]


def in_words(value) -> str:
    """Return a stored value as a reader wants it: times by the lab's clock, yes and no, lists in a row."""
    if value is None or value == "" or value == []:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(in_words(item) for item in value)
    if isinstance(value, dict):
        return ", ".join(f"{name.replace('_', ' ')} {in_words(item)}" for name, item in value.items())
    return _time_in_words(value) if isinstance(value, str) else str(value)


def _time_in_words(text: str) -> str:
    # As the JSON encoder writes a moment, and nothing shorter: a typed "2031" stays as it is.
    if not STORED_MOMENT.fullmatch(text):
        return text
    return timezone.localtime(datetime.fromisoformat(text)).strftime("%Y-%m-%d %H:%M")
