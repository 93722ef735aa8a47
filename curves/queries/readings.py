"""Readings as people see them: the grid of a strip, what to look at in it, and its rows as a file."""

import hashlib
import json
import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean

from curves.importers import ReadingRow
from curves.models import UNEXPOSED_STEP, Instrument, Reading, Roll, Strip
from curves.queries.inputs import log_exposures
from curves.queries.rolls import own_editable_roll, visible_roll
from labsite.common.access import require_member
from labsite.common.errors import NotFound

#: Columns that a reading grid opens with, where nothing is read yet.
USUAL_REPLICATES = 2
#: Standard deviation of one reading [D] where the instrument's is not known (common practice, no source).
USUAL_SD = 0.01
# Two-sided 95 % of the normal distribution, as in the grid's own script.
CONFIDENT = 1.959964


@dataclass(frozen=True)
class GridRow:
    """One line of the reading grid: a step (0: unexposed area) with its exposure and its cells."""

    step: int
    log_exposure: float | None
    tablet_density: float | None
    densities: tuple[float | None, ...]

    @property
    def name(self) -> str:
        """The step in form names."""
        return "unexposed" if self.step == UNEXPOSED_STEP else str(self.step)

    @property
    def mean(self) -> float | None:
        """Mean of what was read, in D."""
        read = [density for density in self.densities if density is not None]
        return fmean(read) if read else None


@dataclass(frozen=True)
class ReadingGrid:
    """A strip's readings as a table: unexposed area first, then the tablet's steps."""

    strip: Strip
    roll: Roll
    is_absolute: bool
    replicate_count: int
    rows: tuple[GridRow, ...]
    instrument: Instrument | None
    version: str

    @property
    def reading_count(self) -> int:
        """How many readings stand."""
        return sum(density is not None for row in self.rows for density in row.densities)

    @property
    def is_rising(self) -> bool:
        """Whether exposure grows down the page."""
        return self.rows[1].log_exposure < self.rows[-1].log_exposure

    @property
    def reading_sd(self) -> float:
        """Standard deviation of one reading, in D."""
        return (self.instrument and self.instrument.reading_sd) or USUAL_SD


def visible_strip(user, roll_id: int, strip_number: int) -> Strip:
    """Return one strip of a roll that this person may see, with its roll and its tablet's steps."""
    roll = visible_roll(user, roll_id)
    strip = (
        roll.strips.select_related("tablet_revision__tablet")
        .prefetch_related("tablet_revision__steps")
        .filter(number=strip_number)
        .first()
    )
    if strip is None:
        raise NotFound(f"{roll.code} has no strip {strip_number}.")
    strip.roll = roll
    return strip


def reading_grid(user, roll_id: int, strip_number: int) -> ReadingGrid:
    """Return the grid of one strip to a member."""
    require_member(user)
    strip = visible_strip(user, roll_id, strip_number)
    current = list(strip.readings.filter(is_current=True).select_related("instrument"))
    cells = {(reading.step, reading.replicate): reading.density for reading in current}
    latest = max(current, key=lambda reading: reading.pk, default=None)
    return grid_of(strip, cells, instrument=latest and latest.instrument, version=readings_version(current))


def editable_grid(user, roll_id: int, strip_number: int) -> ReadingGrid:
    """Return the grid of one strip to the member who may change it now; or refuse."""
    own_editable_roll(user, roll_id)
    return reading_grid(user, roll_id, strip_number)


def grid_of(
    strip: Strip,
    cells: dict[tuple[int, int], float],
    *,
    instrument: Instrument | None = None,
    version: str = "",
) -> ReadingGrid:
    """Return these cells, (step, replicate) → density, as the grid of a strip."""
    roll = strip.roll
    count = max([USUAL_REPLICATES, *(replicate for _, replicate in cells)])
    exposures = log_exposures(strip, roll.exposure_revision.log_exposure_clear)

    def row(step: int, exposure: float | None, tablet_density: float | None) -> GridRow:
        densities = tuple(cells.get((step, replicate)) for replicate in range(1, count + 1))
        return GridRow(step, exposure, tablet_density, densities)

    steps = sorted(strip.tablet_revision.steps.all(), key=lambda s: s.step)
    return ReadingGrid(
        strip=strip,
        roll=roll,
        is_absolute=roll.exposure_revision.is_absolute,
        replicate_count=count,
        rows=(row(UNEXPOSED_STEP, None, None), *(row(s.step, exposures[s.step], s.density) for s in steps)),
        instrument=instrument,
        version=version,
    )


def readings_version(readings: Iterable[Reading]) -> str:
    """Return a short digest of which readings stand, to notice that others have come."""
    cells = sorted([r.step, r.replicate, r.density, r.instrument_id or 0] for r in readings)
    return hashlib.sha256(json.dumps(cells).encode()).hexdigest()[:16]


def falling_steps(grid: ReadingGrid) -> dict[int, str]:
    """Return step → what is odd about it: more exposure than its neighbour, yet less density.

    Only falls that reading noise does not explain; the same rule warns while typing.
    """
    read = [row for row in grid.rows if row.step != UNEXPOSED_STEP and row.mean is not None]
    if not grid.is_rising:
        read.reverse()
    warnings = {}
    for less, more in pairwise(read):
        counts = [sum(d is not None for d in row.densities) for row in (less, more)]
        noise = CONFIDENT * grid.reading_sd * math.sqrt(sum(1 / count for count in counts))
        if more.mean < less.mean - noise:
            warnings[more.step] = (
                f"step {more.step} has more exposure than step {less.step}, "
                f"yet reads {less.mean - more.mean:.2f} D less"
            )
    return warnings


def reading_rows(grid: ReadingGrid) -> list[ReadingRow]:
    """Return the standing readings as rows of a file that the importer takes back."""
    return [
        ReadingRow(
            row=0,
            density=density,
            log_exposure=row.log_exposure,
            step=None if row.step == UNEXPOSED_STEP else row.step,
            replicate=replicate,
            is_unexposed=row.step == UNEXPOSED_STEP,
        )
        for row in grid.rows
        for replicate, density in enumerate(row.densities, start=1)
        if density is not None
    ]


def usual_instrument_id(user) -> int | None:
    """Return the instrument that this member read with last, if it is still in use."""
    latest = Reading.objects.filter(read_by=user.pk, instrument__is_active=True).order_by("-pk")
    return latest.values_list("instrument_id", flat=True).first()


def usable_instruments() -> list[Instrument]:
    """Return the instruments in use, by name."""
    return list(Instrument.objects.filter(is_active=True))
