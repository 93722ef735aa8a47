"""The choices above the comparison: standards, view, alignment, density, bands."""

from django import forms

from curves.pages.compare.selection import ALIGNMENTS, DENSITIES, VIEWS, Selection
from curves.queries.comparison import ComparisonView


class CompareForm(forms.Form):
    """A GET form; the stocks are checked in the table, which belongs to the same form."""

    standards = forms.ChoiceField(label="Process and exposure standard")
    view = forms.ChoiceField(label="Show", choices=list(VIEWS.items()))
    align = forms.ChoiceField(label="Align", choices=list(ALIGNMENTS.items()))
    density = forms.ChoiceField(label="Density", choices=list(DENSITIES.items()))
    bands = forms.BooleanField(
        label="95 % bands of the chosen stocks",
        required=False,
        widget=forms.CheckboxInput(attrs={"value": "1"}),
    )

    def __init__(self, view: ComparisonView, selection: Selection):
        super().__init__(
            initial={
                "standards": view.pair.key if view.pair else "",
                "view": selection.view,
                "align": selection.align,
                "density": selection.density,
                "bands": selection.bands,
            }
        )
        self.fields["standards"].choices = [
            (
                pair.key,
                f"{pair.label}{'' if pair.is_in_force else ' (superseded)'}: {pair.stock_count} stocks",
            )
            for pair in view.pairs
        ]
        for field in self.fields.values():
            field.widget.attrs["form"] = "compare-form"
