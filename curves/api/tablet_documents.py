"""What step tablets and their calibrations say and what can be said of them."""

from rest_framework import serializers

from curves.api.standard_documents import (
    SEEN,
    FingerprintSerializer,
    RevisionSerializer,
    StandardSerializer,
)
from curves.services.tablets import MOST_STEPS
from labsite.accounts.api.fields import Given, Number, text

IN_ORDER = "Density of step 1, 2, … in their order."
COMMON = "Standard uncertainty of a step's density, common to all strips made with this tablet."


def _densities(**options) -> serializers.ListField:
    return serializers.ListField(child=Number(), max_length=MOST_STEPS, help_text=IN_ORDER, **options)


class StepDensitiesField(serializers.ListField):
    """The calibrated densities out of their rows, in the order of the steps."""

    child = serializers.FloatField()

    def to_representation(self, data) -> list[float]:
        """Return the densities."""
        return [step.density for step in sorted(data.all(), key=lambda step: step.step)]


class CalibrationSerializer(RevisionSerializer):
    """A calibration of a step tablet."""

    tablet_id = serializers.IntegerField()
    calibrated_on = serializers.DateField()
    source = serializers.CharField(help_text="Certificate, or who calibrated it with what.")
    density_sd = serializers.FloatField(help_text=COMMON)
    densities = StepDensitiesField(source="steps", help_text=IN_ORDER)


class OneCalibrationSerializer(FingerprintSerializer, CalibrationSerializer):
    """A calibration of a step tablet, with its fingerprint."""


class TabletSerializer(StandardSerializer):
    """A step tablet."""

    notes = serializers.CharField()


class OneTabletSerializer(TabletSerializer):
    """A step tablet with its calibrations, newest first."""

    revisions = CalibrationSerializer(many=True)


class CalibrationChangesSerializer(Given):
    """What a draft shall say; what is not given stays."""

    calibrated_on = serializers.DateField(required=False)
    source = text(required=False, max_length=160, help_text="Certificate, or who calibrated it with what.")
    density_sd = Number(required=False, help_text=COMMON)
    densities = _densities(required=False)
    change_note = text(required=False)
    seen = text(required=False, max_length=16, help_text=SEEN)


class NewTabletSerializer(Given):
    """A new step tablet and the draft of its first calibration."""

    name = text(max_length=80)
    notes = text(required=False)
    calibrated_on = serializers.DateField()
    source = text(max_length=160, help_text="Certificate, or who calibrated it with what.")
    density_sd = Number(help_text=COMMON)
    densities = _densities()


class TabletNameSerializer(Given):
    """What a tablet is called from now on; what is not given stays."""

    name = text(required=False, max_length=80)
    notes = text(required=False)
