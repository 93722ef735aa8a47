"""Forms of stocks and batches; their fields are the arguments of the services."""

from django import forms

from curves.models import FilmStock
from curves.models.films import Sensitisation
from curves.pages.fields import DecimalField, day_field, text_area
from curves.queries.comparison import StandardPair
from curves.queries.stock_list import StockFilter
from curves.services.films import FASTEST_BOX_SPEED
from labsite.accounts.pages.forms import LabForm

YES_OR_NO = {"yes": True, "no": False, "": None}
SPEED = forms.NumberInput(attrs={"inputmode": "numeric"})


class StockFilterForm(forms.Form):
    """Which stocks are wanted, and under which standards their results are shown."""

    q = forms.CharField(label="Name or maker", required=False)
    standards = forms.ChoiceField(label="Results under", required=False)
    format = forms.ChoiceField(label="Format", required=False)
    sensitisation = forms.ChoiceField(
        label="Sensitisation", required=False, choices=[("", "any"), *Sensitisation.choices]
    )
    slowest = forms.IntegerField(label="Box speed from", required=False, min_value=0, widget=SPEED)
    fastest = forms.IntegerField(label="Box speed to", required=False, min_value=0, widget=SPEED)
    production = forms.ChoiceField(
        label="Sold", required=False, choices=[("", "any"), ("yes", "in production"), ("no", "discontinued")]
    )
    result = forms.ChoiceField(
        label="Result", required=False, choices=[("", "with or without"), ("yes", "with"), ("no", "without")]
    )
    cost = DecimalField(label="Cost per frame to", required=False, min_value=0)

    def __init__(self, *args, pairs: tuple[StandardPair, ...], formats, **kwargs):
        super().__init__(*args, **kwargs)
        self.pairs = {pair.key: pair for pair in pairs}
        self.fields["format"].choices = [("", "any"), *((name, name) for name in formats)]
        self.fields["standards"].choices = [(pair.key, _title(pair)) for pair in pairs]
        if len(pairs) < 2:
            del self.fields["standards"]

    def pair(self) -> StandardPair | None:
        """Return the pair under which results are shown: the first unless another one is chosen."""
        key = self.cleaned_data.get("standards") if self.is_valid() else ""
        return self.pairs.get(key) or next(iter(self.pairs.values()), None)

    def wanted(self) -> StockFilter | None:
        """Return what is wanted, or None when the address asks for what does not exist."""
        if not self.is_valid():
            return None
        typed = self.cleaned_data
        return StockFilter(
            name_or_maker=typed["q"],
            format=typed["format"],
            sensitisation=typed["sensitisation"],
            is_in_production=YES_OR_NO[typed["production"]],
            slowest=typed["slowest"],
            fastest=typed["fastest"],
            has_result=YES_OR_NO[typed["result"]],
            dearest_frame=typed["cost"],
        )


class StockForm(LabForm):
    """What a film is, by its box and its data sheet."""

    name = forms.CharField(label="Name", max_length=80, help_text="As it stands on the box.")
    maker = forms.CharField(label="Maker", max_length=80, help_text="Or “unknown”.")
    box_speed = forms.IntegerField(
        label="Box speed, ISO arithmetic",
        min_value=1,
        max_value=FASTEST_BOX_SPEED,
        widget=SPEED,
        help_text="The first of the two numbers: 100 of ISO 100/21°.",
    )
    sensitisation = forms.ChoiceField(label="Sensitisation", choices=Sensitisation.choices)
    formats = forms.CharField(
        label="Formats", required=False, max_length=200, help_text="With commas between: 35 mm, 120, sheet."
    )
    base_material = forms.CharField(
        label="Base", required=False, max_length=80, help_text="Such as grey triacetate or clear polyester."
    )
    is_in_production = forms.BooleanField(label="Still in production", required=False, initial=True)
    notes = text_area("Notes", required=False)

    def clean_formats(self) -> list[str]:
        """Return the formats one by one, none of them twice."""
        typed = (text.strip() for text in self.cleaned_data["formats"].split(","))
        return list(dict.fromkeys(text for text in typed if text))

    @staticmethod
    def values_of(stock: FilmStock) -> dict:
        """Return a stock as the form shows it."""
        names = ("name", "maker", "box_speed", "sensitisation", "base_material", "is_in_production", "notes")
        return {name: getattr(stock, name) for name in names} | {"formats": ", ".join(stock.formats)}


class BatchForm(LabForm):
    """What tells one batch of a stock from another."""

    emulsion_number = forms.CharField(
        label="Emulsion number",
        max_length=60,
        help_text="From the box or the cartridge; a name of your own where there is none.",
    )
    expires_on = day_field("Expires on", required=False, help_text="The last day of the month on the box.")
    storage = forms.CharField(
        label="Storage", required=False, max_length=120, help_text="Such as refrigerator, 5 °C."
    )
    notes = text_area("Notes", required=False, rows=2)


def _title(pair: StandardPair) -> str:
    return pair.label if pair.is_in_force else f"{pair.label} (superseded)"
