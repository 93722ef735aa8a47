"""A file of patch densities: looked at first, stored only when its member says so, and then as a whole."""

import hashlib
from dataclasses import asdict
from difflib import get_close_matches

from django.db import transaction
from django.utils import timezone

from curves.importers import PatchRow, PatchTable, parse_patches, read_table
from curves.models import Patch, PatchReading, Roll, StagedPatchFile
from curves.queries.colour_response import light_series
from curves.services.imports import LONGEST_NAME
from curves.services.patch_readings import (
    MOST_FRAMES,
    MOST_REPEATS,
    FrameValue,
    patches_of,
    record_patch_frames,
    strips_instrument,
    usable_patch_instrument,
)
from curves.services.rolls import locked_own_roll
from labsite.accounts.services import record_audit
from labsite.common.errors import InvalidInput, NotFound, WrongState

FACTS = ("offset_stops", "metered_index", "filter_name")


@transaction.atomic
def stage_patch_file(
    *, actor, roll_id: int, filename: str, data: bytes, instrument_id: int | None = None
) -> StagedPatchFile:
    """Read a file and keep its rows for a preview; every fault is reported and then nothing is kept."""
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    patches = patches_of(roll)
    instrument = usable_patch_instrument(roll=roll, instrument_id=instrument_id)
    kind = instrument or strips_instrument(roll)
    name = filename[-LONGEST_NAME:]
    table = parse_patches(read_table(data, filename=name), channel=kind.density_type if kind else "")
    rows, problems = _rows_of(table, roll, patches)
    if problems:
        count = "One fault" if len(problems) == 1 else f"{len(problems)} faults"
        raise InvalidInput(
            f"{count} in {name}; nothing was stored. Mend the file and choose it again.",
            field="file",
            problems=tuple(problems),
        )
    staged = StagedPatchFile.objects.create(
        roll=roll,
        uploaded_by=actor,
        filename=name,
        file_digest=hashlib.sha256(data).hexdigest(),
        rows=rows,
        notes=_notes(table),
        instrument=instrument,
    )
    after = {"file": name, "readings": len(rows)}
    record_audit(actor=actor, action="stage patch file", subject=roll, after=after)
    return staged


@transaction.atomic
def commit_staged_patches(*, actor, staged_id: int, version: str = "") -> int:
    """Store a previewed file's rows as readings and return how many changed; a second call is refused.

    ``version`` says over which standing readings the file was previewed; others by now refuse it.
    """
    staged = _staged(actor, staged_id)
    if staged.committed_at is not None:
        raise WrongState(f"{staged.filename} is stored already.")
    changed = record_patch_frames(
        actor=actor,
        roll_id=staged.roll_id,
        frames=staged_frames(staged),
        instrument_id=staged.instrument_id,
        source=PatchReading.Source.FILE,
        source_name=staged.filename,
        reason=f"replaced by file {staged.filename}",
        version=version,
    )
    staged.committed_at = timezone.now()
    staged.save(update_fields=["committed_at"])
    return changed


@transaction.atomic
def discard_staged_patches(*, actor, staged_id: int) -> None:
    """Drop a preview that was not stored."""
    staged = _staged(actor, staged_id)
    if staged.committed_at is not None:
        raise WrongState(f"{staged.filename} is stored already; correct its readings on the roll's page.")
    staged.delete()


def staged_frames(staged: StagedPatchFile) -> list[FrameValue]:
    """Return the frames of a staged file, in the file's order."""
    frames: dict[str, dict] = {}
    for row in staged.rows:
        frame = frames.setdefault(row["frame"], {"densities": {}} | {name: row[name] for name in FACTS})
        frame["densities"][row["patch"], row["replicate"]] = row["density"]
    return [FrameValue(label, **said) for label, said in frames.items()]


def _staged(actor, staged_id: int) -> StagedPatchFile:
    staged = StagedPatchFile.objects.select_for_update().filter(pk=staged_id, uploaded_by=actor.pk).first()
    if staged is None:
        raise NotFound("There is no such preview; it may have been discarded. Choose the file again.")
    return staged


def _rows_of(table: PatchTable, roll: Roll, patches: dict[int, Patch]) -> tuple[list[dict], list[dict]]:
    """Give each row its patch on the target and its frame on the roll; return rows and every problem."""
    problems = [asdict(problem) for problem in table.problems]
    problems += _light_problems(table, roll)
    labels = {label.casefold(): label for label in roll.patch_frames.values_list("label", flat=True)}
    frames: dict[str, dict] = {}
    cells: dict[tuple, PatchRow] = {}
    rows = []
    for row in table.rows:
        patch, fault = _patch_of(row, patches)
        label = labels.setdefault(row.frame.casefold(), row.frame)
        repeat = row.replicate or 1
        fault = fault or _cell_fault(row, (label, patch.number, repeat), cells)
        if fault:
            fault = {"row": row.row, **fault}
            if fault not in problems:  # a row of several densities names its patch once
                problems.append(fault)
            continue
        frames.setdefault(label, {})
        for name in FACTS:
            value = getattr(row, name)
            if value is not None and frames[label].get(name) in (None, ""):
                frames[label][name] = value
        cell = {"frame": label, "patch": patch.number, "replicate": repeat, "density": row.density}
        rows.append(cell | {"row": row.row})
    if len(labels) > MOST_FRAMES:
        message = f"the roll would have {len(labels)} frames with patches; at most {MOST_FRAMES} are kept"
        problems.append({"row": None, "column": "frame", "value": None, "message": message})
    facts = {label: {name: found.get(name) for name in FACTS} for label, found in frames.items()}
    return [row | facts[row["frame"]] for row in rows], sorted(problems, key=lambda p: p["row"] or 0)


def _patch_of(row: PatchRow, patches: dict[int, Patch]) -> tuple[Patch | None, dict]:
    """The patch by its name on the target, or by its number there."""
    by_label = {patch.label.casefold(): patch for patch in patches.values()}
    name = row.patch.casefold()
    found = by_label.get(name) or (patches.get(int(name)) if name.isascii() and name.isdigit() else None)
    if found is not None:
        return found, {}
    near = get_close_matches(name, by_label, n=1, cutoff=0.6)
    hint = f"did you mean {by_label[near[0]].label}? " if near else ""
    listed = ", ".join(patch.label for patch in patches.values())
    message = f"the target has no patch “{row.patch}”; {hint}It has: {listed}"
    return None, {"column": "patch", "value": row.patch, "message": message}


def _cell_fault(row: PatchRow, cell: tuple, cells: dict[tuple, PatchRow]) -> dict:
    if cell[2] > MOST_REPEATS:
        message = f"at most {MOST_REPEATS} readings of a patch are kept; leave the others out"
        return {"column": "replicate", "value": str(cell[2]), "message": message}
    earlier = cells.setdefault(cell, row)
    # The same name twice was told by the importer; here a name and a number may mean the same patch.
    if earlier is row or earlier.patch.casefold() == row.patch.casefold():
        return {}
    message = f"this is the patch “{earlier.patch}” of row {earlier.row} again; take one of the two out"
    return {"column": "patch", "value": row.patch, "message": message}


def _light_problems(table: PatchTable, roll: Roll) -> list[dict]:
    """Rows under another light than the roll's, told once a frame: a series holds under one light."""
    light = light_series(roll.exposure_revision)
    told: dict[str, dict] = {}
    for row in table.rows:
        if row.light and row.light != light:
            kelvin = roll.exposure_revision.colour_temperature_k
            message = (
                f"{roll.code} is exposed under {roll.exposure_revision}, {light} ({kelvin} K); readings by "
                f"{row.light} belong to a roll planned under an exposure standard of that light"
            )
            told.setdefault(
                row.frame, {"row": row.row, "column": "light", "value": row.light, "message": message}
            )
    return list(told.values())


def _notes(table: PatchTable) -> list[str]:
    notes = list(table.notes)
    if any(row.remark for row in table.rows):
        notes.append("remarks stay in the file: they are not stored with the readings")
    return notes
