"""A readings file: looked at first, stored only when its member says so, and then as a whole."""

import hashlib
from dataclasses import asdict

from django.db import transaction
from django.utils import timezone

from curves.importers import ReadingRow, ReadingsTable, parse_readings, read_table
from curves.models import UNEXPOSED_STEP, Reading, StagedImport, Strip
from curves.queries.inputs import log_exposures
from curves.services.readings import MOST_REPLICATES, ReadingValue, record_readings, usable_instrument
from curves.services.rolls import locked_own_roll
from labsite.accounts.services import record_audit
from labsite.common.errors import InvalidInput, NotFound, WrongState
from labsite.jobs.models import Job

# A file's log exposure names the same step as the tablet's within this: half of the smallest step
# spacing in use (0.05) would be ambiguous, and calibrations differ from nominal by less.
EXPOSURE_MATCH = 0.02
LONGEST_NAME = 160


@transaction.atomic
def stage_readings_file(
    *, actor, strip_id: int, filename: str, data: bytes, instrument_id: int | None = None
) -> StagedImport:
    """Read a file and keep its rows for a preview; every fault is reported and then nothing is kept."""
    strip = (
        Strip.objects.select_related("roll__exposure_revision", "tablet_revision")
        .prefetch_related("tablet_revision__steps")
        .filter(pk=strip_id)
        .first()
    )
    if strip is None:
        raise NotFound("There is no such strip.")
    locked_own_roll(actor=actor, roll_id=strip.roll_id)
    name = filename[-LONGEST_NAME:]
    table = _readings_in(data, name)
    rows, problems = _rows_on_tablet(table, strip)
    if problems:
        count = "One fault" if len(problems) == 1 else f"{len(problems)} faults"
        raise InvalidInput(
            f"{count} in {name}; nothing was stored. Mend the file and choose it again.",
            field="file",
            problems=tuple(problems),
        )
    usable_instrument(strip=strip, instrument_id=instrument_id, values=_values(rows))
    staged = StagedImport.objects.create(
        strip=strip,
        uploaded_by=actor,
        filename=name,
        file_digest=hashlib.sha256(data).hexdigest(),
        rows=rows,
        notes=_notes(table),
        instrument_id=instrument_id,
    )
    record_audit(
        actor=actor,
        action="stage readings file",
        subject=strip.roll,
        after={"strip": strip.number, "file": name, "readings": len(rows)},
    )
    return staged


@transaction.atomic
def commit_staged_readings(*, actor, staged_id: int, version: str = "") -> Job | None:
    """Store a previewed file's rows as readings; a second call is refused.

    ``version`` says over which standing readings the file was previewed; others by now refuse it.
    """
    staged = StagedImport.objects.select_for_update().filter(pk=staged_id, uploaded_by=actor.pk).first()
    if staged is None:
        raise NotFound("There is no such preview; it may have been discarded. Choose the file again.")
    if staged.committed_at is not None:
        raise WrongState(f"{staged.filename} is stored already.")
    job = record_readings(
        actor=actor,
        strip_id=staged.strip_id,
        values=_values(staged.rows),
        instrument_id=staged.instrument_id,
        source=Reading.Source.FILE,
        source_name=staged.filename,
        reason=f"replaced by file {staged.filename}",
        version=version,
    )
    staged.committed_at = timezone.now()
    staged.save(update_fields=["committed_at"])
    return job


@transaction.atomic
def discard_staged_readings(*, actor, staged_id: int) -> None:
    """Drop a preview that was not stored."""
    deleted, _ = StagedImport.objects.filter(
        pk=staged_id, uploaded_by=actor.pk, committed_at__isnull=True
    ).delete()
    if not deleted:
        raise NotFound("There is no such preview, or it is stored already.")


def _values(rows: list[dict]) -> list[ReadingValue]:
    return [ReadingValue(row["step"], row["replicate"], row["density"]) for row in rows]


def _readings_in(data: bytes, filename: str) -> ReadingsTable:
    """The strip's tablet knows the exposure of each step, so a file need name only one of the two."""
    parsed = read_table(data, filename=filename)
    by_step = parse_readings(parsed, require="step")
    if not _lacks(by_step, "step"):
        return by_step
    by_exposure = parse_readings(parsed, require="log_exposure")
    return by_step if _lacks(by_exposure, "log_exposure") else by_exposure


def _lacks(table: ReadingsTable, column: str) -> bool:
    return any(p.code == "MISSING_COLUMN" and p.column == column for p in table.problems)


def _notes(table: ReadingsTable) -> list[str]:
    notes = list(table.notes)
    if any(row.remark for row in table.rows):
        notes.append("remarks stay in the file: they are not stored with the readings")
    return notes


def _rows_on_tablet(table: ReadingsTable, strip: Strip) -> tuple[list[dict], list[dict]]:
    """Give each row its cell on the strip's tablet; return the rows and every problem found."""
    problems = [asdict(problem) for problem in table.problems]
    exposures = log_exposures(strip, strip.roll.exposure_revision.log_exposure_clear)
    rows: dict[tuple[int, int], dict] = {}
    for row in table.rows:
        step, fault = _step_of(row, exposures)
        replicate = row.replicate or 1
        # Unnumbered repeats get their numbers only in a table without other faults.
        if row.replicate is not None or not table.problems:
            fault = fault or _cell_fault(row, step, replicate, rows)
        if fault:
            fault = {"row": row.row, **fault}
            if fault not in problems:  # a row of several densities names its step once
                problems.append(fault)
            continue
        rows[step, replicate] = {
            "step": step,
            "replicate": replicate,
            "density": row.density,
            "row": row.row,
        }
    return list(rows.values()), sorted(problems, key=lambda problem: problem["row"] or 0)


def _step_of(row: ReadingRow, exposures: dict[int, float]) -> tuple[int, dict]:
    if row.is_unexposed:
        return UNEXPOSED_STEP, {}
    if row.step is not None:
        if row.step not in exposures:
            message = (
                f"the tablet has steps {min(exposures)} to {max(exposures)}; "
                "base plus fog is marked by 1 in a column unexposed"
            )
            return 0, {"column": "step", "value": str(row.step), "message": message}
        return row.step, _exposure_fault(row, exposures[row.step])
    step = min(exposures, key=lambda candidate: abs(exposures[candidate] - row.log_exposure))
    return step, _exposure_fault(row, exposures[step])


def _exposure_fault(row: ReadingRow, expected: float) -> dict:
    """A file's own log exposure has to be the tablet's, or the two disagree about the experiment."""
    if row.log_exposure is None or abs(row.log_exposure - expected) <= EXPOSURE_MATCH:
        return {}
    which = "for this step" if row.step is not None else "for the nearest step"
    return {
        "column": "log_exposure",
        "value": f"{row.log_exposure:g}",
        "message": f"the roll's tablet and exposure standard give {expected:.3f} {which}; number the steps "
        "and leave this column out to use the tablet's, or plan the roll under the file's own standard",
    }


def _cell_fault(row: ReadingRow, step: int, replicate: int, rows: dict[tuple[int, int], dict]) -> dict:
    if replicate > MOST_REPLICATES:
        message = f"at most {MOST_REPLICATES} readings of a step are kept; leave the others out"
        return {"column": "replicate", "value": str(replicate), "message": message}
    earlier = rows.get((step, replicate))
    if earlier is None:
        return {}
    where = "the unexposed area" if step == UNEXPOSED_STEP else f"step {step}"
    message = (
        f"this is reading {replicate} of {where}, as row {earlier['row']} is; "
        "number repeated readings 1, 2, 3, … in a column replicate, or take one out"
    )
    column = "step" if row.step is not None or row.is_unexposed else "log_exposure"
    value = "" if row.is_unexposed else f"{row.step if row.step is not None else row.log_exposure:g}"
    return {"column": column, "value": value, "message": message}
