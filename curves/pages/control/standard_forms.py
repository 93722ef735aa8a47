"""Forms of the three kinds of standard: they parse what was typed; whether it will do, the services say."""

from django import forms

from curves.models import StepTablet
from curves.models.exposures import ExposureMethod
from curves.models.processes import TimeRule
from curves.pages.control.step_densities import StepDensitiesField, densities_text, read_density_file
from curves.pages.fields import DecimalField, MinutesField, day_field, text_area
from curves.services.tablets import nominal_densities
from labsite.accounts.pages.forms import LabForm

Groups = tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]


class RevisionForm(LabForm):
    """The values of a draft, with the standard's own name where it is new and the note where it is not.

    ``groups`` puts rows of fields under headings, in the order in which people think of them.
    """

    groups: Groups = ()
    about_label = "What it is for"

    def __init__(self, *args, is_new: bool, **kwargs):
        super().__init__(*args, **kwargs)
        self.fill_faults: list[str] = []
        if is_new:
            added = {
                "name": forms.CharField(label="Name", max_length=80),
                "about": text_area(self.about_label, rows=2, required=False),
            }
            self.groups = (("Standard", (("name",), ("about",))), *self.groups)
        else:
            added = {
                "change_note": text_area("What changes, and why", rows=2, required=False),
                "seen": forms.CharField(widget=forms.HiddenInput),
            }
            self.groups = (("Change", (("change_note", "seen"),)), *self.groups)
        self.fields = added | self.fields

    def field_groups(self) -> list[tuple[str, list[list[forms.BoundField]]]]:
        """Return headings with their rows of fields."""
        return [(title, [[self[name] for name in row] for row in rows]) for title, rows in self.groups]

    def refilled(self) -> "RevisionForm | None":
        """Return the form filled anew where a button asked for that and not for saving."""
        return None


class ProcessForm(RevisionForm):
    """What a process standard fixes."""

    groups = (
        (
            "Developing bath",
            (("developer", "dilution"), ("temperature_c", "temperature_tolerance_c"), ("agitation",)),
        ),
        (
            "For the timer and the reminders",
            (
                ("agitation_initial_s", "agitation_every_s", "agitation_for_s"),
                ("stop_s", "fix_s", "wash_s"),
                ("developer_keeps_days", "developer_films"),
            ),
        ),
        (
            "Developing time",
            (("time_rule",), ("development_time_s", "time_tolerance_s", "aim_contrast")),
        ),
        ("Baths after it", (("stop_bath", "fixer", "wash"),)),
        ("Cautions", (("cautions",),)),
    )

    developer = forms.CharField(label="Developer", max_length=120)
    dilution = forms.CharField(label="Dilution", max_length=60, required=False, help_text="Such as 1 + 1.")
    temperature_c = DecimalField(label="Temperature, °C")
    temperature_tolerance_c = DecimalField(
        label="Tolerance of temperature, ± °C", initial=0.5, help_text="A run outside it is out of control."
    )
    time_rule = forms.ChoiceField(label="How the time is chosen", choices=TimeRule.choices)
    development_time_s = MinutesField(
        label="Developing time, min:s", required=False, help_text="For a fixed time only."
    )
    time_tolerance_s = forms.IntegerField(
        label="Tolerance of time, ± s", initial=10, help_text="Judged for a fixed time."
    )
    aim_contrast = DecimalField(
        label="Average gradient to aim at",
        required=False,
        help_text="Such as 0.58; only for an aim contrast.",
    )
    agitation = forms.CharField(
        label="Agitation", max_length=200, help_text="Such as first 30 s, then 5 s in every 30 s."
    )
    agitation_initial_s = forms.IntegerField(
        label="Agitate at first, s", required=False, help_text="What the timer prompts; the words above rule."
    )
    agitation_every_s = forms.IntegerField(label="Then every, s", required=False)
    agitation_for_s = forms.IntegerField(label="Each time for, s", required=False)
    stop_s = MinutesField(label="In the stop bath, min:s", required=False)
    fix_s = MinutesField(label="In the fixer, min:s", required=False)
    wash_s = MinutesField(label="Wash, min:s", required=False)
    developer_keeps_days = forms.IntegerField(
        label="A batch of developer keeps, days", required=False, help_text="Empty: nobody is reminded."
    )
    developer_films = forms.IntegerField(label="Films through a batch at most", required=False)
    stop_bath = forms.CharField(label="Stop bath", max_length=120, required=False)
    fixer = forms.CharField(label="Fixer", max_length=120, required=False)
    wash = forms.CharField(label="Wash", max_length=120, required=False)
    cautions = text_area(
        "Cautions of this process",
        required=False,
        help_text="What the safety data sheets of these products ask for, and where they are kept. "
        "The lab's general cautions are shown on every process page anyway.",
    )


class ExposureForm(RevisionForm):
    """What an exposure standard fixes."""

    groups = (
        ("Target", (("method", "tablet_id"), ("target", "bracket_spacing_stops"))),
        ("Light", (("light", "colour_temperature_k", "exposure_time_s"),)),
        ("Exposure in lux seconds", (("log_exposure_clear", "log_exposure_sd"),)),
    )

    method = forms.ChoiceField(label="Method", choices=ExposureMethod.choices)
    tablet_id = forms.TypedChoiceField(label="Step tablet", coerce=int)
    target = forms.CharField(label="Target", max_length=200, required=False)
    light = forms.CharField(label="Light", max_length=120, help_text="Such as lamp with daylight filter.")
    colour_temperature_k = forms.IntegerField(label="Colour temperature, K", initial=5500)
    exposure_time_s = DecimalField(label="Exposure time, s", help_text="Such as 0.05 for 1/20 s.")
    log_exposure_clear = DecimalField(
        label="Where the tablet is clear, log₁₀ lux·s",
        required=False,
        help_text="Leave it empty where it is not known: exposures are then relative, and speeds can only "
        "be told relative to the house reference.",
    )
    log_exposure_sd = DecimalField(
        label="Its standard uncertainty, log₁₀",
        required=False,
        help_text="Such as 0.03, which is a tenth of a stop.",
    )
    bracket_spacing_stops = DecimalField(
        label="Spacing of the bracket, stops", initial=0.3333, help_text="For a photographed tablet."
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        tablets = StepTablet.objects.values_list("pk", "name")
        self.fields["tablet_id"].choices = [("", "Choose a tablet"), *tablets]

    def clean_log_exposure_sd(self) -> float:
        """An empty uncertainty is none: right for relative exposures, refused for absolute ones."""
        return self.cleaned_data["log_exposure_sd"] or 0.0


class NominalForm(LabForm):
    """The densities that a tablet was made for, as a start for typing."""

    first = DecimalField(label="First density", initial=0.05)
    spacing = DecimalField(label="Spacing, density", initial=0.15)
    count = forms.IntegerField(label="Steps", initial=21, min_value=2, max_value=60)


class TabletForm(RevisionForm):
    """A calibration: date, source, uncertainty and the density of every step.

    Two buttons beside the form fill in the densities and save nothing: from nominal values, from a file.
    """

    about_label = "Notes"
    groups = (
        ("Calibration", (("calibrated_on", "source"), ("density_sd",))),
        ("Densities of the steps", (("densities",),)),
    )

    calibrated_on = day_field("Calibrated on")
    source = forms.CharField(
        label="Source", max_length=160, help_text="Certificate number, or who calibrated it with what."
    )
    density_sd = DecimalField(
        label="Standard uncertainty of a step, density",
        help_text="Common to all steps. Half of an expanded uncertainty (k = 2) on a certificate.",
    )
    densities = StepDensitiesField(
        label="Step and density, one step a line",
        help_text="Type them, or paste a column or two from a spreadsheet.",
    )

    def __init__(self, *args, nominal: NominalForm | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        self.nominal = nominal or NominalForm()

    def refilled(self) -> "TabletForm | None":
        """Return the form with the densities of a file, or nominal ones, and all else as it was typed."""
        nominal = None
        if "fill_nominal" in self.data:
            nominal = NominalForm(self.data)
            faults = _faults_of(nominal)
            densities = [] if faults else nominal_densities(**nominal.cleaned_data)
        elif "read_file" in self.data:
            sent = self.files.get("file")
            densities, faults = (
                read_density_file(sent.read(), sent.name) if sent else ([], ["Choose a file first."])
            )
        else:
            return None
        typed = {name: self.data[name] for name in self.fields if name in self.data}
        if densities:
            typed["densities"] = densities_text(densities)
        fresh = type(self)(initial=typed, is_new="name" in self.fields, nominal=nominal)
        fresh.fill_faults = faults
        return fresh


def _faults_of(form: LabForm) -> list[str]:
    return [f"{form[name].label}: {text}" for name, texts in form.errors.items() for text in texts]


class NameForm(LabForm):
    """A standard's own name and purpose."""

    name = forms.CharField(label="Name", max_length=80)
    about = text_area("What it is for", rows=2, required=False)


class ReviseForm(LabForm):
    """The reason for a new revision."""

    change_note = text_area(
        "What changes, and why", help_text="Kept with the new revision for those who compare results."
    )
