"""How one thing names another: enough to show it and to ask for it."""

from rest_framework import serializers

from curves.models import RevisionState, RollState
from curves.models.processes import ControlState
from labsite.accounts.api.fields import Choice
from labsite.common.access import is_member


class StockLabelSerializer(serializers.Serializer):
    """A film stock."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    maker = serializers.CharField()
    box_speed = serializers.IntegerField(help_text="ISO arithmetic speed on the box.")


class BatchLabelSerializer(serializers.Serializer):
    """A batch of a stock."""

    id = serializers.IntegerField()
    emulsion_number = serializers.CharField()


class RevisionLabelSerializer(serializers.Serializer):
    """A revision of a process or exposure standard."""

    id = serializers.IntegerField()
    standard_id = serializers.IntegerField()
    number = serializers.IntegerField()
    state = Choice(RevisionState)
    label = serializers.CharField(source="__str__")


class CalibrationLabelSerializer(serializers.Serializer):
    """A calibration of a step tablet."""

    id = serializers.IntegerField()
    tablet_id = serializers.IntegerField()
    number = serializers.IntegerField()
    label = serializers.CharField(source="__str__")


class RunLabelSerializer(serializers.Serializer):
    """A process run."""

    id = serializers.IntegerField()
    ran_on = serializers.DateField()
    control_state = Choice(ControlState)
    control_reason = serializers.CharField()


class RollLabelSerializer(serializers.Serializer):
    """A test roll."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    state = Choice(RollState)


class ReadersSerializer(serializers.Serializer):
    """What visitors may read too; they get null for what is for members only."""

    members_only: tuple[str, ...] = ()

    def to_representation(self, instance) -> dict:
        """Return the values, the members' own ones emptied for visitors."""
        values = super().to_representation(instance)
        if not is_member(self.context["user"]):
            values |= dict.fromkeys(self.members_only)
        return values
