"""Densities of a measurement as readings of a roll's strip: step by step what would be stored."""

from dataclasses import dataclass

from curves.models import UNEXPOSED_STEP, Roll
from curves.queries.readings import ReadingGrid, editable_grid
from labsite.common.errors import NotFound, WrongState
from scans.imaging.flags import REASONS
from scans.models import Measurement, Scan, Shows
from scans.queries.measured import current_measurement, measurable_scan, measuring_basis, shown_density


@dataclass(frozen=True)
class TakenStep:
    """One step: what the scan says of it, what stands now, and why it would be left out."""

    step: int
    density: float | None
    interval: str
    standing: float | None
    others: tuple[float, ...]
    tablet_density: float | None
    flags: tuple[str, ...]
    left_out: str = ""

    @property
    def name(self) -> str:
        """The step in words."""
        return "unexposed" if self.step == UNEXPOSED_STEP else str(self.step)

    @property
    def density_text(self) -> str:
        """What would be stored, as it would be stored."""
        return _three(self.density)

    @property
    def standing_text(self) -> str:
        """The reading that stands now."""
        return _three(self.standing)

    @property
    def is_taken(self) -> bool:
        """Whether a reading would be stored."""
        return not self.left_out

    @property
    def is_same(self) -> bool:
        """Whether the reading that stands has this value already."""
        return self.is_taken and self.standing == self.density


@dataclass(frozen=True)
class Taking:
    """What taking a scan's densities into a strip would do."""

    scan: Scan
    measurement: Measurement
    roll: Roll
    grid: ReadingGrid
    steps: tuple[TakenStep, ...]

    @property
    def taken(self) -> tuple[TakenStep, ...]:
        """The steps of which a reading would be stored."""
        return tuple(step for step in self.steps if step.is_taken)

    @property
    def left_out(self) -> tuple[TakenStep, ...]:
        """The steps that would not be touched."""
        return tuple(step for step in self.steps if not step.is_taken)

    @property
    def replaced_count(self) -> int:
        """How many readings that stand would be ended."""
        return sum(step.standing is not None and not step.is_same for step in self.taken)


def taking_preview(user, scan_id: int) -> Taking:
    """What taking the standing densities would do, to the member who may change the roll; or refuse."""
    scan = measurable_scan(scan_id)
    if scan is None:
        raise NotFound("There is no such scan.")
    obstacle = obstacle_to_taking(scan)
    if obstacle:
        raise WrongState(obstacle)
    measurement = current_measurement(scan)
    refusal = obstacle_of_measurement(scan, measurement)
    if refusal:
        raise WrongState(refusal)
    grid = editable_grid(user, scan.roll_id, scan.strip.number)
    return Taking(scan, measurement, grid.roll, grid, tuple(_steps(measurement, grid)))


def obstacle_to_taking(scan: Scan) -> str:
    """Why a scan has no densities for a roll; empty when it may have."""
    if scan.shows != Shows.STRIP or scan.strip is None:
        return "Only a scan of a roll's strip has densities for its readings; say which strip it shows."
    if scan.scanner is None:
        return "Say first which scanner made this scan; the readings are kept with it."
    return ""


def obstacle_of_measurement(scan: Scan, measurement: Measurement | None) -> str:
    """Why a measurement's densities can't be taken; empty when they can."""
    if measurement is None:
        return "There is no measurement that stands yet; wait for it, or have the scan measured again."
    withheld = measurement.document["withheld"]
    if withheld:
        return f"The densities are withheld. {withheld['text']} {withheld['advice']}"
    if not any(shown_density(area) is not None for area in measurement.document["areas"]):
        return "No step of this scan has a density; look at the reasons in the table of areas."
    if measuring_basis(scan, measurement.placement).digest != measurement.input_digest:
        return "What this measurement rests on has changed since; have the scan measured again first."
    return ""


def _steps(measurement: Measurement, grid: ReadingGrid):
    areas = {area["step"]: area for area in measurement.document["areas"] if area["step"] is not None}
    for row in grid.rows:
        area = areas.get(row.step)
        others = tuple(density for density in row.densities[1:] if density is not None)
        now = {
            "step": row.step,
            "standing": row.densities[0],
            "others": others,
            "tablet_density": row.tablet_density,
        }
        if area is None:
            if row.step == UNEXPOSED_STEP:
                why = "no unexposed film was found beside the strip; place an unexposed area by hand"
            else:
                why = "this step was not read"
            yield TakenStep(density=None, interval="", flags=(), left_out=why, **now)
            continue
        density = area["density"]
        flags = tuple(flag["text"] for flag in area["flags"])
        value = shown_density(area)
        left_out = "" if value is not None else REASONS.get(density["reason"], "withheld")
        yield TakenStep(density=value, interval=interval_of(density), flags=flags, left_out=left_out, **now)


def _three(density: float | None) -> str:
    return "" if density is None else f"{density:.3f}".replace("-", "−")


def interval_of(measure: dict) -> str:
    """Half of a density's 95 % interval in words; empty where there is none."""
    if measure["value"] is None or measure["low"] is None or measure["high"] is None:
        return ""
    return f"± {(measure['high'] - measure['low']) / 2:.3f}"
