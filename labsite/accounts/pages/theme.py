"""Light, dark or safelight: kept in a cookie, so that it holds for visitors too."""

from django.conf import settings
from django.http import HttpResponseBadRequest
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from labsite.accounts.context import THEME_COOKIE, THEMES
from labsite.accounts.pages.sign_in import safe_path

YEAR_S = 365 * 24 * 3600


@require_POST
def choose_theme(request):
    """Remember the theme and go back to the page it was chosen on."""
    theme = request.POST.get("theme")
    if theme not in THEMES:
        return HttpResponseBadRequest(f"Choose one of: {', '.join(THEMES)}.", content_type="text/plain")
    response = redirect(safe_path(request, request.POST.get("next")))
    response.set_cookie(
        THEME_COOKIE, theme, max_age=YEAR_S, secure=settings.IS_HTTPS, httponly=True, samesite="Lax"
    )
    return response
