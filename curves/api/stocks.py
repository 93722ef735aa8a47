"""Film stocks and their batches."""

from rest_framework import serializers

from curves.models import Batch
from curves.models.films import Sensitisation
from curves.queries.stock_list import StockFilter, stocks_by_format
from curves.queries.stock_sheet import visible_stock
from curves.queries.stocks import visible_stocks
from curves.services.films import FASTEST_BOX_SPEED, add_batch, add_stock, edit_stock
from labsite.accounts.api.access import Members, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, text, whole
from labsite.accounts.api.views import LabView

DESCRIBED = (
    "name",
    "maker",
    "box_speed",
    "formats",
    "sensitisation",
    "base_material",
    "is_in_production",
    "notes",
)


class StockSerializer(serializers.Serializer):
    """A film as it is sold."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    maker = serializers.CharField()
    box_speed = serializers.IntegerField(help_text="ISO arithmetic speed on the box.")
    formats = serializers.ListField(child=serializers.CharField(), help_text="Such as 35 mm, 120, sheet.")
    sensitisation = Choice(Sensitisation)
    base_material = serializers.CharField()
    is_in_production = serializers.BooleanField()
    notes = serializers.CharField()
    created_at = serializers.DateTimeField()


def _formats(**options) -> serializers.ListField:
    return serializers.ListField(
        child=serializers.CharField(max_length=40, allow_blank=True), max_length=20, required=False, **options
    )


def _box_speed(**options) -> serializers.IntegerField:
    return whole(
        min_value=1, max_value=FASTEST_BOX_SPEED, help_text="ISO arithmetic speed on the box.", **options
    )


class NewStockSerializer(Given):
    """A new stock."""

    name = text(max_length=80)
    maker = text(max_length=80, help_text="Or “unknown”.")
    box_speed = _box_speed()
    formats = _formats(help_text="Such as 35 mm, 120, sheet.")
    sensitisation = Choice(Sensitisation, required=False)
    base_material = text(required=False, max_length=80)
    is_in_production = serializers.BooleanField(required=False)
    notes = text(required=False)


class StockChangesSerializer(Given):
    """What is to be said of a stock from now on; what is not given stays."""

    name = text(required=False, max_length=80)
    maker = text(required=False, max_length=80)
    box_speed = _box_speed(required=False)
    formats = _formats()
    sensitisation = Choice(Sensitisation, required=False)
    base_material = text(required=False, max_length=80)
    is_in_production = serializers.BooleanField(required=False)
    notes = text(required=False)


class StocksAskedSerializer(Asked):
    """Which stocks are wanted."""

    q = text(required=False, max_length=80, help_text="Part of the name or maker.")
    sensitisation = Choice(Sensitisation, required=False)
    film_format = text(required=False, max_length=40, help_text="One of the stock's formats, as written.")
    is_in_production = serializers.BooleanField(required=False)
    slowest = whole(required=False, help_text="Box speed from.")
    fastest = whole(required=False, help_text="Box speed to.")


class BatchSerializer(serializers.Serializer):
    """A batch of a stock."""

    id = serializers.IntegerField()
    stock_id = serializers.IntegerField()
    emulsion_number = serializers.CharField()
    expires_on = serializers.DateField(allow_null=True)
    storage = serializers.CharField()
    notes = serializers.CharField()
    created_at = serializers.DateTimeField()


class NewBatchSerializer(Given):
    """A new batch."""

    emulsion_number = text(max_length=60, help_text="As on the box, or a name of your own.")
    expires_on = serializers.DateField(required=False, allow_null=True)
    storage = text(required=False, max_length=120, help_text="Such as refrigerator, 5 °C.")
    notes = text(required=False)


class Stocks(LabView):
    """The lab's film stocks."""

    @operation(access=Readers, asks=StocksAskedSerializer, lists=StockSerializer)
    def get(self, request):
        """List film stocks by name; visitors get those with a result."""
        asked = self.asked(StocksAskedSerializer)
        stocks = visible_stocks(request.user)
        if film_format := asked.pop("film_format", ""):
            stocks = stocks.filter(pk__in=stocks_by_format(request.user).get(film_format, ()))
        wanted = StockFilter(name_or_maker=asked.pop("q", ""), **asked)
        return self.paged(StockSerializer, stocks.filter(wanted.condition()))

    @operation(access=Members, body=NewStockSerializer, answer=StockSerializer, status=201)
    def post(self, request):
        """Enter a film stock."""
        stock = add_stock(actor=request.user, **self.given(NewStockSerializer))
        return self.answer(StockSerializer, stock, status=201)


class OneStock(LabView):
    """One film stock."""

    @operation(access=Readers, answer=StockSerializer, refusals=(404,))
    def get(self, request, stock_id: int):
        """Read one film stock."""
        return self.answer(StockSerializer, visible_stock(request.user, stock_id))

    @operation(access=Members, body=StockChangesSerializer, answer=StockSerializer, refusals=(404,))
    def patch(self, request, stock_id: int):
        """Correct what is said about a film stock."""
        stock = visible_stock(request.user, stock_id)
        said = {name: getattr(stock, name) for name in DESCRIBED} | self.given(StockChangesSerializer)
        return self.answer(StockSerializer, edit_stock(actor=request.user, stock_id=stock_id, **said))


class Batches(LabView):
    """The batches of a stock."""

    @operation(access=Members, lists=BatchSerializer)
    def get(self, request, stock_id: int):
        """List the batches of a stock."""
        batches = Batch.objects.filter(stock=visible_stock(request.user, stock_id))
        return self.paged(BatchSerializer, batches)

    @operation(access=Members, body=NewBatchSerializer, answer=BatchSerializer, status=201, refusals=(404,))
    def post(self, request, stock_id: int):
        """Enter a batch of a stock."""
        batch = add_batch(actor=request.user, stock_id=stock_id, **self.given(NewBatchSerializer))
        return self.answer(BatchSerializer, batch, status=201)
