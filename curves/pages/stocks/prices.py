"""What a stock costs: the list of prices, entering one, striking a wrong one out."""

from decimal import Decimal, InvalidOperation

from django import forms
from django.contrib import messages
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from curves.importers.numbers import clean_number
from curves.models import PriceKind
from curves.pages.access import GET_OR_POST, members_only, readers_only
from curves.pages.fields import day_field
from curves.queries.prices import prices_of, visible_price
from curves.queries.stock_sheet import visible_stock
from curves.services.prices import enter_price, strike_price
from labsite.accounts.pages.forms import LabForm
from labsite.common.access import is_admin

#: Of 35 mm film, 8 perforations of 4.75 mm pitch a frame (ISO 1007; from memory).
FRAMES_PER_METRE_35 = "26.3"
#: Leader and trailer of a loaded cassette: common practice, no source.
USUAL_LOSS_M = "0.25"


class MoneyField(forms.DecimalField):
    """An amount or a length with decimal point or decimal comma, kept to the digit."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value):
        """Read the number; never guess at one that has both marks."""
        if isinstance(value, str):
            value = clean_number(value)
            if value.count(",") + value.count(".") > 1:
                raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
            value = value.replace(",", ".")
        try:
            return super().to_python(value)
        except InvalidOperation:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from None


def _money(label: str, places: int = 2, **more) -> MoneyField:
    return MoneyField(label=label, max_digits=10, decimal_places=places, **more)


class PriceForm(LabForm):
    """A price; what its form does not need stays empty."""

    kind = forms.ChoiceField(label="Bought as", choices=PriceKind.choices, widget=forms.RadioSelect)
    film_format = forms.CharField(label="Format", max_length=40, help_text="Such as 35 mm, 120, 9 × 12 cm.")
    price = _money("Price", help_text="Of the whole pack, box or bulk roll.")
    currency = forms.CharField(label="Currency", max_length=3, help_text="Three letters, such as EUR.")
    priced_on = day_field("Day of the price")
    source = forms.CharField(
        label="Where from", max_length=120, help_text="In general words: mail order, the club's own order."
    )
    count = forms.IntegerField(
        label="Rolls in the pack, or sheets in the box", required=False, help_text="1 if left empty."
    )
    frames_per_roll = forms.IntegerField(
        label="Frames on a roll", required=False, help_text="Rolls and bulk; 36, 24, 12."
    )
    length_m = _money("Length of the bulk roll, m", required=False)
    frames_per_metre = _money(
        "Frames to the metre",
        required=False,
        help_text=f"{FRAMES_PER_METRE_35} for 24 × 36 mm on 35 mm film.",
    )
    loss_m = _money(
        "Leader and trailer of each roll, m", required=False, help_text=f"Usually about {USUAL_LOSS_M} m."
    )
    cassette_price = _money("Price of a cassette", required=False)
    cassette_uses = forms.IntegerField(
        label="Rolls that a cassette serves for", required=False, help_text="1 if left empty."
    )


class StrikeForm(LabForm):
    """Why a price is wrong."""

    reason = forms.CharField(label="What is wrong with it", max_length=500)


@require_safe
@readers_only
def price_list(request, stock_id: int):
    """List every price of a stock."""
    stock, prices = prices_of(request.user, stock_id)
    context = {
        "stock": stock,
        "prices": [(price, _may_strike(request.user, price)) for price in prices],
    }
    return render(request, "curves/stocks/prices.html", context)


@GET_OR_POST
@members_only
def new_price(request, stock_id: int):
    """Enter a price."""
    stock = visible_stock(request.user, stock_id)
    newest = stock.prices.first()
    initial = {
        "kind": PriceKind.PACK,
        "film_format": stock.formats[0] if stock.formats else "",
        "currency": newest.currency if newest else "",
        "priced_on": timezone.localdate(),
    }
    form = PriceForm(request.POST or None, initial=initial)
    if request.method == "POST":
        price = form.accepted(enter_price, actor=request.user, stock_id=stock.pk)
        if price is not None:
            each = f"{price.cost_per_frame.quantize(Decimal('0.001'))} {price.currency}"
            messages.success(request, f"The price is entered: {each} a frame.")
            return redirect("stock_prices", stock.pk)
    return _form(request, form, stock, "curves/stocks/price_form.html")


@GET_OR_POST
@members_only
def strike(request, stock_id: int, price_id: int):
    """Strike a price out."""
    price = visible_price(request.user, stock_id, price_id)
    form = StrikeForm(request.POST or None)
    if request.method == "POST" and form.accepted(
        strike_price, actor=request.user, stock_id=stock_id, price_id=price.pk
    ):
        messages.success(request, "The price is struck out; it stays in the list with the reason.")
        return redirect("stock_prices", stock_id)
    return _form(request, form, price.stock, "curves/stocks/price_strike.html", price=price)


def _may_strike(user, price) -> bool:
    return not price.is_struck and (is_admin(user) or price.entered_by_id == user.pk)


def _form(request, form, stock, template: str, **more):
    status = 400 if form.is_bound and form.errors else 200
    return render(request, template, {"form": form, "stock": stock} | more, status=status)
