"""The lab's settings; for admins."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from labsite.accounts.pages.access import admins_only
from labsite.accounts.pages.forms import LabSettingsForm
from labsite.accounts.queries import current_lab
from labsite.accounts.services import update_lab


@admins_only
@require_http_methods(["GET", "HEAD", "POST"])
def settings(request):
    """Show and change the lab's name, contact, openness and the spread of one reading."""
    row = current_lab()
    now = {name: getattr(row, name) for name in LabSettingsForm.base_fields}
    form = LabSettingsForm(request.POST or None, initial=now)
    if request.method == "POST" and form.accepted(update_lab, actor=request.user) is not None:
        messages.success(request, "The lab's settings are saved.")
        return redirect("accounts:lab_settings")
    return render(request, "accounts/lab_settings.html", {"form": form}, status=400 if form.is_bound else 200)
