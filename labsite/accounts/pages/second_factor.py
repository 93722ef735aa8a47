"""One's own second factor: set up, recovery codes, and given up again."""

from django.contrib import auth, messages
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_safe

from labsite.accounts import services
from labsite.accounts.models.one_time_codes import app_address
from labsite.accounts.pages.access import members_only, posted_from
from labsite.accounts.pages.forms import ProofForm, SetUpForm
from labsite.accounts.pages.outcomes import done_or_told
from labsite.accounts.pages.qr import qr_picture
from labsite.accounts.queries import current_lab, second_factor_of
from labsite.common.access import waits_for_second_factor

PAGE = "accounts:second_factor"


@never_cache
@members_only
@require_safe
def second_factor(request):
    """Show whether it is on, and what can be done next."""
    return _page(request)


@posted_from(PAGE)
@members_only
def begin(request):
    """Make a secret for one's app; the page that follows shows it."""
    done = "A key was made. Nothing changes until you confirm it with a code."
    return done_or_told(request, redirect(PAGE), services.begin_second_factor, done)


@sensitive_post_parameters("current_password", "code")
@never_cache
@posted_from(PAGE)
@members_only
def confirm(request):
    """Turn it on by code and password; the recovery codes are on the answer to this request only."""
    form = SetUpForm(request.POST)
    made = form.accepted(services.confirm_second_factor, actor=request.user)
    if made is None:
        return _page(request, status=400, set_up_form=form)
    return _codes(request, made, is_first=True)


@sensitive_post_parameters("current_password", "code")
@never_cache
@posted_from(PAGE)
@members_only
def renew_codes(request):
    """Make new recovery codes; they are on the answer to this request only."""
    form = ProofForm("renew", request.POST)
    made = form.accepted(services.renew_recovery_codes, actor=request.user)
    if made is None:
        return _page(request, status=400, renew_form=form)
    return _codes(request, made, is_first=False)


@sensitive_post_parameters("current_password", "code")
@never_cache
@posted_from(PAGE)
@members_only
def turn_off(request):
    """Give it up; this session goes on, the others end."""
    form = ProofForm("off", request.POST)
    person = form.accepted(services.turn_off_second_factor, actor=request.user)
    if person is None:
        return _page(request, status=400, off_form=form)
    auth.update_session_auth_hash(request, person)
    messages.success(request, "Your second factor is off. Other devices are signed out.")
    return redirect(PAGE)


def _page(request, *, status=200, **forms):
    factor = second_factor_of(request.user)
    context = {
        "factor": factor,
        "is_asked_for": waits_for_second_factor(request.user),
        "set_up_form": SetUpForm(),
        "renew_form": ProofForm("renew"),
        "off_form": ProofForm("off"),
    } | forms
    if factor is not None and not factor.is_confirmed:
        account, issuer = request.user.username, current_lab().name
        context["qr"] = qr_picture(app_address(factor.secret, account=account, issuer=issuer))
    return render(request, "accounts/second_factor.html", context, status=status)


def _codes(request, made, *, is_first):
    if is_first:
        auth.update_session_auth_hash(request, made.person)
    request.user = made.person  # as it is since; the page's menus may show more
    context = {"codes": made.codes, "text": "\n".join(made.codes), "is_first": is_first}
    return render(request, "accounts/recovery_codes.html", context, status=201)
