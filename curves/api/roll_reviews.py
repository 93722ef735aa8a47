"""What admins decide on rolls, and what a member takes out of comparisons."""

from curves.api.roll_documents import OneRollSerializer
from curves.api.rolls import RollView
from curves.services.reviews import accept_roll, override_control, return_roll, void_roll, withdraw_roll
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, identifier, text

SEEN = "The analysis that you looked at (`roll.analysis_id`); refused if another stands by now."


class AcceptanceSerializer(Given):
    """A decision for the roll."""

    reasons = text(required=False)
    control_override_reason = text(
        required=False, help_text="Why it counts although its run was out of control; empty: it does not."
    )
    seen_analysis_id = identifier(required=False, allow_null=True, help_text=SEEN)


class ReturnSerializer(Given):
    """A decision to have something mended."""

    reasons = text(help_text="What the member should mend.")
    seen_analysis_id = identifier(required=False, allow_null=True, help_text=SEEN)


class EndingSerializer(Given):
    """Why, for those who relied on it."""

    reasons = text()


class OverrideSerializer(Given):
    """Why it counts although its run was out of control."""

    reason = text(help_text="Empty: hold it back again.")


class AcceptRoll(RollView):
    """Accepting."""

    @operation(access=Admins, body=AcceptanceSerializer, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Accept a submitted roll, so that its stock is pooled anew and compared."""
        accept_roll(actor=request.user, roll_id=roll_id, **self.given(AcceptanceSerializer))
        return self.one_roll(roll_id)


class ReturnRoll(RollView):
    """Giving back."""

    @operation(access=Admins, body=ReturnSerializer, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Return a submitted roll to its member with what to mend."""
        return_roll(actor=request.user, roll_id=roll_id, **self.given(ReturnSerializer))
        return self.one_roll(roll_id)


class WithdrawRoll(RollView):
    """Taking out of comparisons."""

    @operation(access=Members, body=EndingSerializer, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Take an accepted roll out of comparisons; its member or an admin may."""
        withdraw_roll(actor=request.user, roll_id=roll_id, **self.given(EndingSerializer))
        return self.one_roll(roll_id)


class VoidRoll(RollView):
    """Declaring wrong."""

    @operation(access=Admins, body=EndingSerializer, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Declare an accepted roll wrong; nothing rests on it any more."""
        void_roll(actor=request.user, roll_id=roll_id, **self.given(EndingSerializer))
        return self.one_roll(roll_id)


class OverrideControl(RollView):
    """Letting in, or holding back."""

    @operation(access=Admins, body=OverrideSerializer, answer=OneRollSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int):
        """Let an accepted roll of a run out of control into comparisons, or hold it back again."""
        override_control(actor=request.user, roll_id=roll_id, **self.given(OverrideSerializer))
        return self.one_roll(roll_id)
