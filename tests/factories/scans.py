"""Scans as bare rows over real files, for tests that are not about uploading; and scanners' pictures."""

import os
from dataclasses import dataclass
from datetime import date
from functools import cache

import numpy as np
import tifffile
from django.conf import settings

from curves.models import Instrument, RevisionState, Roll, TabletRevision
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from scans.imaging.calibrate import StepLevels, calibrate
from scans.imaging.calibrate_store import calibration_to_dict
from scans.imaging.synthetic_tablets import Scene, draw_scan
from scans.models import FileState, Measurement, Placement, Scan, ScannerCalibration, Shows, StoredFile
from scans.queries.measured import measurable_scan, measuring_basis
from scans.queries.setups import setup_digest, setup_of
from scans.queries.tablets import tablet_revision_of
from scans.services.calibrating import calibrate_scanner
from scans.services.files import digest_of_file
from scans.services.measuring import request_measuring
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_batch, make_roll, make_standards
from tests.factories.standards import DENSITIES

DAY = date(2026, 5, 10)
SETTINGS = {"holder": "film", "light": "transparency lamp", "mode": "linear, no corrections"}
PPI = 2400


def make_scanner(admin, name="Flatbed 3") -> Instrument:
    """A scanner as the lab lists it."""
    return make_instrument(admin, name, kind="scanner", geometry="scanner", aperture_mm=None, reading_sd=None)


def file_row(samples, *, ppi=PPI, name="scan", **fields) -> StoredFile:
    """A 16-bit TIFF in the lab's store, checked and found measurable."""
    folder = settings.MEDIA_ROOT / "made"
    folder.mkdir(parents=True, exist_ok=True)
    written = folder / f"{name}-{os.getpid()}.tif"  # test processes may share the store
    resolution = {"resolution": (ppi, ppi)} if ppi else {}
    tifffile.imwrite(written, samples, metadata=None, software="", **resolution)
    digest = digest_of_file(written)
    values = {
        "size_bytes": written.stat().st_size,
        "state": FileState.MEASURABLE,
        "format": "TIFF",
        "width_px": samples.shape[1],
        "height_px": samples.shape[0],
        "channels": 1,
        "bit_depth": 16,
        "resolution_x_ppi": ppi,
        "resolution_y_ppi": ppi,
    }
    file, _ = StoredFile.objects.get_or_create(digest=digest, defaults=values | fields)
    file.path.parent.mkdir(parents=True, exist_ok=True)
    written.replace(file.path)
    return file


def scan_row(member, samples, shows, *, scanner, scanned_on=DAY, ppi=PPI, name="scan", **fields) -> Scan:
    """A scan that its member has described."""
    return Scan.objects.create(
        file=samples if isinstance(samples, StoredFile) else file_row(samples, ppi=ppi, name=name),
        member=member,
        filename=f"{name}.tif",
        shows=shows,
        scanner=scanner,
        scanned_on=scanned_on,
        **{"settings": SETTINGS} | fields,
    )


def tablet_picture(densities=DENSITIES, *, seed=1, response=None, **scene) -> np.ndarray:
    """What the scanner makes of a tablet with these densities, without stray light or dark level."""
    return _drawn_tablet(tuple(densities), seed, response, tuple(sorted(scene.items()))).copy()


@cache
def _drawn_tablet(densities, seed, response, scene) -> np.ndarray:
    wanted = {"width": 1100, "height": 300, "centre": (550.0, 150.0), "surround": "dark", "grain": 0.004}
    wanted |= {"pitch_px": 40.0, "height_px": 160.0}
    drawn = Scene(densities=densities, seed=seed, **wanted | dict(scene))
    return draw_scan(drawn, response, flare=0.0005, dark=20.0).samples


def tablet_scan(member, revision, scanner, *, densities=DENSITIES, seed=1, scene=None, **fields) -> Scan:
    """A scan of a step tablet."""
    samples = tablet_picture(densities, seed=seed, **scene or {})
    return scan_row(
        member, samples, Shows.TABLET, scanner=scanner, tablet=revision.tablet, name="tablet", **fields
    )


def film_densities(roll) -> dict[int, float]:
    """Gross density of the film behind each step of the roll's tablet: a straight line with a soft toe."""
    steps = roll.strips.get(number=1).tablet_revision.steps.all()
    return {
        s.step: round(0.25 + 0.62 * 0.2 * float(np.logaddexp(0.0, (2.4 - s.density) / 0.2)), 4) for s in steps
    }


def strip_scan(member, roll, scanner, *, seed=2, scene=None, **fields) -> Scan:
    """A scan of the roll's strip: film exposed through the tablet, its unexposed margin at either end."""
    truth = film_densities(roll)
    wanted = {"margins": (2.5, 2.5), "margin_density": 0.25, "seed": seed}
    samples = tablet_picture(sorted(truth.values()), **wanted | (scene or {}))
    fields = {"roll": roll, "strip": roll.strips.get(number=1)} | fields
    return scan_row(member, samples, Shows.STRIP, scanner=scanner, name="strip", **fields)


@dataclass
class ScanLab:
    """A lab with one scanner, a tablet's scan and a strip's, described and not yet measured."""

    roll: Roll
    scanner: Instrument
    tablet: Scan
    strip: Scan

    def calibrate(self, **fields):
        """Measure both and calibrate the scanner from the tablet; the calibration."""
        for scan in (self.tablet, self.strip):
            request_measuring(scan=scan)
        run_waiting_jobs()
        calibrate_scanner(actor=self.tablet.member, scan_id=self.tablet.pk, **fields)
        run_waiting_jobs()
        return self.scanner.calibrations.get()


def make_scan_lab(owner, admin) -> ScanLab:
    """A planned roll of the owner's, and scans of its strip and of the tablet behind it."""
    roll = make_roll(owner, make_batch(owner), make_standards(admin))
    scanner = make_scanner(admin)
    revision = roll.strips.get(number=1).tablet_revision
    return ScanLab(
        roll=roll,
        scanner=scanner,
        tablet=tablet_scan(owner, revision, scanner),
        strip=strip_scan(owner, roll, scanner),
    )


def areas_by_step(measurement) -> dict[int, dict]:
    """The document's areas by their step."""
    return {area["step"]: area for area in measurement.document["areas"]}


def last_job(kind: str) -> Job:
    """The newest job of a kind."""
    return Job.objects.filter(kind=kind).order_by("-created_at").first()


def level_of(density) -> np.ndarray:
    """What a scanner in proportion to light writes for densities."""
    return 20.0 + 57000.0 * 10.0 ** -np.asarray(density, float)


def calibration_row(scan, *, made_on=DAY, valid_days=30, **fields) -> ScannerCalibration:
    """A calibration of the scan's own set-up, made without pictures; no job was needed for it."""
    density = np.array(DENSITIES)
    made = calibrate(
        StepLevels(level_of(density), np.full(density.size, 1.0), np.full(density.size, 60.0)),
        density,
        setup=setup_of(scan),
        made_on=made_on,
        dark_level=20.0,
        valid_days=valid_days,
    )
    revision = scan.strip.tablet_revision if scan.strip else tablet_revision_of(scan)
    revision = revision or TabletRevision.objects.filter(state=RevisionState.IN_FORCE).first()
    values = {
        "scanner": scan.scanner,
        "scan": scan,
        "tablet_revision": revision,
        "setup": {"scanner": made.setup.scanner, "settings": made.setup.settings},
        "setup_digest": setup_digest(scan),
        "document": calibration_to_dict(made),
        "made_on": made_on,
        "valid_days": valid_days,
        "made_by": scan.member,
        "input_digest": f"{ScannerCalibration.objects.count():064d}",
    }
    return ScannerCalibration.objects.create(**values | fields)


def bare_scan(member, roll, scanner, **fields) -> Scan:
    """A scan of the roll's strip over a picture of a few grey pixels."""
    fields = {"strip": roll.strips.get(number=1), "roll": roll} | fields
    return scan_row(member, np.full((60, 400), 9000, np.uint16), Shows.STRIP, scanner=scanner, **fields)


def measurement_row(scan, densities: dict[int, float | None], **fields) -> Measurement:
    """A standing measurement with these densities by step (0: unexposed; None: withheld), read by nobody."""
    box = [[10, 10], [30, 10], [30, 40], [10, 40]]
    areas = [{"label": f"step {n}", "corners": box} for n in range(1, 22)]
    placement = Placement.objects.create(
        scan=scan,
        number=scan.placements.count() + 1,
        origin="found",
        layout="steps-21",
        darkens="right",
        outline=box,
        areas=areas,
    )
    basis = measuring_basis(measurable_scan(scan.pk), placement)
    withheld = basis.chosen.withheld
    document = {
        "format": "scan measurement 1",
        "patch_digest": basis.patch_digest,
        "withheld": withheld.to_dict() if withheld else None,
        "flags": [],
        "notes": [],
        "areas": [_area(step, density, box) for step, density in densities.items()],
    }
    values = {
        "scan": scan,
        "kind": "density",
        "placement": placement,
        "calibration": basis.chosen.row,
        "engine_version": "1",
        "input_digest": basis.digest,
        "document": document,
    }
    return Measurement.objects.create(**values | fields)


def _area(step: int, density: float | None, box) -> dict:
    def measure(value, spread):
        ends = (None, None) if value is None else (value - spread, value + spread)
        reason = "EXTRAPOLATED" if value is None else None
        return {
            "value": value,
            "low": ends[0],
            "high": ends[1],
            "unit": "density",
            "reason": reason,
            "note": "",
        }

    return {
        "label": "unexposed" if step == 0 else f"step {step}",
        "step": step,
        "location": box,
        "level": 100.0,
        "level_error": 1.0,
        "level_spread": 9.0,
        "usable_pixels": 600,
        "left_out": 0.0,
        "transmittance": measure(None if density is None else 10.0**-density, 0.0),
        "density": measure(density, 0.008),
        "density_spread": measure(None if density is None else 0.02, 0.0),
        "flags": [],
    }
