"""Entering and correcting stocks, and entering their batches; any member may."""

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from curves.models import Batch
from curves.pages.access import GET_OR_POST, members_only
from curves.pages.stocks.forms import BatchForm, StockForm
from curves.queries.stock_sheet import visible_stock
from curves.services.films import add_batch, add_stock, edit_stock


@GET_OR_POST
@members_only
def new(request):
    """Enter a stock; its first batch comes next, since rolls are cut from batches."""
    form = StockForm(request.POST or None)
    if request.method == "POST":
        stock = form.accepted(add_stock, actor=request.user)
        if stock is not None:
            messages.success(request, f"{stock} is entered. Add the batch that you have, next.")
            return redirect(f"{reverse('batch_new', args=[stock.pk])}?{urlencode(_next_of(request))}")
    context = {"form": form, "title": "New stock", "save": "Save, and add a batch"}
    return render(request, "curves/stocks/form.html", context, status=_status(form))


@GET_OR_POST
@members_only
def edit(request, stock_id: int):
    """Correct what is said about a stock."""
    stock = visible_stock(request.user, stock_id)
    form = StockForm(request.POST or None, initial=StockForm.values_of(stock))
    if request.method == "POST" and form.accepted(edit_stock, actor=request.user, stock_id=stock.pk):
        messages.success(request, "The changes are saved.")
        return redirect("stock", stock.pk)
    context = {"form": form, "stock": stock, "title": f"Edit {stock}", "save": "Save the changes"}
    return render(request, "curves/stocks/form.html", context, status=_status(form))


@GET_OR_POST
@members_only
def new_batch(request, stock_id: int):
    """Enter a batch; ``?next=`` leads back to where it was missed, such as the plan of a roll."""
    stock = visible_stock(request.user, stock_id)
    form = BatchForm(request.POST or None)
    if request.method == "POST":
        batch = form.accepted(add_batch, actor=request.user, stock_id=stock.pk)
        if batch is not None:
            messages.success(request, f"Batch {batch.emulsion_number} of {stock} is entered.")
            return redirect(_way_on(request, batch))
    cancel = _next_of(request).get("next") or reverse("stock", args=[stock.pk])
    context = {"form": form, "stock": stock, "cancel": cancel}
    return render(request, "curves/stocks/batch_form.html", context, status=_status(form))


def _way_on(request: HttpRequest, batch: Batch) -> str:
    """Where to go after a batch; a plan that waits for it has it chosen."""
    wanted = _next_of(request).get("next")
    if not wanted:
        return reverse("stock", args=[batch.stock_id])
    plan = reverse("roll_plan")
    return f"{plan}?{urlencode({'batch': batch.pk})}" if wanted.split("?")[0] == plan else wanted


def _next_of(request: HttpRequest) -> dict[str, str]:
    """The address in ``?next=`` when it is one of this site; nobody is led elsewhere."""
    wanted = request.GET.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return {"next": wanted} if is_ours else {}


def _status(form) -> int:
    return 400 if form.is_bound and form.errors else 200
