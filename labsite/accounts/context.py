"""What every template knows: the lab, the theme, and what the reader may do."""

from django.utils.functional import SimpleLazyObject

from labsite.accounts.queries import current_lab
from labsite.common.access import is_admin, is_member

THEME_COOKIE = "theme"
THEMES = ("system", "light", "dark", "safelight")


def lab(request) -> dict:
    """Return ``lab``, ``theme``, ``themes``, ``is_member`` and ``is_admin``."""
    # Kept on the request, since components that are given a context ask again for each of them.
    if not hasattr(request, "lab"):
        request.lab = SimpleLazyObject(current_lab)
    theme = request.COOKIES.get(THEME_COOKIE)
    user = getattr(request, "user", None)
    return {
        "lab": request.lab,
        "theme": theme if theme in THEMES else THEMES[0],
        "themes": THEMES,
        "is_member": is_member(user),
        "is_admin": is_admin(user),
    }
