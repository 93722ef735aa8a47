"""Forms of scans: which are wanted, files to upload, and what scans show."""

from itertools import groupby

from django import forms

from curves.pages.fields import DecimalField, day_field, text_area
from labsite.accounts.pages.forms import LabForm
from labsite.common.errors import LabError
from scans.models import FileState, Shows
from scans.queries.describing import DescribeChoices
from scans.queries.scan_list import UNDESCRIBED, ScanChoices, ScanFilter
from scans.services.describing import SETTINGS

SHOWS = [(value, label) for value, label in Shows.choices if value]
LATER = ("", "say it later")


class ScanFilterForm(forms.Form):
    """Which scans are wanted."""

    shows = forms.ChoiceField(
        label="Shows", required=False, choices=[("", "anything"), *SHOWS, (UNDESCRIBED, "not said yet")]
    )
    state = forms.ChoiceField(label="File", required=False, choices=[("", "any"), *FileState.choices])
    roll_id = forms.TypedChoiceField(label="Roll", required=False, coerce=int, empty_value=None)
    scanner_id = forms.TypedChoiceField(label="Scanner", required=False, coerce=int, empty_value=None)
    member_id = forms.TypedChoiceField(label="Member", required=False, coerce=int, empty_value=None)
    is_mine = forms.BooleanField(label="Mine only", required=False)

    def __init__(self, *args, choices: ScanChoices, roll=None, **kwargs):
        super().__init__(*args, **kwargs)
        rolls = list(choices.rolls)
        if roll is not None and roll not in rolls:  # a link from a roll that has no scan yet
            rolls.insert(0, roll)
        for name, rows in (
            ("roll_id", rolls),
            ("scanner_id", choices.scanners),
            ("member_id", choices.members),
        ):
            self.fields[name].choices = [("", "any"), *((row.pk, str(row)) for row in rows)]

    def wanted(self) -> ScanFilter | None:
        """Return what is wanted, or None when the address asks for what does not exist."""
        return ScanFilter(**self.cleaned_data) if self.is_valid() else None


class SeveralFilesInput(forms.ClearableFileInput):
    """A file input that takes several."""

    allow_multiple_selected = True


class SeveralFilesField(forms.FileField):
    """One file or several, always as a list."""

    widget = SeveralFilesInput(attrs={"accept": ".tif,.tiff,.png,.jpg,.jpeg"})

    def clean(self, data, initial=None):
        """Check each file."""
        files = data if isinstance(data, list | tuple) else [data]
        return [super(SeveralFilesField, self).clean(file, initial) for file in files or [None]]


class UploadForm(LabForm):
    """Files, and what is known of them beforehand."""

    shows = forms.ChoiceField(label="They show", required=False, choices=[LATER, *SHOWS])
    roll_id = forms.TypedChoiceField(label="Roll", required=False, coerce=int, empty_value=None)
    files = SeveralFilesField(label="Files", allow_empty_file=True)

    def __init__(self, *args, rolls, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["roll_id"].choices = [("", "none, or say it later"), *_roll_options(rolls)]


class RowForm(LabForm):
    """What differs from scan to scan: which roll and strip, and which frame."""

    place = forms.ChoiceField(label="Roll and strip", required=False)
    frame_label = forms.CharField(label="Frame", required=False, max_length=40)

    def __init__(self, *args, choices: DescribeChoices, is_row: bool = True, **kwargs):
        super().__init__(*args, **kwargs)
        lead = ("", "as above") if is_row else ("", "none")
        self.fields["place"].choices = [lead, *_places(choices)]

    def clean(self):
        """Turn the place into the ids that the service asks for."""
        told = super().clean()
        place = told.pop("place", "")
        if place:
            roll, _, strip = place.partition(".")
            told |= {"roll_id": int(roll), "strip_id": int(strip) if strip else None}
        return told

    def refuse(self, fault: LabError) -> None:
        """Show what is wrong with roll or strip beside the place, and with settings beside the first."""
        shown = {"roll_id": "place", "strip_id": "place", "settings": SETTINGS[0]}
        for problem in fault.problems or ({"field": fault.field, "message": fault.message},):
            name = shown.get(problem["field"], problem["field"])
            self.add_error(name if name in self.fields else None, problem["message"])


class DescribeForm(RowForm):
    """What a scan shows and how it was made; its values are the arguments of ``describe_scan``."""

    shows = forms.ChoiceField(label="It shows", choices=[("", "Choose what it shows"), *SHOWS])
    tablet_id = forms.TypedChoiceField(label="Step tablet", required=False, coerce=int, empty_value=None)
    scanner_id = forms.TypedChoiceField(
        label="Scanner",
        required=False,
        coerce=int,
        empty_value=None,
        help_text="If yours is missing, an admin adds it among the instruments.",
    )
    holder = forms.CharField(label="Holder or glass", required=False, max_length=120)
    light = forms.CharField(label="Light source", required=False, max_length=120)
    mode = forms.CharField(
        label="Mode",
        required=False,
        max_length=120,
        help_text="As the scanner's software calls it, such as: positive film, 16-bit grey.",
    )
    exposure = forms.CharField(
        label="Exposure",
        required=False,
        max_length=120,
        help_text="As set by hand. Automatic measures nothing.",
    )
    corrections = forms.BooleanField(
        label="Sharpening, dust removal and tone curves were off",
        required=False,
        help_text="With any of them on, densities and grain are not the film's.",
    )
    scanned_on = day_field("Scanned on", required=False)
    told_resolution_ppi = DecimalField(label="Resolution, pixels per inch", required=False)
    told_resolution_reason = forms.CharField(
        label="Why it is not what the file says", required=False, max_length=200
    )
    notes = text_area("Notes", required=False)

    field_order = (
        "shows",
        "place",
        "tablet_id",
        "frame_label",
        "scanner_id",
        "holder",
        "light",
        "mode",
        "exposure",
        "corrections",
        "scanned_on",
        "told_resolution_ppi",
        "told_resolution_reason",
        "notes",
    )

    def __init__(self, *args, choices: DescribeChoices, resolution: str = "", is_several=False, **kwargs):
        super().__init__(*args, choices=choices, is_row=False, **kwargs)
        self.fields["tablet_id"].choices = [("", "none"), *((each.pk, str(each)) for each in choices.tablets)]
        self.fields["scanner_id"].choices = [
            ("", "not known"),
            *((each.pk, str(each)) for each in choices.scanners),
        ]
        self.fields[
            "place"
        ].help_text = "A strip or frame needs it. Yours that can still be changed come first."
        if resolution:
            self.fields[
                "told_resolution_ppi"
            ].help_text = f"The file says {resolution}. Fill this in only where that is wrong."
        else:
            self.fields[
                "told_resolution_ppi"
            ].help_text = (
                "The file does not say it. Grain and sharpness are measured per millimetre and need it."
            )
            del self.fields["told_resolution_reason"]
        if is_several:
            del self.fields["frame_label"]
            self.fields["shows"].label = "They show"

    def clean(self):
        """Gather what was set on the scanner, and leave nothing out that the service would keep as it was."""
        told = super().clean()
        settings = {name: told.pop(name, "") for name in SETTINGS}
        settings["corrections"] = "off" if settings["corrections"] else ""
        return {"roll_id": None, "strip_id": None} | told | {"settings": settings}


def _roll_options(rolls) -> list[tuple[int, str]]:
    return [(roll.pk, f"{roll.code}, {roll.batch.stock.name}") for roll in rolls]


def _places(choices: DescribeChoices) -> list[tuple]:
    """Rolls with their strips: ``12`` a roll, ``12.34`` its strip 34."""
    groups = []
    for roll, strips in groupby(choices.strips, key=lambda strip: strip.roll):
        options = [(f"{roll.pk}.{strip.pk}", f"{roll.code}, strip {strip.number}") for strip in strips]
        groups.append(
            (f"{roll.code}, {roll.batch.stock.name}", [*options, (str(roll.pk), f"{roll.code}, no strip")])
        )
    decided = [(str(roll.pk), f"{roll.code}, {roll.batch.stock.name}") for roll in choices.decided]
    return [*groups, ("For prints, fields and edges only", decided)] if decided else groups
