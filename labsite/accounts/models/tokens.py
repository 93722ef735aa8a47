"""Access tokens with which a person's scripts use the API."""

from django.conf import settings
from django.db import models
from django.utils import timezone


class ApiToken(models.Model):
    """A token of one person. Only its hash is kept; its scope can only narrow the person's role."""

    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="api_tokens")
    name = models.CharField(max_length=60)
    is_read_only = models.BooleanField("read only", default=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        verbose_name = "access token"
        ordering = ["-created_at", "-id"]

    def __str__(self) -> str:
        return self.name

    @property
    def state(self) -> str:
        """Where the token stands: ``revoked``, ``expired`` or ``active``."""
        if self.revoked_at:
            return "revoked"
        return "expired" if self.expires_at <= timezone.now() else "active"
