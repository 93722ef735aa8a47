"""Reading standards of any kind: the list, one standard, one revision, the difference of two."""

from django import forms
from django.shortcuts import render
from django.template.defaultfilters import linebreaksbr
from django.views.decorators.http import require_safe

from curves.pages.access import readers_only
from curves.pages.control.areas import StandardArea, control_tabs
from curves.pages.listing import csv_file, export_url, is_export, kept_parameters, page_of, sorted_rows
from curves.queries.revisions import Comparison
from curves.queries.safety_sheets import safety_sheets
from labsite.common.access import is_member
from labsite.common.errors import NotFound

SORT_KEYS = {"name": "name", "number": "in_force_number", "since": "in_force_at"}


def shown_facts(area: StandardArea, revision) -> list[tuple[str, str]]:
    """Return what a revision fixes with the line breaks that were typed."""
    return [(label, linebreaksbr(text)) for label, text in area.catalogue.facts(revision)]


class StandardFilterForm(forms.Form):
    """Which standards are wanted."""

    q = forms.CharField(label="Name", required=False)
    state = forms.ChoiceField(
        label="State",
        required=False,
        choices=[("", "any"), ("in_force", "in force"), ("draft", "with a draft"), ("none", "not in force")],
    )

    CONDITIONS = {
        "in_force": {"in_force_number__isnull": False},
        "draft": {"draft_number__isnull": False},
        "none": {"in_force_number__isnull": True},
    }

    def __init__(self, *args, sees_drafts: bool, **kwargs):
        super().__init__(*args, **kwargs)
        if not sees_drafts:
            del self.fields["state"]

    def filtered(self, standards):
        """Return the standards that are wanted."""
        if not self.is_valid():
            return standards.none()
        standards = standards.filter(name__icontains=self.cleaned_data["q"])
        return standards.filter(**self.CONDITIONS.get(self.cleaned_data.get("state"), {}))


@require_safe
@readers_only
def standard_list(request, area: StandardArea):
    """List the standards of one kind."""
    form = StandardFilterForm(request.GET, sees_drafts=is_member(request.user))
    standards = form.filtered(area.catalogue.standards(request.user))
    standards = sorted_rows(request, standards, SORT_KEYS, default="name")
    if is_export(request):
        columns = [
            (area.noun, lambda row: row.name),
            ("in force", lambda row: row.in_force_number),
            ("since", lambda row: f"{row.in_force_at:%Y-%m-%d}" if row.in_force_at else ""),
            ("draft", lambda row: row.draft_number),
        ]
        return csv_file(f"{area.key}-standards.csv", standards, columns)
    context = {
        "area": area,
        "tabs": control_tabs(request.user, area.route["list"]),
        "form": form,
        "page": page_of(request, standards),
        "export_url": export_url(request),
        "keep": kept_parameters(request, "sort"),
    }
    return render(request, "curves/control/standard_list.html", context)


@require_safe
@readers_only
def standard_page(request, area: StandardArea, standard_id: int):
    """Show one standard: what is in force, and every revision."""
    standard = area.catalogue.standard(request.user, standard_id)
    revisions = area.catalogue.revisions_of(request.user, standard)
    in_force = next((r for r in revisions if r.state == "in_force"), None)
    context = {
        "area": area,
        "tabs": control_tabs(request.user, area.route["list"]),
        "standard": standard,
        "about": getattr(standard, area.kind.about),
        "revisions": revisions,
        "in_force": in_force,
        "sheets": _sheets(request.user, area, standard_id),
        "draft": next((r for r in revisions if r.is_editable), None),
        "facts": shown_facts(area, in_force) if in_force else [],
        "part_facts": area.catalogue.part_facts(in_force) if in_force else [],
    }
    return render(request, "curves/control/standard.html", context)


@require_safe
@readers_only
def revision_page(request, area: StandardArea, standard_id: int, number: int):
    """Show one revision, whatever its state."""
    revision = area.catalogue.revision(request.user, standard_id, number)
    others = area.catalogue.revisions(request.user).filter(**{f"{area.kind.link}_id": standard_id})
    before = others.filter(number__lt=number).order_by("-number").first()
    context = {
        "area": area,
        "tabs": control_tabs(request.user, area.route["list"]),
        "standard": area.kind.standard_of(revision),
        "revision": revision,
        "facts": shown_facts(area, revision),
        "part_facts": area.catalogue.part_facts(revision),
        "sheets": _sheets(request.user, area, standard_id),
        "before": before,
        "comparison": area.catalogue.comparison(before, revision) if before else None,
        "is_only": before is None and not others.filter(number__gt=number).exists(),
    }
    return render(request, "curves/control/revision.html", context)


@require_safe
@readers_only
def difference_page(request, area: StandardArea, standard_id: int):
    """Show what two revisions of a standard say differently; the last two unless others are chosen."""
    standard = area.catalogue.standard(request.user, standard_id)
    revisions = area.catalogue.revisions_of(request.user, standard)
    form = DifferenceForm(request.GET or None, revisions=revisions)
    context = {
        "area": area,
        "tabs": control_tabs(request.user, area.route["list"]),
        "standard": standard,
        "form": form,
        "comparison": _chosen_comparison(area, form, revisions),
    }
    return render(request, "curves/control/difference.html", context)


def _sheets(user, area: StandardArea, standard_id: int):
    """The safety data sheets of a process; other standards have none."""
    return safety_sheets(user, standard_id=standard_id) if area.key == "process" else ()


class DifferenceForm(forms.Form):
    """Which two revisions are held against each other."""

    before = forms.TypedChoiceField(label="Before", coerce=int)
    after = forms.TypedChoiceField(label="After", coerce=int)

    def __init__(self, *args, revisions, **kwargs):
        super().__init__(*args, **kwargs)
        choices = [(r.number, f"{r.number}, {r.get_state_display()}") for r in revisions]
        for name in ("before", "after"):
            self.fields[name].choices = choices
        if len(revisions) > 1:
            self.initial = {"before": revisions[1].number, "after": revisions[0].number}


def _chosen_comparison(area: StandardArea, form: DifferenceForm, revisions) -> Comparison | None:
    if form.is_bound and not form.is_valid():
        raise NotFound("There are no two such revisions to compare. Choose from the list.")
    chosen = form.cleaned_data if form.is_bound else form.initial
    if not chosen:
        return None
    by_number = {revision.number: revision for revision in revisions}
    return area.catalogue.comparison(by_number[chosen["before"]], by_number[chosen["after"]])
