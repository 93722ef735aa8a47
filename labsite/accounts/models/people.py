"""A person of the lab and how the lab names them."""

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.core.validators import RegexValidator
from django.db import models
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.functional import cached_property

from labsite.accounts.models.lab import Lab
from labsite.accounts.models.second_factor import SecondFactor
from labsite.common.access import ADMIN, MEMBER


class Role(models.TextChoices):
    """What a person may do; a visitor has no account."""

    MEMBER = MEMBER, "Member"
    ADMIN = ADMIN, "Admin"


class Credit(models.TextChoices):
    """How a person wants to be named on published sheets."""

    NAME = "name", "By name"
    INITIALS = "initials", "By initials"
    NONE = "none", "Not named"


username_rule = RegexValidator(
    r"\A[a-z0-9][a-z0-9._-]{1,39}\Z",
    "Use 2 to 40 letters a to z, digits, dots, dashes or underscores, and begin with a letter or digit.",
)


class UserManager(BaseUserManager):
    """Accounts by user name, whatever the capitals typed."""

    def create_user(self, username: str, password: str | None = None, **fields) -> "User":
        """Store an account; without a password nobody can sign in to it."""
        user = self.model(username=self.model.normalize_username(username), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str) -> "User":
        """Return the account of a typed user name."""
        return self.get(username=self.model.normalize_username(username))


class User(AbstractBaseUser):
    """A member or admin. Accounts are retired, never deleted: readings and history name them."""

    username = models.CharField(
        "user name",
        max_length=40,
        unique=True,
        validators=[username_rule],
        error_messages={"unique": "This user name is taken. Choose another."},
    )
    display_name = models.CharField("name", max_length=80)
    initials = models.CharField(max_length=6)
    email = models.EmailField("email", blank=True)
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.MEMBER)
    credit = models.CharField(
        "named on sheets", max_length=10, choices=Credit.choices, default=Credit.INITIALS
    )
    is_active = models.BooleanField("active", default=True)
    # Part of every session's signature: raising it ends all sessions of the account at once.
    session_epoch = models.PositiveIntegerField(default=0, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["display_name", "initials"]

    objects = UserManager()

    class Meta:
        verbose_name = "person"
        verbose_name_plural = "people"
        ordering = ["display_name", "id"]
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="user_role_known"),
            models.CheckConstraint(condition=models.Q(credit__in=Credit.values), name="user_credit_known"),
        ]

    def __str__(self) -> str:
        return self.display_name or self.username

    @classmethod
    def normalize_username(cls, username: str) -> str:
        """Return the stored form of a typed user name: one Unicode form, lower case, no outer spaces."""
        return super().normalize_username(username).strip().casefold()

    @property
    def credit_line(self) -> str:
        """The name to print on a published sheet; empty when the person wants none."""
        return {Credit.NAME: self.display_name, Credit.INITIALS: self.initials}.get(self.credit, "")

    @property
    def standing(self) -> str:
        """What the person is in the lab, in one word: ``member``, ``admin`` or ``retired``."""
        return self.role if self.is_active else "retired"

    @cached_property
    def lacks_second_factor(self) -> bool:
        """Whether the lab asks this admin for a second factor that is not set up yet."""
        if self.role != ADMIN:
            return False
        own = SecondFactor.objects.filter(user=self, confirmed_at__isnull=False)
        return Lab.objects.filter(~models.Exists(own), admins_need_second_factor=True).exists()

    def get_session_auth_hash(self) -> str:
        """Return what a session must carry to stay signed in."""
        return self._session_signature()

    def get_session_auth_fallback_hash(self):
        """Yield the same under each retired secret key, so that rotating the key signs nobody out."""
        for secret in settings.SECRET_KEY_FALLBACKS:
            yield self._session_signature(secret)

    def _session_signature(self, secret: str | None = None) -> str:
        text = f"{self.session_epoch}:{self.password}"
        return salted_hmac("labsite.accounts.session", text, secret=secret, algorithm="sha256").hexdigest()
