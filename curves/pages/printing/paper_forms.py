"""The form of a paper's curve."""

from django import forms

from curves.pages.control.standard_forms import RevisionForm
from curves.pages.fields import DecimalField, day_field
from curves.pages.printing.paper_points import PaperPointsField, points_text, read_point_file


class PaperForm(RevisionForm):
    """What was printed and developed how, and the points of its curve, typed or from a file."""

    about_label = "Notes"
    groups = (
        ("Paper and developer", (("grade", "developer"),)),
        ("Measurement", (("measured_on", "source"), ("density_sd", "base_plus_fog"))),
        ("Exposure in lux seconds", (("log_exposure_zero", "log_exposure_sd"),)),
        ("Points of the curve", (("points",), ("file",))),
    )

    grade = forms.CharField(label="Grade or filter", max_length=80, help_text="Such as grade 2.")
    developer = forms.CharField(
        label="Paper developer", max_length=120, help_text="With dilution, time and temperature."
    )
    measured_on = day_field("Measured on")
    source = forms.CharField(
        label="Measured by, with", max_length=160, help_text="Who read the strip, with which instrument."
    )
    density_sd = DecimalField(
        label="Standard uncertainty of a density", initial=0.01, help_text="Such as 0.01."
    )
    base_plus_fog = DecimalField(
        label="Density of unexposed, processed paper",
        required=False,
        help_text="Without it the range and speed of ISO 6846 can't be told.",
    )
    log_exposure_zero = DecimalField(
        label="At log exposure 0, log₁₀ lux·s",
        required=False,
        help_text="Leave it empty where it is not known: then the paper has a range, but no speed.",
    )
    log_exposure_sd = DecimalField(label="Its standard uncertainty, log₁₀", required=False)
    points = PaperPointsField(
        label="Log exposure and density, one point a line",
        required=False,
        help_text="Type them, or paste two columns from a spreadsheet; exposure rises down the list.",
    )
    file = forms.FileField(
        label="Or a CSV or XLSX file with the columns log_exposure and density",
        required=False,
        help_text="If a file is chosen, its points are taken instead of those above.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.xlsx"}),
    )

    def clean_log_exposure_sd(self) -> float:
        """An empty uncertainty is none: right for relative exposures, refused for absolute ones."""
        return self.cleaned_data["log_exposure_sd"] or 0.0

    def clean(self) -> dict:
        """Take the points of the file where there is one; they show in the field if anything is refused."""
        cleaned = super().clean()
        sent = cleaned.pop("file", None)
        if sent:
            points, faults = read_point_file(sent.read(), sent.name)
            if faults:
                self.add_error("file", faults)
            else:
                cleaned["points"] = points
                self.errors.pop("points", None)
                self.data = self.data.copy()
                self.data["points"] = points_text(points)
        return cleaned
