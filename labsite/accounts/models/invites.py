"""One-time links: to join the lab, to make its first admin, to set a forgotten password anew."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from labsite.accounts.models.people import Role


class Purpose(models.TextChoices):
    """What a link is good for."""

    JOIN = "join", "Join"
    FIRST_ADMIN = "first_admin", "First admin"
    NEW_PASSWORD = "new_password", "New password"


class Invite(models.Model):
    """A one-time link with an expiry. Only the hash of its token is kept, so it is shown once."""

    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.MEMBER)
    note = models.CharField("for", max_length=120, blank=True)
    purpose = models.CharField(max_length=12, choices=Purpose.choices, default=Purpose.JOIN, editable=False)
    # Whose password it sets; a link to join makes an account of its own.
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="password_links"
    )
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="invites_made"
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    expires_at = models.DateTimeField()
    used_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="invites_used"
    )
    used_at = models.DateTimeField(null=True, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["-created_at", "-id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="invite_role_known"),
            models.CheckConstraint(
                # The link that the console prints when the lab has no admin is nobody's.
                condition=models.Q(purpose=Purpose.JOIN, created_by__isnull=False, person__isnull=True)
                | models.Q(purpose=Purpose.FIRST_ADMIN, created_by__isnull=True, person__isnull=True)
                | models.Q(purpose=Purpose.NEW_PASSWORD, created_by__isnull=False, person__isnull=False),
                name="invite_purpose_fits",
            ),
            models.CheckConstraint(
                condition=models.Q(used_by__isnull=True, used_at__isnull=True)
                | models.Q(used_by__isnull=False, used_at__isnull=False, revoked_at__isnull=True),
                name="invite_used_once_and_not_after_revoking",
            ),
        ]

    def __str__(self) -> str:
        return self.note or f"{self.get_role_display()} invite {self.pk}"

    @property
    def state(self) -> str:
        """Where the invite stands: ``used``, ``revoked``, ``expired`` or ``open``."""
        if self.used_at:
            return "used"
        if self.revoked_at:
            return "revoked"
        return "expired" if self.expires_at <= timezone.now() else "open"
