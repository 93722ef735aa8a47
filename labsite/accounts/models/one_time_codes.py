"""Codes that are good once: six digits of an app, by the clock (RFC 6238), and recovery codes.

No database is asked here. The parameters are those that every app knows: SHA-1, six digits, 30 s.
"""

import secrets
from hmac import compare_digest

import pyotp

DIGITS = 6
STEP_S = 30
# One step before and one after: a phone's clock may be half a minute off, and typing takes a while.
STEPS_OFF = 1

RECOVERY_CODES = 10
# Without i, l, o, 0 and 1, which are misread on paper. 16 of the 31 are 79 bits: too many to try
# against the hash, which may therefore be a plain one.
RECOVERY_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
RECOVERY_LENGTH = 16


def new_secret() -> str:
    """Return 160 random bits as 32 letters of base 32; RFC 4226, section 4, R6 recommends that length."""
    return pyotp.random_base32(32)


def code_at(secret: str, step: int) -> str:
    """Return the six digits of a time step (the number of whole 30 s since 1970)."""
    return pyotp.TOTP(secret, digits=DIGITS, interval=STEP_S).generate_otp(step)


def matching_step(secret: str, code: str, at_s: float) -> int | None:
    """Return the time step near ``at_s`` (seconds since 1970) whose code this is, or None.

    Every step is looked at whatever was found, so that the time taken tells nothing.
    """
    now = int(at_s // STEP_S)
    steps = [step for step in range(now - STEPS_OFF, now + STEPS_OFF + 1) if step >= 0]
    found = [step for step in steps if compare_digest(code_at(secret, step).encode(), code.encode())]
    return found[-1] if found else None


def app_address(secret: str, *, account: str, issuer: str) -> str:
    """Return the address that an app reads from the QR picture."""
    totp = pyotp.TOTP(secret, digits=DIGITS, interval=STEP_S)
    return totp.provisioning_uri(name=account, issuer_name=issuer)


def new_recovery_codes() -> list[str]:
    """Return ten codes as they are shown: four groups of four."""
    return [_in_groups("".join(_letters())) for _ in range(RECOVERY_CODES)]


def as_stored(code: str) -> str:
    """Return a typed code without what people put between its groups, in lower case."""
    return "".join(code.casefold().replace("-", " ").split())


def _letters() -> list[str]:
    return [secrets.choice(RECOVERY_ALPHABET) for _ in range(RECOVERY_LENGTH)]


def _in_groups(text: str) -> str:
    return "-".join(text[at : at + 4] for at in range(0, len(text), 4))
