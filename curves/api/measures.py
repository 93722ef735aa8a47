"""The registry: what every measure, reason and flag of the engine means."""

from rest_framework import serializers

from curves.sensitometry import ENGINE_VERSION, FLAGS, MEASURES, REASONS, VERDICTS
from labsite.accounts.api.access import Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.views import LabView


class MeasureDefinitionSerializer(serializers.Serializer):
    """What a measure is."""

    name = serializers.CharField(help_text="Its key in results.")
    title = serializers.CharField()
    symbol = serializers.CharField()
    unit = serializers.CharField(help_text="Empty for a plain ratio.")
    decimals = serializers.IntegerField(help_text="Decimals to show.")
    formula = serializers.CharField()
    source = serializers.CharField()
    explanation = serializers.CharField()
    reasons = serializers.ListField(
        child=serializers.CharField(), help_text="Codes that it may be withheld with."
    )


class RegistrySerializer(serializers.Serializer):
    """Everything that results refer to by name or code."""

    engine_version = serializers.CharField()
    measures = MeasureDefinitionSerializer(many=True)
    reasons = serializers.DictField(child=serializers.CharField(), help_text="Code → sentence.")
    flags = serializers.DictField(child=serializers.CharField(), help_text="Code → sentence.")
    verdicts = serializers.ListField(child=serializers.CharField())


class Measures(LabView):
    """The one registry."""

    @operation(access=Readers, answer=RegistrySerializer)
    def get(self, request):
        """Read what every measure, reason code and flag code means."""
        registry = {
            "engine_version": ENGINE_VERSION,
            "measures": list(MEASURES.values()),
            "reasons": REASONS,
            "flags": FLAGS,
            "verdicts": VERDICTS,
        }
        return self.answer(RegistrySerializer, registry)
