"""The lab's people and the invites that bring more; for admins."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from labsite.accounts import queries, services
from labsite.accounts.pages.access import admins_only
from labsite.accounts.pages.forms import FactorReasonForm, InviteForm, ReasonForm, RoleForm
from labsite.common.errors import LabError


@never_cache
@admins_only
@require_http_methods(["GET", "HEAD", "POST"])
def people(request):
    """List people and invites, and invite one more; the link is on the answer to this request only."""
    form = InviteForm(request.POST or None)
    link, status = None, 200
    if request.method == "POST":
        made = form.accepted(services.create_invite, actor=request.user)
        status = 400 if made is None else 201
        if made is not None:
            link = request.build_absolute_uri(reverse("accounts:invite", args=[made.token]))
            form = InviteForm()
    context = {
        "people": queries.people_visible_to(request.user),
        "invites": queries.invites_visible_to(request.user),
        "form": form,
        "link": link,
    }
    return render(request, "accounts/people.html", context, status=status)


@admins_only
@require_POST
def revoke_invite(request, invite_id):
    """Make an unused invite worthless."""
    try:
        services.revoke_invite(actor=request.user, invite_id=invite_id)
    except LabError as fault:
        messages.error(request, fault.message)
    else:
        messages.success(request, "The invite no longer works.")
    return redirect("accounts:people")


@admins_only
@require_safe
def person(request, person_id):
    """Show one account and what may be done with it."""
    return _person_page(request, person_id)


@admins_only
@require_http_methods(["GET", "HEAD", "POST"])
def change_role(request, person_id):
    """Make a member an admin, or an admin a member."""
    form = RoleForm(request.POST)
    return _changed(request, person_id, services.change_role, role_form=form)


@admins_only
@require_http_methods(["GET", "HEAD", "POST"])
def retire(request, person_id):
    """End a person's access at once."""
    return _changed(request, person_id, services.retire_user, activity_form=ReasonForm(request.POST))


@admins_only
@require_http_methods(["GET", "HEAD", "POST"])
def reactivate(request, person_id):
    """Let a retired person back in."""
    return _changed(request, person_id, services.reactivate_user, activity_form=ReasonForm(request.POST))


@admins_only
@require_http_methods(["GET", "HEAD", "POST"])
def take_second_factor(request, person_id):
    """Free a person of a second factor that is lost."""
    form = FactorReasonForm(request.POST)
    done = "Saved: {person} signs in by password alone until a new second factor is set up."
    return _changed(request, person_id, services.take_second_factor, done, factor_form=form)


@never_cache
@admins_only
@require_http_methods(["GET", "HEAD", "POST"])
def password_link(request, person_id):
    """Make a link for a forgotten password; it is on the answer to this request only."""
    if request.method != "POST":  # led back here after signing in again
        return redirect("accounts:person", person_id)
    made = services.create_password_link(actor=request.user, person_id=person_id)
    link = request.build_absolute_uri(reverse("accounts:new_password", args=[made.token]))
    return _person_page(request, person_id, status=201, link=link)


def _changed(request, person_id, service, done="Saved: {person} is {person.standing}.", **forms):
    if request.method != "POST":  # led back here after signing in again
        return redirect("accounts:person", person_id)
    (form,) = forms.values()
    changed = form.accepted(service, actor=request.user, person_id=person_id)
    if changed is None:
        return _person_page(request, person_id, status=400, **forms)
    messages.success(request, done.format(person=changed))
    # Who demoted or retired themselves may not see the page any more.
    is_self = changed.pk == request.user.pk
    return redirect("/") if is_self else redirect("accounts:person", person_id)


def _person_page(request, person_id, *, link=None, status=200, **forms):
    shown = queries.person_visible_to(request.user, person_id)
    context = {
        "person": shown,
        "factor": queries.second_factor_of(shown),
        "role_form": RoleForm(initial={"role": shown.role}),
        "activity_form": ReasonForm(),
        "factor_form": FactorReasonForm(),
        "link": link,
    } | forms
    return render(request, "accounts/person.html", context, status=status)
