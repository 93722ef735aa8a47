"""One's own access tokens."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from labsite.accounts import services
from labsite.accounts.pages.access import members_only
from labsite.accounts.pages.forms import TokenForm
from labsite.accounts.queries import tokens_of
from labsite.common.errors import LabError


@never_cache
@members_only
@require_http_methods(["GET", "HEAD", "POST"])
def tokens(request):
    """List one's tokens and make another; its secret is on the answer to this request only."""
    form = TokenForm(request.POST or None)
    made, status = None, 200
    if request.method == "POST":
        made = form.accepted(services.issue_token, actor=request.user)
        status = 400 if made is None else 201
        form = TokenForm() if made else form
    context = {"form": form, "made": made, "tokens": tokens_of(request.user)}
    return render(request, "accounts/tokens.html", context, status=status)


@members_only
@require_POST
def revoke(request, token_id):
    """Make one token worthless."""
    try:
        token = services.revoke_token(actor=request.user, token_id=token_id)
    except LabError as fault:
        messages.error(request, fault.message)
    else:
        messages.success(request, f"The token “{token}” no longer works.")
    return redirect("accounts:tokens")
