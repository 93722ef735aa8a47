"""A file that waits to be stored: its readings in the strip's grid, and what storing would change."""

from dataclasses import dataclass

from curves.models import StagedImport
from curves.queries.readings import ReadingGrid, falling_steps, grid_of, reading_grid
from labsite.common.access import require_member
from labsite.common.errors import NotFound


@dataclass(frozen=True)
class PreviewCell:
    """One cell: what the file says, what stands, and what storing makes of it."""

    density: float | None
    standing: float | None

    @property
    def change(self) -> str:
        """One of new, same, replaced, kept (the file says nothing) and empty."""
        if self.density is None:
            return "empty" if self.standing is None else "kept"
        if self.standing is None:
            return "new"
        return "same" if self.density == self.standing else "replaced"


@dataclass(frozen=True)
class PreviewRow:
    """One step with its cells and what is odd about it in the file."""

    step: int
    log_exposure: float | None
    cells: tuple[PreviewCell, ...]
    warning: str


@dataclass(frozen=True)
class ImportPreview:
    """Everything that the preview of a file shows."""

    staged: StagedImport
    grid: ReadingGrid
    rows: tuple[PreviewRow, ...]

    @property
    def replicates(self) -> range:
        """The columns of the table."""
        return range(1, max(len(row.cells) for row in self.rows) + 1)

    @property
    def counts(self) -> dict[str, int]:
        """How many cells there are of each change."""
        changes = [cell.change for row in self.rows for cell in row.cells]
        return {change: changes.count(change) for change in ("new", "same", "replaced", "kept")}

    @property
    def is_reversed(self) -> bool:
        """Whether density mostly falls as exposure rises: the steps seem numbered from the other end."""
        read = sum(any(cell.density is not None for cell in row.cells) for row in self.rows)
        return sum(bool(row.warning) for row in self.rows) > read / 2


def import_preview(user, staged_id: int) -> ImportPreview:
    """Return the preview of a file to the member who uploaded it."""
    require_member(user)
    staged = (
        StagedImport.objects.select_related("strip", "instrument")
        .filter(pk=staged_id, uploaded_by=user.pk)
        .first()
    )
    if staged is None:
        raise NotFound("There is no such preview; it may have been discarded.")
    standing = reading_grid(user, staged.strip.roll_id, staged.strip.number)
    cells = {(row["step"], row["replicate"]): row["density"] for row in staged.rows}
    coming = grid_of(standing.strip, cells, instrument=staged.instrument)
    warnings = falling_steps(coming)
    width = max(standing.replicate_count, coming.replicate_count)
    rows = [
        PreviewRow(
            step=new.step,
            log_exposure=new.log_exposure,
            cells=tuple(
                PreviewCell(density, stands)
                for density, stands in zip(
                    _padded(new.densities, width), _padded(old.densities, width), strict=True
                )
            ),
            warning=warnings.get(new.step, ""),
        )
        for new, old in zip(coming.rows, standing.rows, strict=True)
    ]
    return ImportPreview(staged=staged, grid=standing, rows=tuple(rows))


def _padded(densities: tuple, width: int) -> tuple:
    return densities + (None,) * (width - len(densities))
