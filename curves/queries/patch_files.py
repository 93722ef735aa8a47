"""A file of patch densities that waits to be stored, frame by frame, and what storing would change."""

from collections.abc import Iterable
from dataclasses import dataclass

from curves.importers import PatchRow
from curves.models import Patch, PatchFrame, StagedPatchFile
from curves.queries.colour_response import light_series
from curves.queries.imports import PreviewCell
from curves.queries.patches import USUAL_READING_SD, ReadFrame, RollPatches, roll_patches
from labsite.common.access import require_member
from labsite.common.errors import NotFound

#: Repeats farther apart than this many standard errors are worth a second look.
CONFIDENT = 3.0
FACTS = {"offset_stops": "exposure", "metered_index": "meter set to", "filter_name": "filter"}


@dataclass(frozen=True)
class FilePatch:
    """One patch on one frame: its cells by repeat and what is odd about them."""

    patch: Patch
    cells: tuple[PreviewCell, ...]
    warning: str


@dataclass(frozen=True)
class FrameFact:
    """What storing makes of one fact of a frame; ``standing`` is None where the frame is new."""

    title: str
    value: float | str
    standing: float | str | None

    @property
    def is_replaced(self) -> bool:
        """Whether something else stands."""
        return self.standing is not None and self.standing != self.value


@dataclass(frozen=True)
class FileFrame:
    """One frame of a file."""

    label: str
    is_new: bool
    facts: tuple[FrameFact, ...]
    patches: tuple[FilePatch, ...]
    unread: tuple[Patch, ...]

    @property
    def has_warning(self) -> bool:
        """Whether any of its patches is worth a second look."""
        return any(patch.warning for patch in self.patches)

    @property
    def width(self) -> range:
        """The columns of its table."""
        return range(1, max(len(patch.cells) for patch in self.patches) + 1)


@dataclass(frozen=True)
class PatchFilePreview:
    """Everything that the preview of a file shows."""

    staged: StagedPatchFile
    read: RollPatches
    frames: tuple[FileFrame, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many cells there are of each change."""
        changes = [cell.change for frame in self.frames for patch in frame.patches for cell in patch.cells]
        return {change: changes.count(change) for change in ("new", "same", "replaced", "kept")}

    @property
    def warnings(self) -> list[str]:
        """What is worth a second look, in the file's order."""
        return [
            f"frame {frame.label}, {patch.patch.label}: {patch.warning}"
            for frame in self.frames
            for patch in frame.patches
            if patch.warning
        ]


def patch_file_preview(user, staged_id: int) -> PatchFilePreview:
    """Return the preview of a file to the member who uploaded it."""
    require_member(user)
    staged = (
        StagedPatchFile.objects.select_related("instrument").filter(pk=staged_id, uploaded_by=user.pk).first()
    )
    if staged is None:
        raise NotFound("There is no such preview; it may have been discarded.")
    read = roll_patches(user, staged.roll_id)
    standing = {frame.frame.label: frame for frame in read.frames}
    rows: dict[str, list[dict]] = {}
    for row in staged.rows:
        rows.setdefault(row["frame"], []).append(row)
    noise = (staged.instrument.reading_sd if staged.instrument else None) or USUAL_READING_SD
    frames = (_frame(label, found, standing.get(label), read, noise) for label, found in rows.items())
    return PatchFilePreview(staged, read, tuple(frames))


def standing_patch_rows(read: RollPatches) -> list[PatchRow]:
    """Return a roll's standing readings as a file holds them."""
    return [
        _row(read, frame.frame, patch, density, repeat)
        for frame in read.frames
        for patch in read.patches
        for (number, repeat), density in sorted((frame.repeats or {}).items())
        if number == patch.number
    ]


def empty_patch_rows(read: RollPatches) -> list[PatchRow]:
    """Return rows to be filled in: a row a patch for each frame that stands, or for a first one."""
    index = float(read.roll.batch.stock.box_speed)
    frames = [frame.frame for frame in read.frames] or [PatchFrame(label="1", metered_index=index)]
    return [_row(read, frame, patch, None, None) for frame in frames for patch in read.patches]


def _row(read: RollPatches, frame: PatchFrame, patch: Patch, density, repeat) -> PatchRow:
    return PatchRow(
        row=0,
        frame=frame.label,
        patch=patch.label,
        density=density,
        replicate=repeat,
        offset_stops=frame.offset_stops,
        metered_index=frame.metered_index,
        filter_name=frame.filter_name,
        light=light_series(read.roll.exposure_revision),
    )


def _frame(
    label: str, rows: list[dict], standing: ReadFrame | None, read: RollPatches, noise: float
) -> FileFrame:
    densities = {(row["patch"], row["replicate"]): row["density"] for row in rows}
    stands = (standing.repeats if standing else None) or {}
    patches = {patch.number: patch for patch in read.patches}
    width = max(repeat for _, repeat in [*densities, *stands])
    read_now = dict.fromkeys(number for number, _ in densities)
    return FileFrame(
        label,
        standing is None,
        tuple(_facts(rows[0], standing.frame if standing else None, read)),
        tuple(_patch(patches[number], densities, stands, width, noise) for number in read_now),
        tuple(
            patch for number, patch in patches.items() if number not in read_now and (number, 1) not in stands
        ),
    )


def _facts(row: dict, frame: PatchFrame | None, read: RollPatches) -> Iterable[FrameFact]:
    """What the file says of the frame; what it does not say stays, or is as usual on a new one."""
    usual = {"offset_stops": 0.0, "metered_index": float(read.roll.batch.stock.box_speed), "filter_name": ""}
    for name, title in FACTS.items():
        standing = getattr(frame, name) if frame else None
        value = row[name] if row[name] is not None else usual[name] if frame is None else standing
        yield FrameFact(title, value, standing)


def _patch(patch: Patch, densities: dict, stands: dict, width: int, noise: float) -> FilePatch:
    cells = tuple(
        PreviewCell(densities.get((patch.number, repeat)), stands.get((patch.number, repeat)))
        for repeat in range(1, width + 1)
    )
    values = [cell.density for cell in cells if cell.density is not None]
    apart = max(values) - min(values)
    is_wide = apart > CONFIDENT * noise * 2**0.5
    return FilePatch(patch, cells, f"repeats are {apart:.2f} D apart; read it again" if is_wide else "")
