"""Check a password, and count the checks so that nobody can guess one.

The count lives in the database under a row lock: a cache, or a count taken without a lock, lets
parallel tries through. At most LIMIT wrong tries an hour reach the password check, for each typed
user name and for each client address; a right password gives its place back.
"""

import hashlib
import ipaddress
import logging
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

from django.contrib.auth import authenticate
from django.db import transaction
from django.utils import timezone

from labsite.accounts.models import SignInLimit, User
from labsite.common.errors import InvalidInput, LabError

LIMIT = 20
WINDOW_S = 3600

log = logging.getLogger("labsite.security")


class TooManyTries(LabError):
    """Too many passwords were tried; ``retry_at`` is when the next one will be looked at."""

    code = "too_many_tries"

    def __init__(self, retry_at: datetime):
        clock = timezone.localtime(retry_at).strftime("%H:%M")
        super().__init__(f"Too many tries. The next one will be looked at from {clock}.")
        self.retry_at = retry_at


def verify_sign_in(*, username: str, password: str, address: str) -> User:
    """Return the active account that a user name and its password open, or refuse without saying why."""
    with counted_check(address_key(address), account_key(username)):
        # For an unknown name the backend hashes all the same, so the time taken tells nothing either.
        user = authenticate(None, username=username, password=password)
        if user is None:
            log.warning("Sign-in refused for an address of %s", network_of(address))
            raise InvalidInput("That user name and password do not belong together.", code="wrong_sign_in")
    log.info("Sign-in of account %s", user.pk)
    _forget_old_checks()
    return user


@contextmanager
def counted_check(*keys: str):
    """Count one password check under each key before it is made; give the places back if it is right."""
    at_s = timezone.now().timestamp()
    for key in keys:
        _take_place(key, at_s)
    yield
    for key in keys:
        _give_place_back(key, at_s)


def account_key(username: str) -> str:
    """Return the key of a typed user name, whether or not there is such an account."""
    return _key("account", User.normalize_username(username))


def code_key(user: User) -> str:
    """Return the key of an account's second factor."""
    return _key("code", str(user.pk))


def address_key(address: str) -> str:
    """Return the key of a client address."""
    return _key("address", network_of(address))


def network_of(address: str) -> str:
    """Return what one client can't leave: an IPv4 address, or the /64 network of an IPv6 address."""
    try:
        ip = ipaddress.ip_address(address)
    except ValueError:
        return "unknown"
    ip = getattr(ip, "ipv4_mapped", None) or ip
    return str(ipaddress.ip_network((ip, 32 if ip.version == 4 else 64), strict=False))


def _take_place(key: str, at_s: float) -> None:
    # Durable: the count must stand whatever becomes of the check that it announces.
    with transaction.atomic(durable=True):
        row = _locked_row(key)
        recent = _recent(row, at_s)
        if len(recent) < LIMIT:
            _keep(row, [*recent, at_s])
            return
    log.warning("Sign-in limit reached for key %s", key[:12])
    raise TooManyTries(datetime.fromtimestamp(min(recent) + WINDOW_S, UTC) + timedelta(minutes=1))


def _give_place_back(key: str, at_s: float) -> None:
    with transaction.atomic(durable=True):
        row = _locked_row(key)
        recent = _recent(row, at_s)
        if at_s in recent:
            recent.remove(at_s)
        _keep(row, recent)


def _locked_row(key: str) -> SignInLimit:
    defaults = {"updated_at": timezone.now()}
    return SignInLimit.objects.select_for_update().get_or_create(key=key, defaults=defaults)[0]


def _recent(row: SignInLimit, at_s: float) -> list[float]:
    # The absolute difference, so that a clock that was set back locks nobody out for longer.
    return [then_s for then_s in row.checked_at_s if abs(at_s - then_s) < WINDOW_S]


def _keep(row: SignInLimit, checked_at_s: list[float]) -> None:
    row.checked_at_s = checked_at_s
    row.updated_at = timezone.now()
    row.save(update_fields=["checked_at_s", "updated_at"])


def _forget_old_checks() -> None:
    cutoff = timezone.now() - timedelta(seconds=WINDOW_S)
    SignInLimit.objects.filter(updated_at__lt=cutoff).delete()


def _key(kind: str, value: str) -> str:
    return hashlib.sha256(f"{kind}:{value}".encode()).hexdigest()
