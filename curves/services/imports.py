"""A readings file: looked at first, stored only when its member says so, and then as a whole."""

import hashlib

from django.db import transaction
from django.utils import timezone

from curves.importers import ReadingsTable, parse_readings
from curves.models import UNEXPOSED_STEP, Reading, StagedImport, Strip
from curves.queries.inputs import log_exposures
from curves.services.readings import ReadingValue, record_readings
from curves.services.rolls import locked_own_roll
from labsite.accounts.services import record_audit
from labsite.common.errors import InvalidInput, NotFound, WrongState
from labsite.jobs.models import Job

# A file's log exposure names the same step as the tablet's within this: half of the smallest step
# spacing in use (0.05) would be ambiguous, and calibrations differ from nominal by less.
EXPOSURE_MATCH = 0.02


@transaction.atomic
def stage_readings_file(
    *, actor, strip_id: int, filename: str, data: bytes, instrument_id: int | None = None
) -> StagedImport:
    """Read a file and keep its rows for a preview; every fault is reported and then nothing is kept."""
    strip = (
        Strip.objects.select_related("roll__exposure_revision", "tablet_revision").filter(pk=strip_id).first()
    )
    if strip is None:
        raise NotFound("There is no such strip.")
    locked_own_roll(actor=actor, roll_id=strip.roll_id)
    table = parse_readings(data, filename=filename)
    rows, problems = _rows_on_tablet(table, strip)
    if problems:
        count = "One fault" if len(problems) == 1 else f"{len(problems)} faults"
        raise InvalidInput(
            f"{count} in {filename}; nothing was stored. Mend the file and choose it again.",
            field="file",
            problems=tuple(problems),
        )
    staged = StagedImport.objects.create(
        strip=strip,
        uploaded_by=actor,
        filename=filename[:200],
        file_digest=hashlib.sha256(data).hexdigest(),
        rows=rows,
        notes=list(table.notes),
        instrument_id=instrument_id,
    )
    record_audit(
        actor=actor,
        action="stage readings file",
        subject=strip.roll,
        after={"file": filename, "rows": len(rows)},
    )
    return staged


@transaction.atomic
def commit_staged_readings(*, actor, staged_id: int) -> Job | None:
    """Store a previewed file's rows as readings; a second call is refused."""
    staged = StagedImport.objects.select_for_update().filter(pk=staged_id, uploaded_by=actor).first()
    if staged is None:
        raise NotFound("There is no such preview; it may have been discarded. Choose the file again.")
    if staged.committed_at is not None:
        raise WrongState(f"{staged.filename} is stored already.")
    job = record_readings(
        actor=actor,
        strip_id=staged.strip_id,
        values=[ReadingValue(row["step"], row["replicate"], row["density"]) for row in staged.rows],
        instrument_id=staged.instrument_id,
        source=Reading.Source.FILE,
        source_name=staged.filename,
        reason=f"replaced by file {staged.filename}",
    )
    staged.committed_at = timezone.now()
    staged.save(update_fields=["committed_at"])
    return job


@transaction.atomic
def discard_staged_readings(*, actor, staged_id: int) -> None:
    """Drop a preview that was not stored."""
    deleted, _ = StagedImport.objects.filter(
        pk=staged_id, uploaded_by=actor, committed_at__isnull=True
    ).delete()
    if not deleted:
        raise NotFound("There is no such preview, or it is stored already.")


def _rows_on_tablet(table: ReadingsTable, strip: Strip) -> tuple[list[dict], list[dict]]:
    """Give each row its step on the strip's tablet; return the rows and every problem found."""
    problems = [problem.to_dict() for problem in table.problems]
    exposures = log_exposures(strip, strip.roll.exposure_revision.log_exposure_clear)
    rows = []
    counts: dict[int, int] = {}
    for row in table.rows:
        step, fault = _step_of(row, exposures)
        if fault:
            problems.append({"row": row.row, **fault})
            continue
        counts[step] = counts.get(step, 0) + 1
        replicate = row.replicate if row.replicate is not None else counts[step]
        rows.append({"step": step, "replicate": replicate, "density": row.density, "row": row.row})
    return rows, problems


def _step_of(row, exposures: dict[int, float]) -> tuple[int, dict]:
    if row.is_unexposed:
        return UNEXPOSED_STEP, {}
    if row.step is not None:
        if row.step not in exposures:
            message = f"The tablet has steps {min(exposures)} to {max(exposures)}."
            return 0, {"column": "step", "value": str(row.step), "message": message}
        return row.step, _exposure_fault(row, exposures[row.step])
    step = min(exposures, key=lambda candidate: abs(exposures[candidate] - row.log_exposure))
    return step, _exposure_fault(row, exposures[step])


def _exposure_fault(row, expected: float) -> dict:
    """A file's own log exposure has to be the tablet's, or the two disagree about the experiment."""
    if row.log_exposure is None or abs(row.log_exposure - expected) <= EXPOSURE_MATCH:
        return {}
    return {
        "column": "log_exposure",
        "value": f"{row.log_exposure:g}",
        "message": f"The roll's tablet and exposure standard give {expected:.3f} for this step. "
        "Leave the column out to use the tablet's, or choose the exposure standard the file belongs to.",
    }
