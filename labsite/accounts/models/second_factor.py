"""A person's second factor: the secret that an app shares, and codes for the day it is lost."""

from django.conf import settings
from django.db import models
from django.utils import timezone


class SecondFactor(models.Model):
    """The secret of one person's app; it counts once a code of it was typed in.

    A code can only be checked with the secret itself, so it is kept as it is: unlike the passwords,
    which are there as slow hashes, it can be used by whoever reads the database. Keep the database and
    its backups from everybody. The secret never leaves them after the set-up page.
    """

    user = models.OneToOneField(settings.AUTH_USER_MODEL, models.PROTECT, related_name="second_factor")
    secret = models.CharField(max_length=32, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    confirmed_at = models.DateTimeField(null=True, editable=False)
    # The time step of the newest code that was taken; no code of it or of an earlier one is taken again.
    last_step = models.BigIntegerField(default=-1, editable=False)

    class Meta:
        verbose_name = "second factor"

    def __str__(self) -> str:
        return f"Second factor of {self.user}"

    @property
    def is_confirmed(self) -> bool:
        """Whether sign-in asks for its codes."""
        return self.confirmed_at is not None

    @property
    def secret_in_groups(self) -> str:
        """The secret as it is read and typed: in groups of four."""
        return " ".join(self.secret[at : at + 4] for at in range(0, len(self.secret), 4))

    @property
    def codes_left(self) -> int:
        """How many recovery codes are unused."""
        return self.recovery_codes.filter(used_at=None).count()


class RecoveryCode(models.Model):
    """A code that stands for the app once. Only its hash is kept, so it is shown once."""

    factor = models.ForeignKey(SecondFactor, models.CASCADE, related_name="recovery_codes")
    code_hash = models.CharField(max_length=64, editable=False)
    used_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["factor", "code_hash"], name="recovery_code_once_a_factor"),
        ]

    def __str__(self) -> str:
        return f"Recovery code {self.pk}"
