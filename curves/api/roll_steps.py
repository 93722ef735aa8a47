"""What members do with their rolls on the way to the submission, and remarks of anybody's."""

from curves.api.roll_documents import OneRollSerializer, RemarkSerializer, StripSerializer
from curves.api.rolls import RollView
from curves.services.fitting import refit_roll
from curves.services.rolls import add_strip, assign_run, recall_roll, remark_on_roll, submit_roll
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, identifier, text
from labsite.jobs.api import JobSerializer


class RunOfRollSerializer(Given):
    """The run in which the roll was developed."""

    run_id = identifier()


class NewRemarkSerializer(Given):
    """A note for the whole lab."""

    text = text()


class AssignRun(RollView):
    """The run of a roll."""

    @operation(access=Members, body=RunOfRollSerializer, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Say in which process run the roll was developed."""
        assign_run(actor=request.user, roll_id=roll_id, **self.given(RunOfRollSerializer))
        return self.one_roll(roll_id)


class Strips(RollView):
    """The strips of a roll."""

    @operation(access=Members, answer=StripSerializer, status=201, refusals=(400, 404, 409))
    def post(self, request, roll_id: int):
        """Add another exposure of the tablet to a draft."""
        strip = add_strip(actor=request.user, roll_id=roll_id)
        return self.answer(StripSerializer, strip, status=201)


class FitRoll(RollView):
    """Asking for a roll's curve anew."""

    @operation(access=Members, answer=JobSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Fit the curve of a roll again that is not decided on; the job is answered."""
        return self.answer(JobSerializer, refit_roll(actor=request.user, roll_id=roll_id))


class SubmitRoll(RollView):
    """Handing a roll in."""

    @operation(access=Members, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Hand a roll in for review; it needs its run, its readings and a curve of just these."""
        submit_roll(actor=request.user, roll_id=roll_id)
        return self.one_roll(roll_id)


class RecallRoll(RollView):
    """Taking a roll back."""

    @operation(access=Members, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Take a submitted roll back to change it."""
        recall_roll(actor=request.user, roll_id=roll_id)
        return self.one_roll(roll_id)


class Remarks(RollView):
    """Remarks on a roll."""

    @operation(access=Members, body=NewRemarkSerializer, answer=RemarkSerializer, status=201, refusals=(404,))
    def post(self, request, roll_id: int):
        """Leave a remark for the whole lab."""
        remark = remark_on_roll(actor=request.user, roll_id=roll_id, **self.given(NewRemarkSerializer))
        return self.answer(RemarkSerializer, remark, status=201)
