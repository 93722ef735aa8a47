"""Which calibration a scan may be read with: of the same set-up, valid on its day; or why there is none."""

from dataclasses import dataclass

from scans.imaging.calibrate import Calibration, ScannerSetup
from scans.imaging.calibrate_store import calibration_from_dict
from scans.imaging.measures import Refusal
from scans.models import CalibrationState, Measurement, Scan, ScannerCalibration, ScannerTrial, Shows
from scans.queries.setups import day_of, resolution_of, setup_digest, setup_of
from scans.queries.tablets import tablet_revision_of

CALIBRATE = (
    "Scan the step tablet with this scanner and these settings, say that the scan shows the tablet, "
    "and calibrate from it; this scan is then measured again by itself."
)


@dataclass(frozen=True)
class Withheld:
    """Why densities are withheld, and what to do."""

    code: str
    text: str
    advice: str

    def to_dict(self) -> dict:
        """As it stands in documents."""
        return {"code": self.code, "text": self.text, "advice": self.advice}


@dataclass(frozen=True)
class Chosen:
    """The calibration that holds for a scan, or why none does."""

    row: ScannerCalibration | None = None
    withheld: Withheld | None = None

    @property
    def engine(self) -> Calibration | None:
        """The calibration as the imaging package takes it."""
        return None if self.row is None else calibration_from_dict(self.row.document)


def calibration_for(scan: Scan) -> Chosen:
    """The newest calibration of the scan's own set-up that was valid on its day."""
    if scan.scanner is None:
        advice = "Say which of the lab's scanners made it, where you say what the scan shows."
        return Chosen(withheld=Withheld("UNCALIBRATED", "Nobody said which scanner made this scan.", advice))
    standing = ScannerCalibration.objects.exclude(state=CalibrationState.VOID)
    digest, day = setup_digest(scan), day_of(scan)
    of_setup = list(standing.filter(scanner=scan.scanner, setup_digest=digest).order_by("-made_on", "-id"))
    for row in of_setup:
        if 0 <= (day - row.made_on).days <= row.valid_days:
            return _checked(row)
    if of_setup:
        return Chosen(withheld=_expired(of_setup, day))
    return Chosen(withheld=_of_others(scan, standing))


def trial_for(scan: Scan) -> ScannerTrial | None:
    """The trial of the same scanner with the same settings, for what the scanner itself adds to grain."""
    if scan.scanner is None:
        return None
    trials = ScannerTrial.objects.filter(scanner=scan.scanner, setup_digest=setup_digest(scan))
    return trials.filter(is_in_force=True).first()


def _checked(row: ScannerCalibration) -> Chosen:
    read = calibration_from_dict(row.document)
    if isinstance(read, Refusal):
        return Chosen(withheld=Withheld(read.code, read.text, CALIBRATE))
    return Chosen(row=row)


def _expired(rows: list[ScannerCalibration], day) -> Withheld:
    before = [row for row in rows if row.made_on <= day]
    if before:
        row, age = before[0], (day - before[0].made_on).days
        text = (
            f"The calibration of {row.made_on:%Y-%m-%d} is valid for {row.valid_days} days; "
            f"this scan is of {day:%Y-%m-%d}, {age} days after it."
        )
        return Withheld("EXPIRED", text, CALIBRATE)
    text = (
        f"The scanner was first calibrated with these settings on {rows[-1].made_on:%Y-%m-%d}, "
        f"after this scan of {day:%Y-%m-%d}."
    )
    return Withheld("EXPIRED", text, "Scan the film again, now that the scanner is calibrated.")


def _of_others(scan: Scan, standing) -> Withheld:
    own = list(standing.filter(scanner=scan.scanner))
    if own:
        setup = setup_of(scan)
        nearest = min((differing_settings(row.setup["settings"], setup) for row in own), key=len)
        text = f"{scan.scanner} was calibrated with other settings: {'; '.join(nearest)}."
        return Withheld("OTHER_SETTINGS", text, f"{CALIBRATE} Or scan the film again with those settings.")
    others = sorted({str(row.scanner) for row in standing.select_related("scanner")})
    if others:
        text = (
            f"Only {', '.join(others)} {'is' if len(others) == 1 else 'are'} calibrated, not {scan.scanner}."
        )
        return Withheld("OTHER_SCANNER", text, CALIBRATE)
    return Withheld("UNCALIBRATED", f"{scan.scanner} was never calibrated.", CALIBRATE)


def differing_settings(theirs: dict, setup: ScannerSetup) -> list[str]:
    """Each setting that differs, in words: there and here."""

    def plain(settings: dict) -> dict:
        return {name: " ".join(str(value).split()).casefold() for name, value in settings.items() if value}

    there, here = plain(theirs), plain(setup.settings)
    names = sorted(name for name in there.keys() | here.keys() if there.get(name) != here.get(name))
    return [
        f"{setting_words(name)} {theirs.get(name) or 'not told'} there, "
        f"{setup.settings.get(name) or 'not told'} here"
        for name in names
    ]


def setting_words(name: str) -> str:
    """A setting's name as people read it."""
    words = {"resolution_ppi": "resolution (pixels/inch)", "bit_depth": "bits a sample"}
    return words.get(name, name.replace("_", " "))


def obstacle_to_calibrating(scan: Scan, measurement: Measurement | None) -> str:
    """What stands against calibrating the scanner from this scan, and what to do; empty when nothing does."""
    if scan.shows != Shows.TABLET:
        return "A scanner is calibrated from a scan of the step tablet itself; this one shows something else."
    if scan.scanner is None:
        return "Say first which scanner made this scan."
    if scan.tablet is None:
        return "Say first which step tablet this scan shows."
    if tablet_revision_of(scan) is None:
        return f"{scan.tablet} has no calibration in force; enter its densities under Control first."
    if resolution_of(scan) is None:
        return "The file does not say how many pixels an inch has; say it where you say what the scan shows."
    automatic = [name for name, value in (scan.settings or {}).items() if is_automatic(name, value)]
    if automatic:
        return (
            f"{setting_words(automatic[0]).capitalize()} was automatic, so that the next scan may come out "
            "differently; fix it on the scanner and scan the tablet again."
        )
    if measurement is None:
        return "The steps are not read yet; wait for the measuring, or place the tablet by hand."
    return ""


def is_automatic(name: str, value: object) -> bool:
    """Whether a setting that changes levels was left to the scanner."""
    text = " ".join(str(value).split()).casefold()
    return "exposure" in name.casefold() and text.startswith("auto")


def waiting_scans(row: ScannerCalibration) -> list[Scan]:
    """Scans of a calibration's set-up, valid on their day, that are measured without one."""
    waiting = Scan.objects.filter(
        scanner=row.scanner,
        is_discarded=False,
        measurements__is_current=True,
        measurements__calibration__isnull=True,
    )
    waiting = waiting.select_related("file", "scanner", "tablet", "strip").distinct()
    return [
        scan
        for scan in waiting
        if setup_digest(scan) == row.setup_digest and 0 <= (day_of(scan) - row.made_on).days <= row.valid_days
    ]
