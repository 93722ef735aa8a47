"""Changing standards of any kind; for admins: draft, edit, put in force, revise, discard, rename."""

from django.contrib import messages
from django.shortcuts import redirect, render

from curves.pages.access import GET_OR_POST, admins_only
from curves.pages.control.areas import StandardArea, control_tabs
from curves.pages.control.standard_forms import NameForm, ReviseForm
from curves.pages.control.standards import shown_facts
from curves.services import standards
from labsite.common.errors import LabError, WrongState


@GET_OR_POST
@admins_only
def new_standard(request, area: StandardArea):
    """Make a new standard with its first draft."""
    form = area.form(request.POST or None, request.FILES or None, is_new=True)
    refilled = form.refilled()
    if refilled is None and request.method == "POST":
        draft = form.accepted(standards.create_standard, kind=area.kind, actor=request.user)
        if draft is not None:
            messages.success(request, f"{draft} is saved as a draft. Put it in force when it is right.")
            return redirect(area.revision_url(draft))
    context = {"form": refilled or form, "title": f"New {area.noun}"}
    return _form_page(request, area, "curves/control/revision_form.html", context)


@GET_OR_POST
@admins_only
def rename(request, area: StandardArea, standard_id: int):
    """Change a standard's name and purpose."""
    standard = area.catalogue.standard(request.user, standard_id)
    initial = {"name": standard.name, "about": getattr(standard, area.kind.about)}
    form = NameForm(request.POST or None, initial=initial)
    form.fields["about"].label = area.form.about_label
    if request.method == "POST":
        named = form.accepted(
            standards.rename_standard, kind=area.kind, actor=request.user, standard_id=standard_id
        )
        if named is not None:
            messages.success(request, f"Saved: {named}.")
            return redirect(area.page_url(standard_id))
    context = {"form": form, "standard": standard, "title": f"Name of {standard}", "save": "Save"}
    return _form_page(request, area, "curves/control/short_form.html", context)


@GET_OR_POST
@admins_only
def revise(request, area: StandardArea, standard_id: int):
    """Begin a new revision, copied from the newest."""
    standard = area.catalogue.standard(request.user, standard_id)
    form = ReviseForm(request.POST or None)
    if request.method == "POST":
        draft = form.accepted(
            standards.revise_standard, kind=area.kind, actor=request.user, standard_id=standard_id
        )
        if draft is not None:
            messages.success(request, f"{draft} is a draft, copied from the one before. Edit it here.")
            return redirect(area.route["edit"], standard_id, draft.number)
    context = {
        "form": form,
        "standard": standard,
        "title": f"Revise {standard}",
        "save": "Make a draft",
        "text": f"A new {area.revision_noun} starts as a draft, copied from the newest one. What is in force "
        "stays in force until the draft is put in force; results never move from one to the other.",
    }
    return _form_page(request, area, "curves/control/short_form.html", context)


@GET_OR_POST
@admins_only
def edit_revision(request, area: StandardArea, standard_id: int, number: int):
    """Edit a draft; a revision in force is refused with the way to change it."""
    revision = area.catalogue.revision(request.user, standard_id, number)
    _require_draft(area, revision)
    seen = standards.fingerprint_of(kind=area.kind, revision=revision)
    initial = area.kind.values_of(revision) | {"change_note": revision.change_note, "seen": seen}
    form = area.form(request.POST or None, request.FILES or None, is_new=False, initial=initial)
    refilled = form.refilled()
    if refilled is None and request.method == "POST":
        saved = form.accepted(
            standards.edit_draft, kind=area.kind, actor=request.user, revision_id=revision.pk
        )
        if saved is not None:
            messages.success(request, f"{saved} is saved; it is still a draft.")
            return redirect(area.revision_url(saved))
    context = {
        "form": refilled or form,
        "title": f"Edit {revision}",
        "standard": area.kind.standard_of(revision),
        "revision": revision,
        "is_stale": form.is_bound and form.is_refused_as("changed_meanwhile"),
    }
    return _form_page(request, area, "curves/control/revision_form.html", context)


@GET_OR_POST
@admins_only
def enforce_revision(request, area: StandardArea, standard_id: int, number: int):
    """Show what would change, and put the draft in force."""
    revision = area.catalogue.revision(request.user, standard_id, number)
    faults = []
    if request.method == "POST":
        try:
            enforced = standards.put_in_force(
                kind=area.kind,
                actor=request.user,
                revision_id=revision.pk,
                seen=request.POST.get("seen", ""),
            )
        except LabError as fault:
            faults = [problem["message"] for problem in fault.problems] or [fault.message]
            revision = area.catalogue.revision(request.user, standard_id, number)
        else:
            messages.success(request, f"{enforced} is in force. It can't be edited any more.")
            return redirect(area.page_url(standard_id))
    else:
        _require_draft(area, revision)
    revisions = area.catalogue.revisions(request.user).filter(**{f"{area.kind.link}_id": standard_id})
    standing = revisions.filter(state="in_force").exclude(pk=revision.pk).first()
    context = {
        "revision": revision,
        "standard": area.kind.standard_of(revision),
        "title": f"Put {revision} in force",
        "seen": standards.fingerprint_of(kind=area.kind, revision=revision),
        "faults": faults,
        "standing": standing,
        "comparison": area.catalogue.comparison(standing, revision) if standing else None,
        "facts": shown_facts(area, revision),
        "part_facts": area.catalogue.part_facts(revision),
    }
    return _form_page(request, area, "curves/control/enforce.html", context, status=409 if faults else 200)


@GET_OR_POST
@admins_only
def discard_revision(request, area: StandardArea, standard_id: int, number: int):
    """Ask whether a draft should be dropped, and drop it."""
    revision = area.catalogue.revision(request.user, standard_id, number)
    if request.method == "POST":
        standards.discard_draft(kind=area.kind, actor=request.user, revision_id=revision.pk)
        messages.success(request, f"{revision} was discarded.")
        return redirect(area.page_url(standard_id))
    _require_draft(area, revision)
    context = {"revision": revision, "standard": area.kind.standard_of(revision), "title": "Discard a draft"}
    return _form_page(request, area, "curves/control/discard.html", context)


def _require_draft(area: StandardArea, revision) -> None:
    """Refuse to open a form that could only be refused when it is sent."""
    if not revision.is_editable:
        raise WrongState(
            f"{revision} is {revision.get_state_display()} and can't be changed any more. "
            f"Revise the {area.noun}: that makes a new draft, copied from it."
        )


def _form_page(request, area: StandardArea, template: str, context: dict, *, status: int | None = None):
    form = context.get("form")
    if status is None:
        status = 400 if form is not None and form.is_bound and form.errors else 200
    tabs = control_tabs(request.user, area.route["list"])
    return render(request, template, {"area": area, "tabs": tabs, **context}, status=status)
