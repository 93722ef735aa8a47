"""Instruments: densitometers and scanners that readings can name."""

from rest_framework import serializers

from curves.models import Instrument
from curves.queries.instruments import visible_instrument, visible_instruments
from curves.services.instruments import (
    add_instrument,
    edit_instrument,
    reactivate_instrument,
    retire_instrument,
)
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, Number, text
from labsite.accounts.api.views import LabView

DESCRIBED = ("name", "kind", "density_type", "geometry", "aperture_mm", "reading_sd", "notes")
SD = "Standard deviation of repeated readings, density; null: not known."


def _kind(**options) -> Choice:
    return Choice(Instrument.Kind, name="InstrumentKind", **options)


class InstrumentSerializer(serializers.Serializer):
    """A densitometer or scanner."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    kind = _kind()
    density_type = Choice(Instrument.DensityType)
    geometry = Choice(Instrument.Geometry)
    aperture_mm = serializers.FloatField(allow_null=True, help_text="Millimetres.")
    reading_sd = serializers.FloatField(allow_null=True, help_text=SD)
    is_active = serializers.BooleanField(help_text="Whether new readings can name it.")
    notes = serializers.CharField()
    created_at = serializers.DateTimeField()


class ListedInstrumentSerializer(InstrumentSerializer):
    """A densitometer or scanner, with how much was read with it."""

    reading_count = serializers.IntegerField(help_text="Readings that stand.")
    last_read_at = serializers.DateTimeField(allow_null=True)


class InstrumentChangesSerializer(Given):
    """How an instrument is described from now on; what is not given stays."""

    name = text(required=False, max_length=80)
    kind = _kind(required=False)
    density_type = Choice(Instrument.DensityType, required=False)
    geometry = Choice(Instrument.Geometry, required=False)
    aperture_mm = Number(required=False, allow_null=True, help_text="Millimetres.")
    reading_sd = Number(required=False, allow_null=True, help_text=SD)
    notes = text(required=False)


class NewInstrumentSerializer(InstrumentChangesSerializer):
    """A new instrument."""

    name = text(max_length=80)


class InstrumentsAskedSerializer(Asked):
    """Which instruments are wanted."""

    is_active = serializers.BooleanField(required=False)


class ReasonSerializer(Given):
    """Why."""

    reason = text(required=False)


class Instruments(LabView):
    """The lab's instruments."""

    @operation(access=Members, asks=InstrumentsAskedSerializer, lists=ListedInstrumentSerializer)
    def get(self, request):
        """List instruments by name."""
        wanted = self.asked(InstrumentsAskedSerializer)
        instruments = visible_instruments(request.user).filter(**wanted).order_by("name")
        return self.paged(ListedInstrumentSerializer, instruments)

    @operation(access=Admins, body=NewInstrumentSerializer, answer=InstrumentSerializer, status=201)
    def post(self, request):
        """Add an instrument."""
        added = add_instrument(actor=request.user, **self.given(NewInstrumentSerializer))
        return self.answer(InstrumentSerializer, added, status=201)


class OneInstrument(LabView):
    """One instrument."""

    @operation(access=Members, answer=ListedInstrumentSerializer, refusals=(404,))
    def get(self, request, instrument_id: int):
        """Read one instrument."""
        return self.answer(ListedInstrumentSerializer, visible_instrument(request.user, instrument_id))

    @operation(access=Admins, body=InstrumentChangesSerializer, answer=InstrumentSerializer, refusals=(404,))
    def patch(self, request, instrument_id: int):
        """Describe an instrument anew; rolls that are not decided on are fitted again where it matters."""
        given = self.given(InstrumentChangesSerializer)
        instrument = visible_instrument(request.user, instrument_id)
        said = {name: getattr(instrument, name) for name in DESCRIBED} | given
        edited = edit_instrument(actor=request.user, instrument_id=instrument_id, **said)
        return self.answer(InstrumentSerializer, edited)


class RetireInstrument(LabView):
    """Taking an instrument out of use."""

    @operation(access=Admins, body=ReasonSerializer, answer=InstrumentSerializer, refusals=(404, 409))
    def post(self, request, instrument_id: int):
        """Let no new reading name the instrument; its past readings stay."""
        given = self.given(ReasonSerializer)
        retired = retire_instrument(actor=request.user, instrument_id=instrument_id, **given)
        return self.answer(InstrumentSerializer, retired)


class ReactivateInstrument(LabView):
    """Taking an instrument into use again."""

    @operation(access=Admins, body=ReasonSerializer, answer=InstrumentSerializer, refusals=(404, 409))
    def post(self, request, instrument_id: int):
        """Let readings name a retired instrument again."""
        given = self.given(ReasonSerializer)
        active = reactivate_instrument(actor=request.user, instrument_id=instrument_id, **given)
        return self.answer(InstrumentSerializer, active)
