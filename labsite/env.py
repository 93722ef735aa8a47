"""The environment, read here and nowhere else: prefix LABSITE_, strict values, secrets from files.

A value that cannot be understood stops the start with one sentence that names the variable. Names
that nobody reads are reported by ``labsite.checks``, since a misspelt setting is a setting lost.
"""

import difflib
import os
import secrets
import zoneinfo
from pathlib import Path
from urllib.parse import parse_qsl, quote, unquote, urlsplit

from django.core.exceptions import ImproperlyConfigured

PREFIX = "LABSITE_"

#: Every name that is read, without the prefix. Those marked True may also be given as NAME_FILE.
KNOWN = {
    "MODE": False,
    "DEBUG": False,
    "DATA_DIR": False,
    "STATIC_DIR": False,
    "SECRET_KEY": True,
    "DATABASE_URL": True,
    "DATABASE_PASSWORD": True,
    "REDIS_URL": True,
    "REDIS_PASSWORD": True,
    "ALLOWED_HOSTS": False,
    "TRUSTED_PROXIES": False,
    "HTTPS": False,
    "TIME_ZONE": False,
    "LOG_LEVEL": False,
    "STALE_AFTER_DAYS": False,
    "NO_BOOTSTRAP": False,  # read by labsite.bootstrap, before Django can be imported
    "TEST_DIR": False,
    "TEST_SCREENSHOTS": False,
    "TEST_DATABASE_URL": False,
    "TEST_REQUIRE_SERVICES": False,
}

TRUE = {"1", "true", "yes", "on"}
FALSE = {"0", "false", "no", "off"}


class EnvironmentFault(ImproperlyConfigured):
    """An environment variable that is missing or cannot be understood."""


def text(name: str, default: str | None = None) -> str:
    """The value, or the content of the file that NAME_FILE names; without a default it must be given."""
    full_name = PREFIX + name
    value = os.environ.get(full_name)
    if KNOWN[name] and (path := os.environ.get(full_name + "_FILE")):
        if value:
            raise EnvironmentFault(f"Give {full_name} or {full_name}_FILE, not both.")
        value = _file_text(full_name + "_FILE", path)
    value = (value or "").strip()
    if value:
        return value
    if default is None:
        also = f" (or {full_name}_FILE, the path of a file that holds it)" if KNOWN[name] else ""
        raise EnvironmentFault(f"{full_name} must be set{also}.")
    return default


def flag(name: str, default: bool) -> bool:
    """A yes or a no: 1, true, yes, on or 0, false, no, off."""
    value = text(name, "1" if default else "0").lower()
    if value not in TRUE | FALSE:
        raise EnvironmentFault(f"{PREFIX}{name} is {value!r}: write 1 for yes or 0 for no.")
    return value in TRUE


def integer(name: str, default: int, *, minimum: int = 0) -> int:
    """A whole number, not below the minimum."""
    value = text(name, str(default))
    if not value.isdecimal() or int(value) < minimum:
        raise EnvironmentFault(f"{PREFIX}{name} is {value!r}: write a whole number from {minimum}.")
    return int(value)


def choice(name: str, options: tuple[str, ...], default: str) -> str:
    """One word of the options."""
    value = text(name, default)
    if value not in options:
        raise EnvironmentFault(f"{PREFIX}{name} is {value!r}: write one of {', '.join(options)}.")
    return value


def words(name: str, default: str | None = None) -> list[str]:
    """Words with commas between them."""
    return [word.strip() for word in text(name, default).split(",") if word.strip()]


def folder(name: str, default: Path) -> Path:
    """An absolute folder; it need not exist yet."""
    return Path(text(name, str(default))).expanduser().resolve()


def time_zone(name: str, default: str) -> str:
    """A time zone by its name in the tz database."""
    value = text(name, default)
    try:
        zoneinfo.ZoneInfo(value)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        raise EnvironmentFault(
            f"{PREFIX}{name} is {value!r}: write a name such as UTC or Europe/London."
        ) from None
    return value


def database(name: str, password_name: str | None = None) -> dict:
    """A postgresql:// address as Django wants it; the password may come apart from the address."""
    parts = urlsplit(text(name))
    database_name = unquote(parts.path.lstrip("/"))
    if parts.scheme != "postgresql" or not database_name or not _has_good_port(parts):
        raise EnvironmentFault(
            f"{PREFIX}{name} must read postgresql://USER@HOST:PORT/NAME; no other database is supported."
        )
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": database_name,
        "USER": unquote(parts.username or ""),
        "PASSWORD": _password(parts, password_name),
        "HOST": unquote(parts.hostname or ""),
        "PORT": str(parts.port or ""),
        "OPTIONS": dict(parse_qsl(parts.query)),
    }


def redis(name: str, password_name: str) -> str:
    """A redis:// or rediss:// address with its password in place."""
    parts = urlsplit(text(name))
    if parts.scheme not in ("redis", "rediss") or not parts.hostname or not _has_good_port(parts):
        raise EnvironmentFault(f"{PREFIX}{name} must read redis://HOST:PORT/0.")
    password = _password(parts, password_name)
    login = f"{parts.username or ''}:{quote(password, safe='')}@" if password else ""
    return f"{parts.scheme}://{login}{parts.hostname}:{parts.port or 6379}{parts.path or '/0'}"


def unknown_names() -> list[tuple[str, str]]:
    """Names with our prefix that nobody reads, each with the name that was perhaps meant."""
    known = {PREFIX + name for name in KNOWN}
    known |= {f"{PREFIX}{name}_FILE" for name, may_be_file in KNOWN.items() if may_be_file}
    strays = sorted(name for name in os.environ if name.startswith(PREFIX) and name not in known)
    return [(name, next(iter(difflib.get_close_matches(name, sorted(known), n=1)), "")) for name in strays]


def _has_good_port(parts) -> bool:
    try:
        return parts.port is None or parts.port > 0
    except ValueError:
        return False


def _password(parts, password_name: str | None) -> str:
    if parts.password or password_name is None:
        return unquote(parts.password or "")
    return text(password_name, "")


def secret_file(path: Path) -> str:
    """The secret kept in a file that only its owner reads; made at the first call, with its folder."""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as fault:
        if path.is_file():
            return _file_text("The secret key", str(path))
        raise EnvironmentFault(
            f"The data folder {path.parent} cannot be written to ({fault.strerror}):"
            f" name another in {PREFIX}DATA_DIR."
        ) from None
    value = secrets.token_urlsafe(50)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(value)
    return value


def _file_text(full_name: str, path: str) -> str:
    try:
        return Path(path).read_text(encoding="utf-8").strip()
    except OSError as fault:
        raise EnvironmentFault(f"{full_name}: {path} cannot be read ({fault.strerror}).") from None
