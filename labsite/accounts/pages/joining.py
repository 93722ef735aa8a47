"""Joining the lab by a one-time link."""

from django.contrib import auth, messages
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from labsite.accounts.pages.forms import JoinForm
from labsite.accounts.queries import open_invite
from labsite.accounts.services import accept_invite, create_first_admin
from labsite.common.errors import LabError


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "POST"])
def invite(request, token):
    """Make an account by an admin's invite."""
    return _join(request, token, accept_invite, is_first_admin=False)


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "POST"])
def first_admin(request, token):
    """Make the first admin by the link that the console printed."""
    return _join(request, token, create_first_admin, is_first_admin=True)


def _join(request, token, service, *, is_first_admin):
    if request.user.is_authenticated:
        return render(request, "accounts/join_signed_in.html", status=403)
    try:
        promise = open_invite(token, is_first_admin=is_first_admin)
    except LabError as fault:
        return render(request, "accounts/join_closed.html", {"fault": fault}, status=410)
    form = JoinForm(request.POST or None)
    if request.method == "POST":
        user = form.accepted(service, token=token)
        if user is not None:
            auth.login(request, user)
            messages.success(request, f"Welcome, {user}. Your account is made and you are signed in.")
            return redirect("/")
    context = {"form": form, "invite": promise, "is_first_admin": is_first_admin}
    return render(request, "accounts/join.html", context, status=400 if form.is_bound else 200)
