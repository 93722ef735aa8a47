"""One scan as its page shows it: areas with their numbers, what they rest on, and what can be done."""

from dataclasses import dataclass

from curves.models.picture_measures import PictureMeasure
from labsite.jobs.models import Job
from scans.imaging.flags import REASONS
from scans.models import (
    CalibrationState,
    FileState,
    Measurement,
    Placement,
    Scan,
    ScannerCalibration,
    Transfer,
)
from scans.queries.calibrations import obstacle_to_calibrating, setting_words
from scans.queries.measured import current_measurement, measuring_basis, newest_placement, shown_density
from scans.queries.scan_list import visible_scan
from scans.queries.setups import day_of, setup_of
from scans.queries.tablets import fits_layout
from scans.queries.taking import interval_of, obstacle_of_measurement, obstacle_to_taking
from scans.queries.taking_pictures import NAMES, obstacle_to_taking_picture, taken_from
from scans.queries.tiles import editor_source

WITHOUT = "–"


@dataclass(frozen=True)
class AreaRow:
    """One line of the table of areas, in words and numbers."""

    label: str
    density: float | None
    reason: str
    interval: str
    spread: str
    usable_pixels: int
    left_out_percent: str
    flags: tuple[str, ...]

    @property
    def density_text(self) -> str:
        """The density to 0.001 with a true minus sign; empty where it is withheld."""
        return "" if self.density is None else f"{self.density:.3f}".replace("-", "−")


@dataclass(frozen=True)
class ScanPage:
    """Everything that a scan's page shows."""

    scan: Scan
    setup: tuple[tuple[str, str], ...]
    placement: Placement | None
    placements: tuple[Placement, ...]
    measurement: Measurement | None
    areas: tuple[AreaRow, ...]
    calibration_age_days: int | None
    own_calibrations: tuple[ScannerCalibration, ...]
    transfers: tuple[Transfer, ...]
    voided: tuple[Measurement, ...]
    jobs: tuple[Job, ...]
    is_outdated: bool
    source: dict | None
    calibrating_obstacle: str
    taking_obstacle: str
    picture_obstacle: str
    picture_taken: PictureMeasure | None

    @property
    def document(self) -> dict:
        """What was measured; empty when nothing was."""
        return self.measurement.document if self.measurement else {}

    @property
    def is_in_force(self) -> bool:
        """Whether a calibration made from this scan stands."""
        return any(row.state == CalibrationState.IN_FORCE for row in self.own_calibrations)

    @property
    def is_measurable(self) -> bool:
        """Whether numbers can come from the file at all."""
        return self.scan.file.state == FileState.MEASURABLE and bool(self.scan.shows)


def scan_page(user, scan_id: int) -> ScanPage:
    """What the page of one scan shows to this person."""
    scan = visible_scan(user, scan_id)
    placement, measurement = newest_placement(scan), current_measurement(scan)
    rows = area_rows(measurement.document["areas"]) if measurement else ()
    calibration = measurement.calibration if measurement else None
    jobs, source = tuple(open_or_failed_jobs(scan)), _source(scan, placement, measurement)
    if source is not None:
        source["is_awaited"] = placement is None and any(not job.is_ended for job in jobs)
    obstacle = obstacle_to_taking(scan) or obstacle_of_measurement(scan, measurement)
    return ScanPage(
        scan=scan,
        setup=setup_facts(scan),
        placement=placement,
        placements=tuple(scan.placements.select_related("placed_by")),
        measurement=measurement,
        areas=rows,
        calibration_age_days=(day_of(scan) - calibration.made_on).days if calibration else None,
        own_calibrations=tuple(scan.calibrations.all()),
        transfers=tuple(
            Transfer.objects.filter(measurement__scan=scan).select_related(
                "strip__roll", "taken_by", "measurement__calibration"
            )
        ),
        voided=tuple(_voided(scan)),
        jobs=jobs,
        is_outdated=_is_outdated(scan, placement, measurement),
        source=source,
        calibrating_obstacle=obstacle_to_calibrating(scan, measurement),
        taking_obstacle=obstacle,
        picture_obstacle=obstacle_to_taking_picture(scan, measurement),
        picture_taken=taken_from(scan) if measurement and measurement.kind in NAMES else None,
    )


def area_rows(areas: list[dict]) -> tuple[AreaRow, ...]:
    """Lines of the table of areas out of a document."""
    return tuple(
        AreaRow(
            label=area["label"],
            density=shown_density(area),
            reason=REASONS.get(area["density"]["reason"], ""),
            interval=interval_of(area["density"]),
            spread=WITHOUT
            if area["density_spread"]["value"] is None
            else f"{area['density_spread']['value']:.3f}",
            usable_pixels=area["usable_pixels"],
            left_out_percent=f"{100 * area['left_out']:.1f}",
            flags=tuple(flag["text"] for flag in area["flags"]),
        )
        for area in areas
    )


def setup_facts(scan: Scan) -> tuple[tuple[str, str], ...]:
    """Scanner and settings in words."""
    setup = setup_of(scan)
    facts = [("Scanner", setup.scanner or "not said yet")]
    return tuple(
        facts + [(setting_words(name).capitalize(), value) for name, value in setup.settings.items()]
    )


def open_or_failed_jobs(scan: Scan) -> list[Job]:
    """The scan's jobs that run or wait, and the last of each kind where it failed."""
    latest: dict[str, Job] = {}
    keys = [f"measure_scan:{scan.pk}", f"measure_scan:{scan.pk}:anew", f"calibrate_scanner:{scan.pk}"]
    for job in Job.objects.filter(dedupe_key__in=keys).order_by("created_at"):
        latest[job.kind] = job
    return [job for job in latest.values() if job.state not in (Job.State.DONE, Job.State.CANCELLED)]


def _voided(scan: Scan):
    """Measurements of the scan that rested on a calibration which is void now."""
    found = scan.measurements.filter(calibration__state=CalibrationState.VOID)
    return found.select_related("calibration")


def _is_outdated(scan: Scan, placement: Placement | None, measurement: Measurement | None) -> bool:
    """Whether measuring again now would rest on something else."""
    if measurement is None or placement is None or not placement.is_found or not fits_layout(placement, scan):
        return False
    return measuring_basis(scan, placement).digest != measurement.input_digest


def _source(scan: Scan, placement: Placement | None, measurement: Measurement | None) -> dict | None:
    """What the area editor shows: the placed areas under the labels and with the values of the table."""
    if not scan.file.can_be_seen:
        return None
    source = editor_source(scan, placement)
    if measurement is None or placement is None or measurement.placement_id != placement.pk:
        return source
    read = area_rows(measurement.document["areas"])
    for shown, row in zip(source["areas"], read, strict=False):
        shown |= {"label": row.label, "text": row.density_text, "flags": list(row.flags)}
    drawn = len(source["areas"])
    for area, row in zip(measurement.document["areas"][drawn:], read[drawn:], strict=True):
        more = {"label": row.label, "text": row.density_text, "flags": list(row.flags)}
        source["areas"].append(more | {"corners": area["location"]})
    return source
