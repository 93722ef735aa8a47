"""One's own account: names, password, sessions."""

from django.contrib import auth, messages
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from labsite.accounts import services
from labsite.accounts.pages.access import members_only
from labsite.accounts.pages.forms import PasswordForm, ProfileForm


@members_only
@require_http_methods(["GET", "HEAD", "POST"])
def profile(request):
    """Show and change one's name, initials, email and how one is named on sheets."""
    user = request.user
    now = {name: getattr(user, name) for name in ProfileForm.base_fields}
    form = ProfileForm(request.POST or None, initial=now)
    if request.method == "POST" and form.accepted(services.update_profile, actor=user) is not None:
        messages.success(request, "Your profile is saved.")
        return redirect("accounts:profile")
    return render(request, "accounts/profile.html", {"form": form}, status=400 if form.is_bound else 200)


@sensitive_post_parameters("current_password", "new_password")
@never_cache
@members_only
@require_http_methods(["GET", "HEAD", "POST"])
def password(request):
    """Change one's password; this session goes on, the others end."""
    form = PasswordForm(request.POST or None)
    if request.method == "POST":
        user = form.accepted(services.change_password, actor=request.user)
        if user is not None:
            auth.update_session_auth_hash(request, user)
            messages.success(request, "Your password is changed. Other devices are signed out.")
            return redirect("accounts:profile")
    return render(request, "accounts/password.html", {"form": form}, status=400 if form.is_bound else 200)


@members_only
@require_POST
def sign_out_everywhere(request):
    """End all of one's sessions, this one too."""
    services.sign_out_everywhere(actor=request.user)
    auth.logout(request)
    messages.success(request, "You are signed out on every device.")
    return redirect("accounts:sign_in")
