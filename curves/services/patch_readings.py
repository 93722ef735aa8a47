"""Readings of a target's patches on the frames of a roll: checked all at once, and kept for ever."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.db import transaction
from django.utils import timezone

from curves.models import Instrument, Reading, Roll
from curves.models.patches import Patch, PatchFrame, PatchReading
from curves.queries.patches import patches_version
from curves.services.readings import LONGEST_REASON, density_fault
from curves.services.rolls import locked_own_roll
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.errors import InvalidInput, WrongState

MOST_FRAMES, MOST_REPEATS = 40, 20
GREATEST_OFFSET = 8.0  # stops; beyond it a sign or a digit was lost
STALE = (
    "These readings were changed in another window since this page was opened; look at what stands now, "
    "and save again."
)


@dataclass(frozen=True)
class FrameValue:
    """What is said of one frame; None leaves a fact as it stands, or as it usually is on a new frame.

    Densities are by patch number and repeat, from 1; None ends a reading.
    """

    label: str
    densities: Mapping[tuple[int, int], float | None] = field(default_factory=dict)
    offset_stops: float | None = None
    metered_index: float | None = None
    filter_name: str | None = None


def record_patch_frame(
    *,
    actor,
    roll_id: int,
    label: str,
    densities: Mapping[int | tuple[int, int], float | None],
    offset_stops: float = 0.0,
    metered_index: float | None = None,
    filter_name: str = "",
    **how,
) -> PatchFrame:
    """Store what was read on one frame: densities by patch number, or by patch number and repeat.

    ``how`` is what `record_patch_frames` takes beside the frames.
    """
    cells = {key if isinstance(key, tuple) else (key, 1): value for key, value in densities.items()}
    frame = FrameValue(label, cells, offset_stops, metered_index, filter_name)
    record_patch_frames(actor=actor, roll_id=roll_id, frames=[frame], **how)
    return PatchFrame.objects.get(roll=roll_id, label=label.strip())


@transaction.atomic
def record_patch_frames(
    *,
    actor,
    roll_id: int,
    frames: Iterable[FrameValue],
    instrument_id: int | None = None,
    reason: str = "",
    source: str = PatchReading.Source.TYPED,
    source_name: str = "",
    version: str = "",
    keeps_instrument: bool = False,
) -> int:
    """Store what was read on frames, leave all else alone, and return how many readings changed.

    A cell that holds this density from this instrument stays as it is (with ``keeps_instrument`` from
    whatever instrument). Every faulty value is told, and then none is stored. ``version`` says over which
    standing readings the values were given; others by now refuse it.
    """
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    patches = patches_of(roll)
    frames = list(frames)
    found = roll.patch_frames.prefetch_related("readings__patch")
    standing = {frame.label: frame for frame in found}
    if version and version != patches_version(standing.values()):
        raise WrongState(STALE, code="stale")
    _check_frames(frames, patches, set(standing))
    if len(reason.strip()) > LONGEST_REASON:
        raise InvalidInput(f"Give the reason in at most {LONGEST_REASON} characters.", field="reason")
    instrument = usable_patch_instrument(roll=roll, instrument_id=instrument_id)
    decisive = None if keeps_instrument else instrument
    said = {"instrument": instrument, "source": source, "source_name": source_name, "read_by": actor}
    changed = 0
    for value in frames:
        frame = standing.get(value.label.strip()) or PatchFrame(
            roll=roll,
            label=value.label.strip(),
            metered_index=roll.batch.stock.box_speed,
            created_by=actor,
        )
        _keep_facts(frame, value)
        changed += _keep_readings(frame, value, patches, decisive, said, reason)
    record_audit(
        actor=actor,
        action="record patch readings",
        subject=roll,
        after={
            "frames": [value.label.strip() for value in frames],
            "readings": changed,
            "source": source_name or str(source),
        },
        reason=reason,
    )
    return changed


def usable_patch_instrument(*, roll: Roll, instrument_id: int | None) -> Instrument | None:
    """Return the instrument, if it is in use and reads the kind of density that the roll's strips have.

    Patches are read off the strips' curve, so another kind of density would pass for colour.
    """
    if instrument_id is None:
        return None
    instrument = Instrument.objects.filter(pk=instrument_id, is_active=True).first()
    if instrument is None:
        raise InvalidInput("Choose an instrument that is in use.", field="instrument_id")
    kind = strips_instrument(roll)
    if kind and (kind.density_type, kind.geometry) != (instrument.density_type, instrument.geometry):
        raise InvalidInput(
            f"The roll's strips were read by {kind} ({kind.get_density_type_display()}, "
            f"{kind.get_geometry_display()}); {instrument} reads {instrument.get_density_type_display()}, "
            f"{instrument.get_geometry_display()}. Patches are read off the strips' curve: read them with "
            "the same kind.",
            field="instrument_id",
        )
    return instrument


def strips_instrument(roll: Roll) -> Instrument | None:
    """Return an instrument that the roll's strips were read with; they all read one kind of density."""
    reading = Reading.objects.filter(strip__roll=roll, is_current=True, instrument__isnull=False)
    found = reading.select_related("instrument").first()
    return found.instrument if found else None


def patches_of(roll: Roll) -> dict[int, Patch]:
    """Return the patches of the roll's target by number; refuse where nobody has entered them."""
    patches = Patch.objects.filter(patch_set__exposure_revision=roll.exposure_revision_id)
    found = {patch.number: patch for patch in patches}
    if not found:
        raise WrongState(
            f"No patches are entered for {roll.exposure_revision}. An admin has to say what is on the target."
        )
    return found


def _check_frames(frames: list[FrameValue], patches: dict[int, Patch], standing: set[str]) -> None:
    labels = [frame.label.strip() for frame in frames]
    if len(standing | set(labels)) > MOST_FRAMES:
        raise InvalidInput(f"A roll holds at most {MOST_FRAMES} frames with patches.", field="label")
    problems = []
    for at, frame in enumerate(frames):
        told = f"Frame {labels[at]}: " if len(frames) > 1 and labels[at] else ""
        faults = _facts_faults(frame) + _density_faults(frame, patches)
        if labels[at] in labels[:at]:
            faults.append(("label", "this frame is given twice; give all of its patches together."))
        problems += [{"field": field, "message": f"{told}{message}"} for field, message in faults]
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))


def _facts_faults(frame: FrameValue) -> list[tuple[str, str]]:
    faults = []
    if not frame.label.strip():
        faults.append(("label", "Give the frame's number or name."))
    offset, index = frame.offset_stops, frame.metered_index
    if offset is not None and not (math.isfinite(offset) and abs(offset) <= GREATEST_OFFSET):
        text = f"A bracket reaches ± {GREATEST_OFFSET:g} stops at most; check the sign."
        faults.append(("offset_stops", text))
    if index is not None and not (math.isfinite(index) and 0.5 <= index <= 102_400):
        faults.append(("metered_index", "Enter the index that the meter was set to, such as 100."))
    return faults


def _density_faults(frame: FrameValue, patches: dict[int, Patch]) -> list[tuple[str, str]]:
    faults = []
    for (number, repeat), density in frame.densities.items():
        fault = "" if density is None else density_fault(density)
        if number not in patches:
            fault = f"The target has no patch {number}."
        elif not 1 <= repeat <= MOST_REPEATS:
            fault = f"Repeats count from 1 to {MOST_REPEATS}."
        if fault:
            faults.append((cell_name(number, repeat), fault))
    return faults


def cell_name(number: int, repeat: int) -> str:
    """Return the form name of a patch's cell, by which pages and the API point at it."""
    return f"d-{number}" if repeat == 1 else f"d-{number}-{repeat}"


def _keep_facts(frame: PatchFrame, value: FrameValue) -> None:
    if value.offset_stops is not None:
        frame.offset_stops = value.offset_stops
    if value.metered_index is not None:
        frame.metered_index = value.metered_index
    if value.filter_name is not None:
        frame.filter_name = value.filter_name.strip()
    check_fields(frame, "label", "filter_name")
    frame.save()


def _keep_readings(frame: PatchFrame, value: FrameValue, patches, decisive, said: dict, reason: str) -> int:
    """End the old readings first: at no time do two of them stand in one cell."""
    standing = {(r.patch_id, r.replicate): r for r in frame.readings.all() if r.is_current}
    changed = {
        key: density
        for (number, repeat), density in value.densities.items()
        if _differs(standing.get(key := (patches[number].pk, repeat)), density, decisive)
    }
    why = reason.strip() or "corrected in draft"
    PatchReading.objects.filter(pk__in=[standing[key].pk for key in changed if key in standing]).update(
        is_current=False, ended_at=timezone.now(), ended_reason=why
    )
    PatchReading.objects.bulk_create(
        PatchReading(frame=frame, patch_id=patch_id, replicate=repeat, density=density, **said)
        for (patch_id, repeat), density in changed.items()
        if density is not None
    )
    return len(changed)


def _differs(old: PatchReading | None, density: float | None, instrument: Instrument | None) -> bool:
    if old is None:
        return density is not None
    return old.density != density or (instrument is not None and old.instrument_id != instrument.pk)
