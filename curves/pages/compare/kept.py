"""Keeping comparisons: the list of saved and frozen ones, saving, renaming, deleting, freezing."""

from dataclasses import replace

from django.contrib import messages
from django.http import QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST, members_only, readers_only
from curves.pages.compare.drawing import comparison_plot, figure_title, listed_curves
from curves.pages.compare.files import document_file
from curves.pages.compare.frozen_table import frozen_parts
from curves.pages.compare.kept_forms import FreezeForm, NameForm
from curves.pages.compare.selection import Selection
from curves.pages.compare.views import asked_document, asked_view
from curves.queries.comparison import ComparisonView
from curves.queries.comparisons_kept import (
    frozen_comparison,
    frozen_curves,
    newer_results_than,
    visible_frozen,
    visible_saved,
)
from curves.services.comparisons import (
    delete_comparison,
    freeze_comparison,
    rename_comparison,
    save_comparison,
)
from labsite.common.errors import NotFound, WrongState

MOST_LISTED = 200


@require_safe
@readers_only
def kept(request):
    """List what was saved and what was frozen; one's own saved comparisons first."""
    saved = list(visible_saved(request.user)[:MOST_LISTED])
    own = [each for each in saved if each.owner_id == request.user.pk]
    context = {
        "own": own,
        "others": [each for each in saved if each.owner_id != request.user.pk],
        "frozen": visible_frozen(request.user)[:MOST_LISTED],
    }
    return render(request, "curves/compare/kept.html", context)


@GET_OR_POST
@members_only
def save(request):
    """Save the comparison of this address under a name."""
    selection = Selection.from_query(request.GET)
    form = NameForm(request.POST or None)
    query = selection.query()
    if request.method == "POST" and form.accepted(save_comparison, actor=request.user, query=query):
        messages.success(request, f"Saved as “{form.cleaned_data['name']}”.")
        return redirect(f"{reverse('compare')}?{query}")
    return _form(request, form, "Save this comparison", "Save", f"{reverse('compare')}?{query}", SAVED_HELP)


@GET_OR_POST
@members_only
def rename(request, comparison_id: int):
    """Rename a saved comparison of one's own."""
    saved = _saved(request.user, comparison_id)
    form = NameForm(request.POST or None, initial={"name": saved.name})
    if request.method == "POST" and form.accepted(
        rename_comparison, actor=request.user, comparison_id=comparison_id
    ):
        messages.success(request, "The name is changed.")
        return redirect("compare_kept")
    return _form(request, form, f"Rename “{saved.name}”", "Rename", reverse("compare_kept"), "")


@GET_OR_POST
@members_only
def delete(request, comparison_id: int):
    """Ask, then delete a saved comparison of one's own."""
    saved = _saved(request.user, comparison_id)
    if request.method == "POST":
        delete_comparison(actor=request.user, comparison_id=comparison_id)
        messages.success(request, f"“{saved.name}” is deleted.")
        return redirect("compare_kept")
    return render(request, "curves/compare/delete.html", {"saved": saved})


@GET_OR_POST
@members_only
def freeze(request):
    """Freeze the comparison of this address for citing."""
    selection = Selection.from_query(request.GET)
    form = FreezeForm(request.POST or None)
    query = selection.query()
    if request.method == "POST" and form.is_valid():
        view = asked_view(request.user, selection)
        _require_all_there(view, selection)
        frozen = form.accepted(
            freeze_comparison,
            actor=request.user,
            query=query,
            pair_ids=view.pair.ids,
            document=asked_document(view, selection),
        )
        if frozen:
            messages.success(request, "Frozen. This link and its files stay as they are.")
            return redirect("compare_frozen", frozen.code)
    return _form(
        request, form, "Freeze this comparison", "Freeze", f"{reverse('compare')}?{query}", FROZEN_HELP
    )


@require_safe
@readers_only
def frozen(request, frozen_code: str):
    """Show a frozen comparison: its numbers as they were, and whether newer results stand."""
    found = frozen_comparison(request.user, frozen_code)
    address = request.build_absolute_uri(reverse("compare_frozen", args=[frozen_code]))
    asked = Selection.from_query(QueryDict(found.query))
    curves = frozen_curves(found)
    # Panels are a choice of the live page; here one figure shows all.
    drawn = replace(asked, view="curves") if asked.view == "panels" else asked
    figure = comparison_plot(curves, drawn)
    context = {
        "frozen": found,
        "parts": frozen_parts(found.document),
        "said": [stock for stock in found.document["stocks"] if stock.get("sentences")],
        "permalink": address,
        "newer": newer_results_than(found),
        "live_query": asked.query(),
        "figure": figure,
        "limits": drawn.limits.over(figure),
        "figure_title": figure_title(curves, drawn),
        "curves": listed_curves(curves, drawn, figure),
    }
    return render(request, "curves/compare/frozen.html", context)


@require_safe
@readers_only
def frozen_file(request, frozen_code: str, file_kind: str):
    """Send a frozen comparison as a file."""
    found = frozen_comparison(request.user, frozen_code)
    return document_file(found.document, file_kind, f"comparison-{frozen_code}", csv_text=found.table)


SAVED_HELP = "It follows the newest results. Members see it; only you may rename or delete it."
FROZEN_HELP = (
    "Numbers, results and engine versions are kept as they are now, under a short link for citing. The same"
    " file comes from it for ever, and it cannot be changed or deleted."
)


def _require_all_there(view: ComparisonView, selection: Selection) -> None:
    """Refuse to freeze less than was chosen: a citation would say what nobody meant."""
    if view.pair is None:
        raise NotFound("There is nothing to freeze yet: no stock has a result.")
    absent = len(set(selection.stocks) - {stock.stock.pk for stock in view.stocks})
    if absent:
        raise WrongState(
            f"{absent} of the {len(selection.stocks)} chosen stocks have no result here. Open the comparison,"
            " choose again, and freeze that."
        )


def _saved(user, comparison_id: int):
    found = visible_saved(user).filter(pk=comparison_id).first()
    if found is None:
        raise NotFound("There is no such saved comparison.")
    return found


def _form(request, form, title: str, save_label: str, cancel: str, help_text: str):
    context = {
        "form": form,
        "title": title,
        "save_label": save_label,
        "cancel": cancel,
        "help_text": help_text,
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/compare/keep_form.html", context, status=status)
