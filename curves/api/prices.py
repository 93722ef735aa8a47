"""What stocks cost: every price, with what it makes a frame cost."""

from rest_framework import serializers

from curves.api.labels import ReadersSerializer
from curves.models import PriceKind
from curves.queries.prices import prices_of
from curves.services.prices import enter_price, strike_price
from labsite.accounts.api.access import Members, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Choice, Given, PersonSerializer, text, whole
from labsite.accounts.api.views import LabView


def _amount(places: int = 2, **options) -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=10, decimal_places=places, **options)


class PriceSerializer(ReadersSerializer):
    """A price; amounts are text, so that no digit is lost."""

    members_only = ("entered_by",)

    id = serializers.IntegerField()
    stock_id = serializers.IntegerField()
    kind = Choice(PriceKind)
    film_format = serializers.CharField()
    price = _amount()
    currency = serializers.CharField()
    priced_on = serializers.DateField()
    source = serializers.CharField(help_text="In general words.")
    count = serializers.IntegerField(help_text="Rolls in the pack, or sheets in the box.")
    frames_per_roll = serializers.IntegerField(allow_null=True)
    length_m = _amount(allow_null=True)
    frames_per_metre = _amount(allow_null=True)
    loss_m = _amount(allow_null=True)
    cassette_price = _amount(allow_null=True)
    cassette_uses = serializers.IntegerField()
    frames = serializers.IntegerField(help_text="Frames that come of it, whole rolls only.")
    cost_per_frame = _amount(4, help_text="In the price's currency, the cassette's share included.")
    entered_by = PersonSerializer(allow_null=True, help_text="Null for visitors.")
    entered_at = serializers.DateTimeField()
    is_struck = serializers.BooleanField(help_text="Whether it was found wrong and counts no more.")
    strike_reason = serializers.CharField()


class NewPriceSerializer(Given):
    """A price as it was paid or asked."""

    kind = Choice(PriceKind)
    film_format = text(max_length=40, help_text="Such as 35 mm or 120.")
    price = _amount(help_text="Of the whole pack, box or bulk roll.")
    currency = text(max_length=3, help_text="Three letters, such as EUR.")
    priced_on = serializers.DateField()
    source = text(max_length=120, help_text="In general words, such as mail order.")
    count = whole(required=False, help_text="Rolls in the pack, or sheets in the box; 1 if not given.")
    frames_per_roll = whole(required=False, allow_null=True, help_text="For rolls and bulk.")
    length_m = _amount(required=False, allow_null=True, help_text="Of a bulk roll.")
    frames_per_metre = _amount(required=False, allow_null=True, help_text="26.3 for 24 × 36 mm.")
    loss_m = _amount(required=False, allow_null=True, help_text="Leader and trailer of each roll.")
    cassette_price = _amount(required=False, allow_null=True)
    cassette_uses = whole(required=False, help_text="Rolls that a cassette serves for; 1 if not given.")


class PriceStrikeSerializer(Given):
    """Why a price is wrong."""

    reason = text()


class Prices(LabView):
    """The prices of a stock."""

    @operation(access=Readers, lists=PriceSerializer)
    def get(self, request, stock_id: int):
        """List the prices of a stock, newest first, struck ones too."""
        return self.paged(PriceSerializer, prices_of(request.user, stock_id)[1])

    @operation(access=Members, body=NewPriceSerializer, answer=PriceSerializer, status=201, refusals=(404,))
    def post(self, request, stock_id: int):
        """Enter what a stock cost in one form on a day."""
        price = enter_price(actor=request.user, stock_id=stock_id, **self.given(NewPriceSerializer))
        return self.answer(PriceSerializer, price, status=201)


class StrikePrice(LabView):
    """A price that is wrong."""

    @operation(access=Members, body=PriceStrikeSerializer, answer=PriceSerializer, refusals=(404, 409))
    def post(self, request, stock_id: int, price_id: int):
        """Strike a price out, so that it counts no more; its own member or an admin may."""
        reason = self.given(PriceStrikeSerializer)["reason"]
        price = strike_price(actor=request.user, stock_id=stock_id, price_id=price_id, reason=reason)
        return self.answer(PriceSerializer, price)
