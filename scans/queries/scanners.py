"""Scanners as instruments: their set-ups with the calibration in force, one calibration, what rests on it."""

import datetime
from dataclasses import dataclass, replace

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from curves.models import Instrument, Reading, Roll
from curves.sensitometry.number_text import signed_number
from labsite.common.access import is_admin, is_member
from labsite.common.errors import NotFound
from scans.imaging.calibrate import ScannerSetup
from scans.imaging.calibrate_store import calibration_from_dict, calibration_to_dict
from scans.imaging.measures import Refusal
from scans.models import CalibrationState, Measurement, ScannerCalibration, ScannerTrial, Transfer
from scans.queries.calibrations import setting_words
from scans.queries.setups import file_settings
from scans.queries.trials import visible_trials


@dataclass(frozen=True)
class SetupRow:
    """One set-up of a scanner with the calibration that is in force."""

    settings: str
    calibration: ScannerCalibration
    count: int
    trial: ScannerTrial | None
    age_days: int
    drift_text: str

    @property
    def valid_until(self) -> datetime.date:
        """The last day on which scans may be read with it."""
        return valid_until(self.calibration)

    @property
    def is_expired(self) -> bool:
        """Whether scans of today are withheld."""
        return self.age_days > self.calibration.valid_days

    @property
    def density_range(self) -> str:
        """From the lightest step to where noise takes over."""
        return density_range(self.calibration)


@dataclass(frozen=True)
class ScannerRow:
    """A scanner and its set-ups."""

    scanner: Instrument
    setups: tuple[SetupRow, ...]


@dataclass(frozen=True)
class Resting:
    """What rests on a calibration: measurements, and the readings that were taken from them."""

    measurements: tuple[Measurement, ...]
    transfers: tuple[Transfer, ...]
    rolls: tuple[tuple[Roll, int], ...]


@dataclass(frozen=True)
class CalibrationPage:
    """Everything that the page of a calibration shows."""

    row: ScannerCalibration
    settings: tuple[tuple[str, str], ...]
    steps: tuple[tuple[int, float, float | None], ...]
    history: tuple[ScannerCalibration, ...]
    resting: Resting
    can_void: bool

    @property
    def valid_until(self) -> datetime.date:
        """The last day on which scans may be read with it."""
        return valid_until(self.row)

    @property
    def density_range(self) -> str:
        """From the lightest step to where noise takes over."""
        return density_range(self.row)

    @property
    def flare_percent(self) -> float:
        """Stray light as fitted, of the clear gate's; where the dark level was not measured it is in it."""
        return 100 * self.row.document["response"]["flare"]

    @property
    def drifts(self) -> list[dict]:
        """What is known of drift, calibration by calibration, oldest first."""
        known = [row for row in self.history if row.drift.get("largest") is not None]
        return [
            {"made_on": row.made_on.isoformat(), "largest": row.drift["largest"], "rms": row.drift["rms"]}
            for row in known
        ]


def visible_calibrations(user) -> QuerySet[ScannerCalibration]:
    """The lab's calibrations, newest first; none but for members."""
    if not is_member(user):
        return ScannerCalibration.objects.none()
    return ScannerCalibration.objects.select_related("scanner", "scan", "tablet_revision__tablet", "made_by")


def scanner_rows(user) -> list[ScannerRow]:
    """Every scanner in use or once calibrated, with its set-ups."""
    if not is_member(user):
        return []
    calibrations = visible_calibrations(user).order_by("-made_on", "-id")
    scanners = Instrument.objects.filter(kind=Instrument.Kind.SCANNER).prefetch_related(
        Prefetch("calibrations", queryset=calibrations, to_attr="all_calibrations")
    )
    trials = {(t.scanner_id, t.setup_digest): t for t in visible_trials(user) if t.is_in_force}
    return [ScannerRow(scanner, tuple(_setups(scanner, trials))) for scanner in scanners]


def calibration_page(user, calibration_id: int) -> CalibrationPage:
    """What the page of one calibration shows; NotFound otherwise."""
    row = visible_calibrations(user).filter(pk=calibration_id).first()
    if row is None:
        raise NotFound("There is no such calibration, or it is not open to you.")
    stored = row.document["steps"]
    of_setup = visible_calibrations(user).filter(scanner=row.scanner, setup_digest=row.setup_digest)
    return CalibrationPage(
        row=row,
        settings=tuple((setting_words(name), value) for name, value in row.setup["settings"].items()),
        steps=tuple(
            (number, density, residual)
            for number, (density, residual) in enumerate(
                zip(stored["density"], stored["residual"], strict=True), start=1
            )
        ),
        history=tuple(of_setup.order_by("made_on", "id")),
        resting=resting_on(row),
        can_void=is_admin(user) and row.state != CalibrationState.VOID,
    )


def resting_on(row: ScannerCalibration) -> Resting:
    """Measurements made with a calibration, transfers out of them, and rolls with how many readings."""
    measurements = tuple(
        Measurement.objects.filter(calibration=row).select_related("scan__roll").defer("document")
    )
    transfers = tuple(
        Transfer.objects.filter(measurement__calibration=row)
        .select_related("measurement__scan", "strip__roll__batch__stock", "taken_by")
        .prefetch_related(Prefetch("readings", queryset=Reading.objects.filter(is_current=True)))
        .defer("measurement__document")
    )
    rolls: dict[int, list] = {}
    for transfer in transfers:
        known = rolls.setdefault(transfer.strip.roll_id, [transfer.strip.roll, set()])
        known[1].update(reading.pk for reading in transfer.readings.all())
    return Resting(measurements, transfers, tuple((roll, len(pks)) for roll, pks in rolls.values()))


def portable_calibration(row: ScannerCalibration) -> dict:
    """The calibration for ``measure_scan``: under the scanner and settings that the scan's file tells."""
    made = calibration_from_dict(row.document)
    if isinstance(made, Refusal):
        raise NotFound(made.text)
    told = row.scan.file.metadata
    scanner = " ".join(told[name] for name in ("make", "model") if told.get(name))
    return calibration_to_dict(replace(made, setup=ScannerSetup(scanner, file_settings(row.scan.file))))


def valid_until(row: ScannerCalibration) -> datetime.date:
    """The last day on which scans may be read with a calibration."""
    return row.made_on + datetime.timedelta(days=row.valid_days)


def density_range(row: ScannerCalibration) -> str:
    """Densities that a calibration covers with certainty, in words."""
    density, high = row.document["response"]["density"], row.document["usable_density_high"]
    top = density[0] if high["value"] is None else high["value"]
    bound = "at least " if high["value"] is not None and high["high"] is None else ""
    return f"{density[-1]:.2f} to {bound}{top:.2f} D"


def _setups(scanner: Instrument, trials: dict):
    groups: dict[str, list[ScannerCalibration]] = {}
    for row in scanner.all_calibrations:
        if row.state != CalibrationState.VOID:
            groups.setdefault(row.setup_digest, []).append(row)
    for digest, rows in groups.items():
        standing = next((row for row in rows if row.state == CalibrationState.IN_FORCE), rows[0])
        yield SetupRow(
            settings=", ".join(
                f"{setting_words(name)} {value}" for name, value in standing.setup["settings"].items()
            ),
            calibration=standing,
            count=len(rows),
            trial=trials.get((scanner.pk, digest)),
            age_days=(timezone.localdate() - standing.made_on).days,
            drift_text=_drift_text(standing),
        )


def _drift_text(row: ScannerCalibration) -> str:
    if row.drift.get("largest") is None:
        return row.drift.get("refusal", "the first of this set-up")
    return f"{signed_number(row.drift['largest'], 3)} D since {row.drift['made_on']}"
