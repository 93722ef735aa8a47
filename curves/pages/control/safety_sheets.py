"""The lab's safety data sheets: the list, adding one, taking one off."""

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from curves.models import ProcessStandard
from curves.pages.access import GET_OR_POST, admins_only, readers_only
from curves.pages.control.areas import control_tabs
from curves.queries.safety_sheets import safety_sheets
from curves.services.safety_sheets import add_safety_sheet, remove_safety_sheet
from labsite.accounts.pages.forms import LabForm


class SheetForm(LabForm):
    """Where a product's sheet is kept."""

    chemical = forms.CharField(label="Product", max_length=120, help_text="As its bottle names it.")
    url = forms.CharField(label="Address of the sheet", max_length=500, widget=forms.URLInput)
    title = forms.CharField(label="Title", max_length=160, required=False)
    standard_id = forms.TypedChoiceField(label="For", required=False, coerce=int, empty_value=None)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        standards = ProcessStandard.objects.values_list("pk", "name")
        self.fields["standard_id"].choices = [("", "the whole lab"), *standards]


@require_safe
@readers_only
def sheet_list(request):
    """List the sheets."""
    return _page(request, SheetForm())


@GET_OR_POST
@admins_only
def add_sheet(request):
    """Link a sheet."""
    form = SheetForm(request.POST or None)
    if request.method == "POST":
        sheet = form.accepted(add_safety_sheet, actor=request.user)
        if sheet is not None:
            messages.success(
                request, f"The sheet of {sheet.chemical} is linked wherever its process is shown."
            )
            return redirect("safety_sheets")
    return _page(request, form, status=400 if form.errors else 200)


@require_POST
@admins_only
def remove_sheet(request, sheet_id: int):
    """Take a sheet off the list."""
    sheet = remove_safety_sheet(actor=request.user, sheet_id=sheet_id)
    messages.success(request, f"The sheet of {sheet.chemical} is off the list.")
    return redirect("safety_sheets")


def _page(request, form, *, status: int = 200):
    context = {
        "tabs": control_tabs(request.user, "process_list"),
        "sheets": safety_sheets(request.user),
        "form": form,
    }
    return render(request, "curves/control/safety_sheets.html", context, status=status)
