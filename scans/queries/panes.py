"""One pane of scans side by side: where the target lies in it, how its tones are shown, what it is."""

import math
from dataclasses import dataclass

import numpy as np

from curves.sensitometry.number_text import signed_number
from scans.imaging.density import Area, AreaReading
from scans.imaging.display_coding import Coding
from scans.imaging.display_match import DisplayMatch, display_match, grey_offset
from scans.imaging.flags import REASONS
from scans.imaging.homography import carried, fit_homography, slope_at
from scans.imaging.measures import Flag, Measure
from scans.imaging.picture import MICROMETRES_PER_INCH
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import Measurement, Placement, Scan, Shows, TilePyramid
from scans.queries.setups import resolution_of, setup_digest
from scans.queries.tablets import TARGET
from scans.queries.tiles import shown_pyramid, tile_source

GREY_CARD = "grey card"
MM_PER_INCH = MICROMETRES_PER_INCH / 1000


@dataclass(frozen=True)
class Frame:
    """What a scan's rows say of its picture."""

    scan: Scan
    pyramid: TilePyramid
    placement: Placement | None
    measurement: Measurement | None
    ppi: float | None

    @property
    def coding(self) -> Coding:
        """What the codes of its tiles mean."""
        return Coding.from_dict(self.pyramid.document["coding"])

    def reading(self, label: str) -> AreaReading | None:
        """What was read of a patch, if it was read by the calibration that the tiles are coded by."""
        measured = self.measurement
        if measured is None or measured.calibration_id != self.pyramid.calibration_id:
            return None
        found = (area for area in measured.document.get("areas", ()) if area["label"] == label)
        return next((_reading(area) for area in found), None)


@dataclass(frozen=True)
class Pane:
    """One picture with all that is shown of it and with it."""

    frame: Frame
    is_reference: bool
    homography: tuple[tuple[float, ...], ...]
    is_registered: bool
    degrees: float
    is_mirrored: bool
    px_per_target_unit: float
    match: DisplayMatch | None
    differences: tuple[str, ...]

    @property
    def scan(self) -> Scan:
        """The scan itself."""
        return self.frame.scan

    @property
    def coding(self) -> Coding:
        """What the codes of its tiles mean."""
        return self.frame.coding

    @property
    def stock(self) -> str:
        """The stock's name."""
        return str(self.scan.roll.batch.stock) if self.scan.roll else "Stock not said"

    @property
    def is_print(self) -> bool:
        """Whether what is dark in the scene is dark in the picture."""
        return self.scan.shows == Shows.PRINT

    @property
    def label(self) -> str:
        """The frame in words."""
        return self.scan.frame_label or ("print" if self.is_print else "frame")

    @property
    def grey_density(self) -> Measure | None:
        """Density of the grey card."""
        reading = self.frame.reading(GREY_CARD)
        return reading.density if reading else None

    @property
    def grey_text(self) -> str:
        """Density of the grey card with its 95 % interval, or why there is none."""
        density = self.grey_density
        if density is None:
            uncalibrated = self.coding.kind != "density"
            return "no calibration" if uncalibrated else "not measured with the calibration shown"
        if density.value is None:
            return REASONS[density.reason]
        return f"{density.value:.2f} ± {(density.high - density.low) / 2:.2f} D"

    @property
    def offset_value(self) -> float | None:
        """What is added to its densities for showing; None where it can't be matched."""
        return self.match.offset.value if self.match else None

    @property
    def offset_text(self) -> str:
        """What is added, with its 95 % interval, or why nothing is."""
        if self.is_reference:
            return "the reference" if self.grey_density else self.why_unmatched
        if self.offset_value is None:
            return self.why_unmatched
        offset = self.match.offset
        half = (offset.high - offset.low) / 2
        return f"{signed_number(offset.value, 2)} ± {half:.2f} D applied"

    @property
    def why_unmatched(self) -> str:
        """Why the tones are as they are in the scan."""
        if self.coding.kind != "density":
            return "not matched: no calibration of this scanner set-up"
        if self.match is None or self.match.withheld_by == "reference":
            return "not matched: the reference has no density of the grey card"
        return "not matched: no density of the grey card"

    def px_per(self, basis: str) -> float:
        """Pixels for a millimetre on the film, or for a unit of the target [pixels]."""
        return self.frame.ppi / MM_PER_INCH if basis == "film" else self.px_per_target_unit

    def place_of(self, point) -> tuple[float, float]:
        """Where a point of the target lies in the picture, (x, y) [pixels]."""
        x, y = carried(self.homography, [point])[0]
        return float(x), float(y)

    def tone(self, density_range, *, is_matched: bool, is_positive: bool = True) -> tuple[float, float]:
        """How a code of the tiles, as a share of 255, becomes what is shown: factor and what is added."""
        if self.coding.kind != "density" or density_range is None:
            return (1.0, 0.0) if self.is_print == is_positive else (-1.0, 1.0)
        low, high = density_range
        common = Coding("density", "linear", low, high, (high - low) / 255, low, high)
        offset = (self.offset_value or 0.0) if is_matched else 0.0
        factor, added = grey_offset(common, self.coding, offset)
        # Dense is light in a frame's positive, and dark in a print.
        return (factor, added / 255) if self.is_print != is_positive else (-factor, 1 - added / 255)

    def to_dict(self, basis: str, density_range) -> dict:
        """What a browser must know of the pane."""
        file = self.scan.file
        return {
            "scan": self.scan.pk,
            "width": file.width_px,
            "height": file.height_px,
            "tiles": tile_source(self.frame.pyramid),
            "homography": [list(row) for row in self.homography],
            "degrees": self.degrees,
            "is_mirrored": self.is_mirrored,
            "px_per_basis": self.px_per(basis),
            "tones": {
                "match": self.tone(density_range, is_matched=True),
                "as_scanned": self.tone(density_range, is_matched=False),
            },
        }


def frame_of(scan: Scan) -> Frame:
    """Gather a scan's rows; its newest placement counts where it is of the target."""
    newest = next(iter(scan.all_placements), None)
    is_target = newest is not None and newest.layout == TARGET and len(newest.outline) == 4
    resolution = resolution_of(scan)
    return Frame(
        scan=scan,
        pyramid=shown_pyramid(scan),
        placement=newest if is_target else None,
        measurement=next(iter(scan.standing_densities), None),
        ppi=math.sqrt(resolution[0] * resolution[1]) if resolution else None,
    )


def pane_of(scan: Scan, frame: Frame, *, reference: Scan, reference_frame: Frame) -> Pane:
    """Return the pane of a scan beside the reference's."""
    right, bottom = scan.file.width_px - 1, scan.file.height_px - 1
    whole = [(0, 0), (right, 0), (right, bottom), (0, bottom)]
    outline = frame.placement.outline if frame.placement else whole
    matrix = fit_homography(HOUSE_TARGET.corners, outline)
    slope = slope_at(matrix, (HOUSE_TARGET.width / 2, HOUSE_TARGET.height / 2))
    scale = math.sqrt(abs(float(np.linalg.det(slope))))
    is_mirrored = bool(np.linalg.det(slope) < 0)
    across = -slope[:, 0] if is_mirrored else slope[:, 0]
    ours, theirs = frame.reading(GREY_CARD), reference_frame.reading(GREY_CARD)
    return Pane(
        frame=frame,
        is_reference=scan is reference,
        homography=tuple(tuple(float(each) for each in row) for row in matrix),
        is_registered=frame.placement is not None,
        degrees=-math.degrees(math.atan2(across[1], across[0])),
        is_mirrored=is_mirrored,
        px_per_target_unit=scale,
        match=display_match(theirs, ours) if ours and theirs else None,
        differences=tuple(_differences(scan, reference)),
    )


def _differences(scan: Scan, reference: Scan):
    """In what a frame is not like the reference, so that what is seen may not be the film's doing."""
    ours, theirs = scan.roll, reference.roll
    if scan.shows != reference.shows:
        yield "a print beside a frame" if scan.shows == Shows.PRINT else "a frame beside a print"
    if ours is None or theirs is None:
        if scan is not reference:
            yield "roll not said, so standards are not known"
    else:
        if ours.process_revision_id != theirs.process_revision_id:
            yield f"other process: {ours.process_revision}"
        if ours.exposure_revision_id != theirs.exposure_revision_id:
            yield f"other exposure: {ours.exposure_revision}"
    if setup_digest(scan) != setup_digest(reference):
        yield "other scanner or settings"


def _reading(stored: dict) -> AreaReading:
    """The reading that a measurement's document holds."""
    level = stored["level"]
    return AreaReading(
        area=Area(stored["label"], np.array(stored["location"], float)),
        level=math.nan if level is None else level,
        level_error=math.nan,
        level_spread=math.nan,
        usable_pixels=stored["usable_pixels"],
        left_out=stored["left_out"],
        transmittance=Measure.from_dict("transmittance", stored["transmittance"]),
        density=Measure.from_dict("density", stored["density"]),
        density_spread=Measure.from_dict("density_spread", stored["density_spread"]),
        flags=tuple(Flag(**flag) for flag in stored["flags"]),
    )
