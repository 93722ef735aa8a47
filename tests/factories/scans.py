"""Scans as bare rows over real files, for tests that are not about uploading; and scanners' pictures."""

from datetime import date

import numpy as np
import tifffile
from django.conf import settings

from curves.models import Instrument
from scans.imaging.synthetic_tablets import Scene, draw_scan
from scans.models import FileState, Scan, Shows, StoredFile
from scans.services.files import digest_of_file
from tests.factories.instruments import make_instrument
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
    written = folder / f"{name}.tif"
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
    wanted = {"width": 1400, "height": 500, "centre": (700.0, 250.0), "surround": "dark", "grain": 0.004}
    drawn = Scene(densities=tuple(densities), seed=seed, **wanted | scene)
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
    wanted = {"margins": (2.5, 2.5), "margin_density": 0.25, "pitch_px": 48.0}
    samples = tablet_picture(sorted(truth.values()), seed=seed, **wanted | (scene or {}))
    fields = {"roll": roll, "strip": roll.strips.get(number=1)} | fields
    return scan_row(member, samples, Shows.STRIP, scanner=scanner, name="strip", **fields)
