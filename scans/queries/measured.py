"""What a measurement rests on: picture, places, calibration, trial and the other fields of a series."""

import hashlib
import json
from dataclasses import dataclass

from scans.imaging import IMAGING_VERSION
from scans.models import Measurement, MeasurementKind, Placement, Scan, ScannerTrial, Shows
from scans.queries.calibrations import Chosen, calibration_for, trial_for
from scans.queries.setups import resolution_of, setup_digest
from scans.queries.tablets import tablet_revision_of

KIND_OF = {Shows.FIELD: MeasurementKind.GRAIN, Shows.EDGE: MeasurementKind.EDGE}


@dataclass(frozen=True)
class Basis:
    """Everything that the numbers of one measurement follow from."""

    scan: Scan
    placement: Placement
    chosen: Chosen
    trial: ScannerTrial | None
    others: tuple[Measurement, ...]
    tablet_revision_id: int | None

    @property
    def kind(self) -> str:
        """Which kind of numbers the scan can give."""
        return KIND_OF.get(self.scan.shows, MeasurementKind.DENSITY)

    @property
    def patch_digest(self) -> str:
        """Digest of all but the other fields: the scan's own patches follow from it."""
        row, withheld = self.chosen.row, self.chosen.withheld
        return _digest(
            {
                "engine": IMAGING_VERSION,
                "file": self.scan.file.digest,
                "shows": self.scan.shows,
                "placement": self.placement.pk,
                "resolution": resolution_of(self.scan),
                "calibration": row.document["digest"] if row else None,
                "withheld": withheld.to_dict() if withheld else None,
                "trial": self.trial.pk if self.trial else None,
                "tablet": self.tablet_revision_id,
            }
        )

    @property
    def digest(self) -> str:
        """Digest of everything; the same inputs are never stored twice."""
        others = sorted(other.document["patch_digest"] for other in self.others)
        return _digest({"own": self.patch_digest, "others": others})


def measuring_basis(scan: Scan, placement: Placement) -> Basis:
    """What stands now for a scan and its newest placement."""
    revision = tablet_revision_of(scan)
    is_grain_or_edge = scan.shows in KIND_OF
    return Basis(
        scan=scan,
        placement=placement,
        chosen=calibration_for(scan),
        trial=trial_for(scan) if is_grain_or_edge else None,
        others=tuple(other_fields(scan)) if scan.shows == Shows.FIELD else (),
        tablet_revision_id=revision.pk if revision else None,
    )


def measurable_scan(scan_id: int) -> Scan | None:
    """A scan with all that measuring looks at."""
    related = ("file", "scanner", "tablet", "strip__tablet_revision__tablet", "roll")
    return Scan.objects.select_related(*related).filter(pk=scan_id, is_discarded=False).first()


def newest_placement(scan: Scan) -> Placement | None:
    """The placement that stands."""
    return scan.placements.order_by("-number").first()


def other_fields(scan: Scan) -> list[Measurement]:
    """Standing grain measurements of the roll's other fields, scanned with the same settings."""
    if scan.roll_id is None:
        return []
    found = Measurement.objects.filter(
        kind=MeasurementKind.GRAIN, is_current=True, scan__roll=scan.roll_id, scan__is_discarded=False
    ).exclude(scan=scan.pk)
    digest = setup_digest(scan)
    standing = found.select_related("scan__file", "scan__scanner").order_by("scan_id")
    return [
        each for each in standing if each.calibration_id is not None and setup_digest(each.scan) == digest
    ]


def current_measurement(scan: Scan) -> Measurement | None:
    """The measurement that stands, of the kind that the scan is said to show."""
    kind = KIND_OF.get(scan.shows, MeasurementKind.DENSITY)
    found = scan.measurements.filter(is_current=True, kind=kind)
    return found.select_related("calibration__scan", "trial", "placement").first()


def shown_density(area: dict) -> float | None:
    """An area's density as pages show it and readings take it, to 0.001; None where it is withheld."""
    value = area["density"]["value"]
    return None if value is None else round(value, 3) + 0.0


def _digest(content: dict) -> str:
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
