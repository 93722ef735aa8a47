"""Grain and sharpness that stand for rolls, for scripts."""

from rest_framework import serializers

from curves.models.picture_measures import PictureMeasureName
from curves.queries.picture_measures import roll_picture_rows
from curves.queries.rolls import visible_roll
from curves.services.picture_measures import LONGEST_REASON, end_picture_measure
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Choice, Given, PersonSerializer, text
from labsite.accounts.api.views import LabView


class PictureMeasureSerializer(serializers.Serializer):
    """Grain or sharpness of a roll; it never changes, it is only ended."""

    id = serializers.IntegerField()
    roll_id = serializers.IntegerField()
    name = Choice(PictureMeasureName)
    value = serializers.FloatField(help_text="1/1000 D, or cycles/mm.")
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    note = serializers.CharField()
    rig = serializers.CharField(help_text="Scanner and settings.")
    rig_digest = serializers.CharField(help_text="Numbers of one digest compare; others do not.")
    source_name = serializers.CharField()
    is_current = serializers.BooleanField(help_text="Whether it stands.")
    taken_by = PersonSerializer()
    taken_at = serializers.DateTimeField()
    ended_reason = serializers.CharField()


class EndMeasureSerializer(Given):
    """Why it no longer stands."""

    reason = text(max_length=LONGEST_REASON)


class PictureMeasures(LabView):
    """Grain and sharpness of a roll."""

    @operation(access=Members, lists=PictureMeasureSerializer, refusals=(404,))
    def get(self, request, roll_id: int):
        """List the grain and sharpness of a roll, what stands first."""
        roll = visible_roll(request.user, roll_id)
        return self.paged(PictureMeasureSerializer, roll_picture_rows(roll))


class EndPictureMeasure(LabView):
    """One that stands no longer."""

    @operation(
        access=Members, body=EndMeasureSerializer, answer=PictureMeasureSerializer, refusals=(404, 409)
    )
    def post(self, request, roll_id: int, measure_id: int):
        """Let a measure stand for its roll no longer; it is kept with the reason."""
        ended = end_picture_measure(
            actor=request.user, roll_id=roll_id, measure_id=measure_id, **self.given(EndMeasureSerializer)
        )
        return self.answer(PictureMeasureSerializer, ended)
