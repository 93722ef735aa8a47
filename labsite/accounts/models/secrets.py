"""Random tokens for links and scripts, and the hash that stands for one in the database."""

import hashlib
import secrets


def new_token() -> str:
    """Return 32 random bytes as text that is safe in an address."""
    return secrets.token_urlsafe(32)


def hash_token(token: str) -> str:
    """Return what is stored for a token.

    A plain SHA-256 is enough, since nobody can list 2**256 tokens; passwords are another matter.
    """
    return hashlib.sha256(token.encode()).hexdigest()
