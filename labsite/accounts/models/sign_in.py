"""How many passwords were tried lately, for each account and each address."""

from django.db import models


class SignInLimit(models.Model):
    """The recent password checks of one key (a typed user name or a client address), under one lock."""

    key = models.CharField(max_length=64, unique=True)
    # Seconds since the epoch of each check of the last hour; at most the limit's number of them.
    checked_at_s = models.JSONField(default=list)
    updated_at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return self.key
