"""An invitation to join, as a link that works once."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from labsite.accounts.models.people import Role


class Invite(models.Model):
    """A one-time link with an expiry. Only the hash of its token is kept, so it is shown once."""

    token_hash = models.CharField(max_length=64, unique=True, editable=False)
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.MEMBER)
    note = models.CharField("for", max_length=120, blank=True)
    # The link printed on the console when the lab has no admin: nobody made it.
    is_first_admin = models.BooleanField(default=False, editable=False)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="invites_made"
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    expires_at = models.DateTimeField()
    used_by = models.OneToOneField(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, editable=False, related_name="invite_used"
    )
    used_at = models.DateTimeField(null=True, editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["-created_at", "-id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="invite_role_known"),
            models.CheckConstraint(
                condition=models.Q(is_first_admin=False, created_by__isnull=False)
                | models.Q(is_first_admin=True, created_by__isnull=True, role=Role.ADMIN),
                name="invite_has_a_maker_unless_first_admin",
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
