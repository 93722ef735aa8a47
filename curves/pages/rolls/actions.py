"""What is done to a roll at once, from its page: handing in, taking back, fitting again, remarks, strips."""

from django.contrib import messages
from django.shortcuts import redirect

from curves.pages.access import members_only, posted_from
from curves.pages.rolls.forms import RemarkForm
from curves.pages.rolls.roll import roll_response
from curves.services.fitting import refit_roll
from curves.services.rolls import add_strip, recall_roll, remark_on_roll, submit_roll
from labsite.accounts.pages.outcomes import done_or_told


@posted_from("roll")
@members_only
def submit(request, roll_id: int):
    """Hand the roll in for review."""
    return _done(request, roll_id, submit_roll, "The roll is submitted for review.")


@posted_from("roll")
@members_only
def recall(request, roll_id: int):
    """Take a submitted roll back."""
    return _done(request, roll_id, recall_roll, "The roll is yours again; submit it when it is ready.")


@posted_from("roll")
@members_only
def refit(request, roll_id: int):
    """Ask anew for the roll's curve."""
    return _done(request, roll_id, refit_roll, "The curve is being fitted again.")


@posted_from("roll")
@members_only
def add(request, roll_id: int):
    """Add another strip."""
    return _done(request, roll_id, add_strip, "A strip is added.")


@posted_from("roll")
@members_only
def remark(request, roll_id: int):
    """Leave a remark for the whole lab."""
    form = RemarkForm(request.POST)
    if form.accepted(remark_on_roll, actor=request.user, roll_id=roll_id) is None:
        return roll_response(request, roll_id, status=400, remark_form=form)
    messages.success(request, "The remark is kept.")
    return redirect("roll", roll_id)


def _done(request, roll_id: int, service, done: str):
    return done_or_told(request, redirect("roll", roll_id), service, done, roll_id=roll_id)
