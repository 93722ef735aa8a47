"""Test rolls: listed, planned, read and edited by their members."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.roll_documents import ListedRollSerializer, OneRollSerializer
from curves.models import RollState
from curves.queries.roll_page import roll_page
from curves.queries.rolls import RollFilter, listed_rolls, visible_roll
from curves.services.rolls import edit_roll, plan_roll
from labsite.accounts.api.access import Members, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, identifier, text
from labsite.accounts.api.views import LabView
from labsite.common.access import require_member


class RollsAskedSerializer(Asked):
    """Which rolls are wanted."""

    state = Choice(RollState, required=False)
    stock_id = identifier(required=False)
    process_revision_id = identifier(required=False)
    exposure_revision_id = identifier(required=False)
    member_id = identifier(required=False, help_text="For members only.")
    is_mine = serializers.BooleanField(required=False, help_text="For members only.")


class NewRollSerializer(Given):
    """A new roll: which film, under which standards."""

    batch_id = identifier()
    exposure_revision_id = identifier(help_text="A revision in force.")
    process_revision_id = identifier(help_text="A revision in force.")
    exposed_on = serializers.DateField(required=False, allow_null=True)
    notes = text(required=False)


class RollChangesSerializer(Given):
    """What may still change of a draft; what is not given stays."""

    exposed_on = serializers.DateField(required=False, allow_null=True)
    notes = text(required=False)


class RollView(LabView):
    """What the views of one roll share: they answer with how the roll stands afterwards."""

    def one_roll(self, roll_id: int, *, status: int = 200) -> Response:
        """Return the answer with one roll."""
        return self.answer(OneRollSerializer, roll_page(self.request.user, roll_id), status=status)


class Rolls(RollView):
    """The lab's test rolls."""

    @operation(access=Readers, asks=RollsAskedSerializer, lists=ListedRollSerializer, refusals=(403,))
    def get(self, request):
        """List test rolls, newest first; visitors get accepted ones."""
        asked = self.asked(RollsAskedSerializer)
        if asked.keys() & {"member_id", "is_mine"}:
            require_member(request.user)
        wanted = RollFilter(
            process_id=asked.pop("process_revision_id", None),
            exposure_id=asked.pop("exposure_revision_id", None),
            **asked,
        )
        return self.paged(ListedRollSerializer, listed_rolls(request.user, wanted))

    @operation(access=Members, body=NewRollSerializer, answer=OneRollSerializer, status=201)
    def post(self, request):
        """Plan a test roll; it has its first strip."""
        roll = plan_roll(actor=request.user, **self.given(NewRollSerializer))
        return self.one_roll(roll.pk, status=201)


class OneRoll(RollView):
    """One test roll."""

    @operation(access=Readers, answer=OneRollSerializer, refusals=(404,))
    def get(self, request, roll_id: int):
        """Read one test roll."""
        return self.one_roll(roll_id)

    @operation(access=Members, body=RollChangesSerializer, answer=OneRollSerializer, refusals=(404, 409))
    def patch(self, request, roll_id: int):
        """Change what a draft says about itself; its member may."""
        given = self.given(RollChangesSerializer)
        roll = visible_roll(request.user, roll_id)
        said = {"exposed_on": roll.exposed_on, "notes": roll.notes} | given
        edit_roll(actor=request.user, roll_id=roll_id, **said)
        return self.one_roll(roll_id)
