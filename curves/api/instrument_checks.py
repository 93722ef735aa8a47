"""Checks of instruments for scripts: how one stands, entering a check, striking one out."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.engine import MeasureSerializer
from curves.models import Instrument, InstrumentCheck
from curves.queries.instrument_checks import STATES, CheckState, check_page
from curves.services.instrument_checks import record_check, strike_check
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Choice, Given, Number, PersonSerializer, identifier, text
from labsite.accounts.api.views import LabView


class CheckReadingSerializer(serializers.Serializer):
    """One density of a check beside what is certified."""

    level = serializers.CharField(help_text="`zero`, `mid`, `high`; empty for a further step.")
    step = serializers.IntegerField(help_text="0: nothing in the beam.")
    density = serializers.FloatField()
    certified = serializers.FloatField()
    certified_sd = serializers.FloatField(help_text="Standard uncertainty of the certified density.")


class InstrumentCheckSerializer(serializers.Serializer):
    """One check of an instrument on a tablet."""

    id = serializers.IntegerField()
    tablet_revision_id = serializers.IntegerField()
    density_type = Choice(Instrument.DensityType)
    geometry = Choice(Instrument.Geometry)
    checked_on = serializers.DateField()
    readings = CheckReadingSerializer(many=True)
    notes = serializers.CharField()
    checked_by = PersonSerializer()
    is_current = serializers.BooleanField(help_text="False: struck out.")
    ended_reason = serializers.CharField()


class CheckedQuantitySerializer(serializers.Serializer):
    """Zero, mid, high, span or bend (linearity): the last deviation and its drift."""

    latest = MeasureSerializer()
    drift = MeasureSerializer()
    is_within = serializers.BooleanField(allow_null=True, help_text="Whether it keeps the tolerance.")
    is_drifting = serializers.BooleanField(allow_null=True)


class CheckStateSerializer(serializers.Serializer):
    """How an instrument stands by its checks."""

    state = serializers.ChoiceField(list(STATES))
    due_on = serializers.DateField(allow_null=True)
    check_every_days = serializers.IntegerField(allow_null=True)
    tolerance = serializers.FloatField(allow_null=True, help_text="Density.")
    findings = serializers.ListField(child=serializers.CharField())
    quantities = serializers.DictField(child=CheckedQuantitySerializer())
    checks = InstrumentCheckSerializer(many=True, help_text="The series that the state rests on.")
    other_checks = InstrumentCheckSerializer(
        many=True, help_text="On another tablet or other steps, or of another kind of density."
    )


class NewCheckReadingSerializer(Given):
    """One density as the instrument shows it."""

    step = serializers.IntegerField(min_value=0, max_value=999, help_text="0: nothing in the beam.")
    density = Number()


class NewCheckSerializer(Given):
    """A check: at least a zero, a middle and a high density of one tablet."""

    tablet_revision_id = identifier()
    density_type = Choice(Instrument.DensityType, help_text="What the certificate states.")
    geometry = Choice(Instrument.Geometry, help_text="What the certificate states.")
    checked_on = serializers.DateField()
    readings = NewCheckReadingSerializer(many=True)
    notes = text(required=False, max_length=300)


class StrikeCheckSerializer(Given):
    """Why a check does not count."""

    reason = text(max_length=200)


class InstrumentChecks(LabView):
    """The checks of one instrument."""

    @operation(access=Members, answer=CheckStateSerializer, refusals=(404,))
    def get(self, request, instrument_id: int):
        """Read how an instrument stands by its checks."""
        return Response(_document(check_page(request.user, instrument_id).state))

    @operation(
        access=Members,
        body=NewCheckSerializer,
        answer=InstrumentCheckSerializer,
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, instrument_id: int):
        """Keep what an instrument read on a tablet of certified densities."""
        given = self.given(NewCheckSerializer)
        readings = [(reading["step"], reading["density"]) for reading in given.pop("readings")]
        check = record_check(actor=request.user, instrument_id=instrument_id, readings=readings, **given)
        return self.answer(InstrumentCheckSerializer, check, status=201)


class StrikeCheck(LabView):
    """Striking out one check."""

    @operation(
        access=Members, body=StrikeCheckSerializer, answer=InstrumentCheckSerializer, refusals=(403, 404, 409)
    )
    def post(self, request, check_id: int):
        """Strike out a check that was misread; it stays on record."""
        struck = strike_check(actor=request.user, check_id=check_id, **self.given(StrikeCheckSerializer))
        return self.answer(InstrumentCheckSerializer, struck)


def _document(state: CheckState) -> dict:
    trend = state.trend
    return {
        "state": state.key,
        "due_on": state.due_on,
        "check_every_days": state.instrument.check_every_days,
        "tolerance": trend.tolerance if trend else None,
        "findings": list(state.findings),
        "quantities": {
            name: {part: found[part] for part in ("latest", "drift", "is_within", "is_drifting")}
            for name, found in (trend.to_dict()["quantities"].items() if trend else ())
        },
        "checks": _listed(state.checks),
        "other_checks": _listed(state.others),
    }


def _listed(checks: tuple[InstrumentCheck, ...]) -> list[dict]:
    return InstrumentCheckSerializer(checks, many=True).data
