"""What every template knows: the lab, the theme, and what the reader may do."""

from labsite.accounts.queries import current_lab
from labsite.common.access import is_admin, is_member

THEME_COOKIE = "theme"
THEMES = ("system", "light", "dark", "safelight")


def lab(request) -> dict:
    """Return ``lab``, ``theme``, ``themes``, ``is_member`` and ``is_admin``."""
    theme = request.COOKIES.get(THEME_COOKIE)
    user = getattr(request, "user", None)
    return {
        "lab": current_lab(),
        "theme": theme if theme in THEMES else THEMES[0],
        "themes": THEMES,
        "is_member": is_member(user),
        "is_admin": is_admin(user),
    }
