"""How subject and print are set, read from the address; what is missing there has the page's own value."""

from urllib.parse import urlencode

from django import forms
from django.http import QueryDict

from curves.pages.compare_tabs import WHOLE
from curves.pages.fields import DecimalField
from curves.queries.beside_reference import BesideReference
from curves.queries.print_settings import PrintSettings

STEPS = [("2", "halves"), ("3", "thirds"), ("4", "quarters"), ("6", "sixths"), ("12", "twelfths")]
LIGHTS = [("diffuse", "diffuse light, Q = 1"), ("condenser", "condenser, Q as stated")]
EXPOSURES = [
    ("alike", "all alike, from the reference's speed point"),
    ("own", "each by its own speed point"),
]


def _number(label: str, low: float, high: float, **more) -> DecimalField:
    return DecimalField(label=label, min_value=low, max_value=high, **more)


class PrintForm(forms.Form):
    """A GET form: fields that the address does not name are filled with what the page starts from."""

    standards = forms.ChoiceField(label="Process and exposure standard", required=False)
    paper = forms.TypedChoiceField(label="Paper", coerce=int, required=False, empty_value=None)
    light = forms.ChoiceField(label="Enlarger light", choices=LIGHTS)
    q = _number("Q of the condenser", 0.8, 3, help_text="About 1.2 to 1.5 with a silver image.")
    q_sd = _number("Standard uncertainty of Q", 0, 0.5)
    range = _number("Subject range, stops", 1, 15)
    flare = _number("Flare, % of the brightest tone", 0, 50)
    exposed = forms.ChoiceField(label="Exposed", choices=EXPOSURES)
    shadow = _number("Darkest tone above the speed point, stops", -3, 6)
    held = _number("Tone held: stops below the brightest", 0, 15, help_text="2.5 is about middle grey.")
    density = _number("Its print density on the reference, D", 0, 3)
    time = _number("Print time of the reference, s", 0.1, 3600)
    per_stop = forms.ChoiceField(label="Steps of the timer, of a stop", choices=STEPS)
    stock = forms.TypedMultipleChoiceField(
        label="Stocks", coerce=int, required=False, widget=forms.CheckboxSelectMultiple
    )

    START = {
        "light": "diffuse",
        "q": "1.3",
        "q_sd": "0",
        "range": "7",
        "flare": "1",
        "exposed": "alike",
        "shadow": "0",
        "held": "2.5",
        "density": "0.75",
        "time": "10",
        "per_stop": "12",
    }
    #: Fields of the form in groups, as people think of them.
    GROUPS = (
        ("What is printed", ("standards", "paper")),
        ("Subject and camera", ("range", "flare", "exposed", "shadow")),
        ("Enlarger and print", ("light", "q", "q_sd", "held", "density", "time", "per_stop")),
    )

    def __init__(self, query: QueryDict, *, papers=()):
        data = QueryDict(mutable=True)
        data.update(self.START)
        if papers:
            data["paper"] = str(papers[0].pk)
        for name in query:
            data.setlist(name, query.getlist(name))
        super().__init__(data)
        self.fields["paper"].choices = [(paper.pk, str(paper)) for paper in papers]
        # Until what stands under the standards is known, any stock may be asked for.
        self.fields["stock"].choices = [
            (word, word) for word in data.getlist("stock") if WHOLE.fullmatch(word)
        ]
        asked = data.get("standards", "")
        self.fields["standards"].choices = [("", "the first"), (asked, asked)] if asked else [("", "")]

    PLAN_GROUPS = (
        ("What is printed", ("standards",)),
        ("Enlarger and print", ("light", "q", "q_sd", "time", "per_stop")),
    )

    def field_groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Return headings with their fields."""
        return [(title, [self[name] for name in names]) for title, names in self.GROUPS]

    def plan_groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Return the fields that the print plan asks for, and no others."""
        return [(title, [self[name] for name in names]) for title, names in self.PLAN_GROUPS]

    def kept(self) -> list[tuple[str, str]]:
        """Return what the print plan carries along for the page Print tones."""
        asked = {name for _, names in self.PLAN_GROUPS for name in names}
        names = [name for _, names in self.GROUPS for name in names if name not in asked]
        return [(name, self.data[name]) for name in names if self.data.get(name)]

    def settings(self) -> PrintSettings:
        """Return what a valid form asks for."""
        asked = self.cleaned_data
        is_diffuse = asked["light"] == "diffuse"
        return PrintSettings(
            callier_factor=1.0 if is_diffuse else asked["q"],
            callier_sd=asked["q_sd"],
            flare=asked["flare"] / 100,
            range_stops=asked["range"],
            shadow_stops=asked["shadow"],
            is_by_own_speed=asked["exposed"] == "own",
            held_stops=asked["held"],
            held_density=asked["density"],
            time_s=asked["time"],
            per_stop=int(asked["per_stop"]),
        )

    def clean(self) -> dict:
        """Hold a tone that the subject has."""
        cleaned = super().clean()
        if "held" in cleaned and "range" in cleaned and cleaned["held"] > cleaned["range"]:
            self.add_error("held", f"The subject has only {cleaned['range']:g} stops; hold a tone within it.")
        return cleaned

    def offer(self, beside: BesideReference) -> None:
        """Fill the choices with what there is, once it is known."""
        self.fields["standards"].choices = [
            (
                pair.key,
                f"{pair.label}{'' if pair.is_in_force else ' (superseded)'}: {pair.stock_count} stocks",
            )
            for pair in beside.pairs
        ]
        reference_id = beside.reference.stock_id if beside.reference else None
        self.fields["stock"].choices = [
            (stock.pk, stock.name) for stock in beside.choices if stock.pk != reference_id
        ]
        if beside.pair:
            self.data["standards"] = beside.pair.key

    def query(self) -> str:
        """Return the canonical query string: standards, paper, stocks, and what differs from the start."""
        names = [name for name in self.fields if name != "stock" and self.data.get(name)]
        parts = [(name, self.data[name]) for name in names if self.data[name] != self.START.get(name)]
        return urlencode([*parts, *(("stock", pk) for pk in self.cleaned_data.get("stock", ()))])
