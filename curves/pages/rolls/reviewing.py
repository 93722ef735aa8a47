"""The review queue, and what admins decide: accept, return, withdraw, void, override."""

from django.contrib import messages
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from curves.models.processes import ControlState
from curves.pages.access import GET_OR_POST, admins_only, members_only, posted_from
from curves.pages.rolls.forms import AcceptForm, OverrideForm, ReturnForm
from curves.pages.rolls.roll import roll_response
from curves.queries.reviews import review_queue
from curves.queries.rolls import endable_roll, visible_roll
from curves.services.reviews import accept_roll, override_control, return_roll, void_roll, withdraw_roll
from labsite.accounts.pages.outcomes import done_or_told
from labsite.common.errors import InvalidInput, WrongState


@require_safe
@admins_only
def queue(request):
    """The rolls that wait for a decision."""
    return render(request, "curves/rolls/queue.html", {"queue": review_queue(request.user)})


@posted_from("roll")
@admins_only
def accept(request, roll_id: int):
    """Accept a submitted roll."""
    run = visible_roll(request.user, roll_id).run
    is_out = run is not None and run.control_state == ControlState.OUT_OF_CONTROL
    form = AcceptForm(request.POST, is_out_of_control=is_out)
    return _decided(request, roll_id, form, accept_roll, "The roll is accepted.", "accept_form")


@posted_from("roll")
@admins_only
def give_back(request, roll_id: int):
    """Return a submitted roll with what to mend."""
    form = ReturnForm(request.POST)
    return _decided(request, roll_id, form, return_roll, "The roll is returned to its member.", "return_form")


@GET_OR_POST
@members_only
def withdraw(request, roll_id: int):
    """Take an accepted roll out of comparisons."""
    words = {
        "id": "withdraw",
        "title": "Withdraw this roll?",
        "text": "It leaves the stock's result and every live comparison. It stays readable.",
        "label": "Withdraw the roll",
    }
    return _ended(request, roll_id, withdraw_roll, words, "The roll is withdrawn.")


@GET_OR_POST
@admins_only
def void(request, roll_id: int):
    """Declare an accepted roll wrong."""
    words = {
        "id": "void",
        "title": "Void this roll?",
        "text": "Nothing rests on it any more: it was wrong. It stays readable, with your reason.",
        "label": "Void the roll",
    }
    return _ended(request, roll_id, void_roll, words, "The roll is void.")


@posted_from("roll")
@admins_only
def override(request, roll_id: int):
    """Let a roll of a run out of control into comparisons; with ``lift`` hold it back again."""
    if "lift" in request.POST:
        done = "The roll is held back again."
        return _told(request, roll_id, override_control, done, reason="")
    done = "The roll enters comparisons; your reason is shown with it."
    return _decided(request, roll_id, OverrideForm(request.POST), override_control, done, "override_form")


def _decided(request, roll_id: int, form, service, done: str, name: str):
    try:
        is_done = form.is_valid() and service(actor=request.user, roll_id=roll_id, **form.cleaned_data)
    except WrongState as fault:
        messages.error(request, fault.message)
        return redirect("roll", roll_id)
    except InvalidInput as fault:
        form.refuse(fault)
        is_done = False
    if not is_done:
        return roll_response(request, roll_id, status=400, **{name: form})
    messages.success(request, done)
    return redirect("roll", roll_id)


def _ended(request, roll_id: int, service, words: dict, done: str):
    if request.method != "POST":
        roll = endable_roll(request.user, roll_id)
        return render(request, "curves/rolls/confirm.html", {"roll": roll, "words": words})
    return _told(request, roll_id, service, done, reasons=request.POST.get("reason", ""))


def _told(request, roll_id: int, service, done: str, **arguments):
    return done_or_told(request, redirect("roll", roll_id), service, done, roll_id=roll_id, **arguments)
