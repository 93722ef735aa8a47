"""Signing in and out."""

from django.conf import settings
from django.contrib import auth, messages
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from labsite.accounts.pages.forms import SignInForm
from labsite.accounts.queries import has_active_admin
from labsite.accounts.services import TooManyTries, verify_sign_in


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request):
    """Ask for user name and password; lead back to where the person wanted to go."""
    next_path = safe_path(request, request.POST.get("next") or request.GET.get("next"))
    if request.user.is_authenticated:
        return redirect(next_path)
    form = SignInForm(request.POST or None)
    status = 200
    if request.method == "POST":
        user = form.accepted(verify_sign_in, address=request.META.get("REMOTE_ADDR", ""))
        if user is not None:
            auth.login(request, user)
            return redirect(next_path)
        status = 429 if form.is_refused_as(TooManyTries.code) else 400
    context = {"form": form, "next": next_path, "has_admin": has_active_admin()}
    return render(request, "accounts/sign_in.html", context, status=status)


@require_POST
def sign_out(request):
    """End this session."""
    auth.logout(request)
    messages.success(request, "You are signed out.")
    return redirect(settings.LOGOUT_REDIRECT_URL)


def safe_path(request, path: str | None) -> str:
    """Return a path of this site to go on to; an address elsewhere is not followed."""
    # Anything else, such as a bare word, a redirect would take for the name of a view.
    if path and path.startswith("/") and url_has_allowed_host_and_scheme(path, allowed_hosts=None):
        return path
    return resolve_url(settings.LOGIN_REDIRECT_URL)
