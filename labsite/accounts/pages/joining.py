"""Getting in by a one-time link: to join, to be the first admin, to set a forgotten password anew."""

from django.contrib import messages
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from labsite.accounts.models.invites import Purpose
from labsite.accounts.pages.entering import enter
from labsite.accounts.pages.forms import JoinForm, NewPasswordForm
from labsite.accounts.queries import open_invite
from labsite.accounts.services import accept_invite, create_first_admin, renew_password
from labsite.common.errors import LabError


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def invite(request, token):
    """Make an account by an admin's invite."""
    return _by_link(request, token, Purpose.JOIN, JoinForm, accept_invite)


@sensitive_post_parameters("password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def first_admin(request, token):
    """Make the first admin by the link that the console printed."""
    return _by_link(request, token, Purpose.FIRST_ADMIN, JoinForm, create_first_admin)


@sensitive_post_parameters("new_password")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def new_password(request, token):
    """Set a forgotten password anew by an admin's link."""
    return _by_link(request, token, Purpose.NEW_PASSWORD, NewPasswordForm, renew_password)


def _by_link(request, token, purpose, form_class, service):
    if request.user.is_authenticated:
        return render(request, "accounts/join_signed_in.html", status=403)
    try:
        promise = open_invite(token, purpose)
    except LabError as fault:
        return render(request, "accounts/join_closed.html", {"fault": fault}, status=410)
    form = form_class(request.POST or None)
    if request.method == "POST":
        user = form.accepted(service, token=token)
        if user is not None:
            following = enter(request, user, "/")
            if request.user.is_authenticated:
                messages.success(request, f"Welcome, {user}. You are signed in.")
            return following
    context = {"form": form, "invite": promise, "purpose": purpose}
    return render(request, "accounts/join.html", context, status=400 if form.is_bound else 200)
