"""Verdicts: one of them, writing it and writing it anew, withdrawing it; the queue for admins."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from curves.pages.access import GET_OR_POST, admins_only, members_only, posted_from, readers_only
from curves.pages.stocks.verdict_forms import DecisionForm, VerdictForm
from curves.queries.stock_sheet import stock_sheet
from curves.queries.verdicts import one_verdict, verdict_queue
from curves.services.verdicts import (
    approve_verdict,
    decline_verdict,
    rewrite_verdict,
    withdraw_verdict,
    write_verdict,
)
from labsite.accounts.pages.outcomes import done_or_told
from labsite.common.errors import LabError, NotAllowed, WrongState

SENT = "Your verdict waits for an admin."
TEXTS = ("purposes", "what_for", "strengths", "watch_out")


@require_safe
@readers_only
def verdict(request, verdict_id: int):
    """Show one verdict with its earlier texts and what can be done with it."""
    return _verdict_page(request, verdict_id)


@GET_OR_POST
@members_only
def write(request, stock_id: int):
    """Write a verdict on a stock under a pair of standards."""
    sheet = stock_sheet(request.user, stock_id, pair_key=request.GET.get("standards", "")[:40])
    if sheet.result is None or not sheet.result.is_standing:
        raise WrongState("No result of this stock stands here, so there is nothing to judge by yet.")
    form = VerdictForm(request.POST or None, initial={"result_id": sheet.result.pooled.pk})
    if request.method == "POST" and (made := form.accepted(write_verdict, actor=request.user)):
        messages.success(request, SENT)
        return redirect("verdict", made.pk)
    return _form(request, form, sheet, "Write a verdict", reverse("stock", args=[stock_id]))


@GET_OR_POST
@members_only
def rewrite(request, verdict_id: int):
    """Write one's verdict anew."""
    shown = one_verdict(request.user, verdict_id)
    if not shown.can_rewrite:
        refusal = WrongState if shown.verdict.author_id == request.user.pk else NotAllowed
        raise refusal("Only its author may write a verdict anew, as long as it is not withdrawn or replaced.")
    sheet = stock_sheet(request.user, shown.verdict.stock_id, pair_key=shown.verdict.pair_key)
    initial = {name: getattr(shown.verdict, name) for name in TEXTS}
    initial["result_id"] = sheet.result.pooled.pk if sheet.result else None
    form = VerdictForm(request.POST or None, initial=initial)
    if request.method == "POST":
        made = form.accepted(rewrite_verdict, actor=request.user, verdict_id=verdict_id)
        if made:
            messages.success(request, SENT)
            return redirect("verdict", made.pk)
    return _form(request, form, sheet, "Write it anew", reverse("verdict", args=[verdict_id]))


@posted_from("verdict")
@members_only
def withdraw(request, verdict_id: int):
    """Take one's verdict back."""
    one_verdict(request.user, verdict_id)
    done = "Your verdict is withdrawn; its text is kept."
    return done_or_told(
        request, redirect("verdict", verdict_id), withdraw_verdict, done, verdict_id=verdict_id
    )


@posted_from("verdict")
@admins_only
def approve(request, verdict_id: int):
    """Let a verdict be shown."""
    return _decided(request, verdict_id, approve_verdict, "The verdict is shown with the stock now.")


@posted_from("verdict")
@admins_only
def decline(request, verdict_id: int):
    """Give a verdict back with what speaks against it."""
    return _decided(request, verdict_id, decline_verdict, "The verdict is declined, with your reason.")


@require_safe
@admins_only
def queue(request):
    """The verdicts that wait for a decision."""
    return render(request, "curves/stocks/verdict_queue.html", {"queue": verdict_queue(request.user)})


def _decided(request, verdict_id: int, service, done: str):
    form = DecisionForm(request.POST)
    try:
        is_done = form.accepted(service, actor=request.user, verdict_id=verdict_id)
    except LabError as fault:
        messages.error(request, fault.message)
        return redirect("verdict", verdict_id)
    if not is_done:
        return _verdict_page(request, verdict_id, decision_form=form, status=400)
    messages.success(request, done)
    return redirect("verdict_queue")


def _verdict_page(request, verdict_id: int, *, decision_form=None, status: int = 200):
    shown = one_verdict(request.user, verdict_id)
    context = {"shown": shown, "verdict": shown.verdict, "decision_form": decision_form or DecisionForm()}
    return render(request, "curves/stocks/verdict.html", context, status=status)


def _form(request, form, sheet, title: str, cancel: str):
    context = {"form": form, "sheet": sheet, "stock": sheet.stock, "title": title, "cancel": cancel}
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "curves/stocks/verdict_form.html", context, status=status)
