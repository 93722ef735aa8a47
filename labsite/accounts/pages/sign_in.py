"""Signing in and out."""

from django.conf import settings
from django.contrib import auth, messages
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from labsite.accounts.pages.entering import (
    enter,
    finish,
    forget_half_way,
    path_half_way,
    person_half_way,
)
from labsite.accounts.pages.forms import SignInCodeForm, SignInForm
from labsite.accounts.queries import has_active_admin, second_factor_of
from labsite.accounts.services import TooManyTries, verify_code, verify_sign_in

#: From so many unused recovery codes down, sign-in says so.
FEW_CODES = 3


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
            return enter(request, user, next_path)
        status = 429 if form.is_refused_as(TooManyTries.code) else 400
    context = {"form": form, "next": next_path, "has_admin": has_active_admin()}
    return render(request, "accounts/sign_in.html", context, status=status)


@sensitive_post_parameters("code")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_code(request):
    """Ask who gave the right password for a code of their second factor."""
    if request.user.is_authenticated:
        return redirect(settings.LOGIN_REDIRECT_URL)
    user = person_half_way(request)
    if user is None:
        forget_half_way(request)
        messages.warning(request, "Sign in with your password first; a code is awaited for five minutes.")
        return redirect("accounts:sign_in")
    form = SignInCodeForm(request.POST or None)
    status = 200
    if request.method == "POST":
        address = request.META.get("REMOTE_ADDR", "")
        if form.accepted(verify_code, user=user, address=address) is not None:
            _tell_of_few_codes(request, user)
            return finish(request, user, path_half_way(request))
        status = 429 if form.is_refused_as(TooManyTries.code) else 400
    return render(request, "accounts/sign_in_code.html", {"form": form}, status=status)


@require_POST
def sign_out(request):
    """End this session."""
    auth.logout(request)
    messages.success(request, "You are signed out.")
    return redirect(settings.LOGOUT_REDIRECT_URL)


def _tell_of_few_codes(request, user) -> None:
    left = second_factor_of(user).codes_left
    if left <= FEW_CODES:
        codes = "1 recovery code" if left == 1 else f"{left or 'no'} recovery codes"
        messages.warning(
            request, f"You have {codes} left. Make new ones on the page Your account, Second factor."
        )


def safe_path(request, path: str | None) -> str:
    """Return a path of this site to go on to; an address elsewhere is not followed."""
    # Anything else, such as a bare word, a redirect would take for the name of a view.
    if path and path.startswith("/") and url_has_allowed_host_and_scheme(path, allowed_hosts=None):
        return path
    return resolve_url(settings.LOGIN_REDIRECT_URL)
