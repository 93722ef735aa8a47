"""The choices above the comparison: standards, view, alignment, density; which stocks, which columns."""

from django import forms

from curves.pages.compare.selection import ALIGNMENTS, DENSITIES, VIEWS, Selection
from curves.queries.comparison import ComparisonView
from curves.queries.comparison_document import COLUMNS
from curves.queries.comparison_rows import COST
from curves.sensitometry import MEASURES

DRAWING = ("standards", "view", "align", "density", "bands")
FILTERS = (
    "q",
    "maker",
    "format",
    "production",
    "speed_from",
    "speed_to",
    "contrast_from",
    "contrast_to",
    "grain_from",
    "grain_to",
    "sharpness_from",
    "sharpness_to",
    "cost_from",
    "cost_to",
    "mixed",
)


def _tick(label: str, **how) -> forms.BooleanField:
    return forms.BooleanField(
        label=label, required=False, widget=forms.CheckboxInput(attrs={"value": "1"}), **how
    )


def _number(label: str) -> forms.CharField:
    return forms.CharField(
        label=label, required=False, widget=forms.TextInput(attrs={"inputmode": "decimal", "size": 6})
    )


class CompareForm(forms.Form):
    """A GET form; the stocks are checked in the table, which belongs to the same form."""

    standards = forms.ChoiceField(label="Process and exposure standard")
    view = forms.ChoiceField(label="Show", choices=list(VIEWS.items()))
    align = forms.ChoiceField(label="Align", choices=list(ALIGNMENTS.items()))
    density = forms.ChoiceField(label="Density", choices=list(DENSITIES.items()))
    bands = _tick("95 % bands of the chosen stocks")

    q = forms.CharField(label="Name or maker", required=False)
    maker = forms.ChoiceField(label="Maker", required=False)
    format = forms.ChoiceField(label="Format", required=False)
    production = forms.ChoiceField(
        label="Sold", required=False, choices=[("", "any"), ("yes", "in production"), ("no", "discontinued")]
    )
    speed_from = _number("Exposure index from")
    speed_to = _number("Exposure index to")
    contrast_from = _number("Average gradient from")
    contrast_to = _number("Average gradient to")
    grain_from = _number("RMS granularity from")
    grain_to = _number("RMS granularity to")
    sharpness_from = _number("MTF50 from, cycles/mm")
    sharpness_to = _number("MTF50 to, cycles/mm")
    cost_from = _number("Cost per frame from")
    cost_to = _number("Cost per frame to")
    mixed = _tick(
        "Mix standards",
        help_text="Chosen stocks without a result here come from other standards: marked everywhere, and"
        " without a verdict.",
    )
    column = forms.MultipleChoiceField(
        label="Columns of the table", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, view: ComparisonView, selection: Selection):
        names = (*DRAWING, *FILTERS)
        initial = {name: getattr(selection, name) for name in names} | {"column": selection.all_columns}
        initial["standards"] = view.pair.key if view.pair else ""
        super().__init__(initial={name: _shown(value) for name, value in initial.items()})
        self.fields["standards"].choices = [
            (
                pair.key,
                f"{pair.label}{'' if pair.is_in_force else ' (superseded)'}: {pair.stock_count} stocks",
            )
            for pair in view.pairs
        ]
        listed = view.catalogue
        for name, known in (("maker", listed.makers), ("format", listed.formats)) if listed else ():
            self.fields[name].choices = [("", "any"), *((each, each) for each in known)]
        if view.costs and view.costs.other_currencies:
            self.fields["cost_to"].help_text = f"In {view.costs.currency}; other currencies are left out."
        measures = [(name, MEASURES[name].title) for name in COLUMNS]
        self.fields["column"].choices = [(COST, "Cost per frame"), *measures]

    @property
    def drawing(self) -> list:
        """Fields that say how the curves are drawn."""
        return [self[name] for name in DRAWING]

    @property
    def filters(self) -> list:
        """Fields that say which other stocks are shown."""
        return [self[name] for name in FILTERS]


def _shown(value):
    return f"{value:g}" if isinstance(value, float) else value
