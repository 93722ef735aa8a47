"""The lab's history; for admins."""

from django.core.paginator import Paginator
from django.shortcuts import render
from django.views.decorators.http import require_safe

from labsite.accounts import queries
from labsite.accounts.pages.access import admins_only
from labsite.accounts.pages.forms import HistoryForm

PAGE_SIZE = 50


@admins_only
@require_safe
def history(request):
    """List who changed what and when, newest first; filters and page live in the address."""
    people = queries.people_visible_to(request.user)
    form = HistoryForm(request.GET, people=people, actions=queries.actions_in_history())
    wanted = queries.HistoryFilter(**form.cleaned_data) if form.is_valid() else None
    records = queries.history_visible_to(request.user, wanted) if wanted else []
    page = Paginator(records, PAGE_SIZE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page}
    return render(request, "accounts/history.html", context, status=200 if wanted else 400)
