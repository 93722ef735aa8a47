"""Patches of a target and their readings: what an admin may say of the one, a member of the other."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from curves.models import ExposureRevision, Instrument
from curves.models.patches import Patch, PatchFrame, PatchReading, PatchSet
from curves.services.readings import density_fault
from curves.services.rolls import locked_own_roll
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

FEWEST_PATCHES, MOST_PATCHES = 2, 40
MOST_FRAMES = 40
GREATEST_OFFSET = 8.0  # stops; beyond it a sign or a digit was lost


@dataclass(frozen=True)
class PatchValue:
    """What is said of one patch."""

    label: str
    luminance_factor: float
    is_grey: bool = False


@transaction.atomic
def enter_patch_set(
    *, actor, exposure_revision_id: int, name: str, source: str, patches: Iterable[PatchValue]
) -> PatchSet:
    """Say which patches are photographed under an exposure revision; read ones can't be changed any more."""
    require_admin(actor)
    revision = ExposureRevision.objects.select_for_update().filter(pk=exposure_revision_id).first()
    if revision is None:
        raise NotFound("There is no such exposure revision.")
    patches = list(patches)
    _check_patches(patches)
    before = PatchSet.objects.filter(exposure_revision=revision).first()
    if before is not None and PatchReading.objects.filter(patch__patch_set=before).exists():
        raise WrongState(
            f"Patches of {before} were read already. Revise the exposure standard, and enter the new patches "
            "under its next revision."
        )
    patch_set = before or PatchSet(exposure_revision=revision, created_by=actor)
    patch_set.name, patch_set.source = name.strip(), source.strip()
    check_fields(patch_set, "name", "source")
    patch_set.save()
    patch_set.patches.all().delete()
    Patch.objects.bulk_create(
        Patch(
            patch_set=patch_set,
            number=number,
            label=patch.label.strip(),
            luminance_factor=patch.luminance_factor,
            is_grey=patch.is_grey,
        )
        for number, patch in enumerate(patches, start=1)
    )
    after = {"exposure": str(revision), "patches": [patch.label for patch in patches]}
    record_audit(actor=actor, action="enter patch set", subject=patch_set, after=after)
    return patch_set


@transaction.atomic
def record_patch_frame(
    *,
    actor,
    roll_id: int,
    label: str,
    densities: Mapping[int, float | None],
    offset_stops: float = 0.0,
    metered_index: float | None = None,
    filter_name: str = "",
    instrument_id: int | None = None,
    reason: str = "",
    source: str = PatchReading.Source.TYPED,
    source_name: str = "",
) -> PatchFrame:
    """Store what was read on one frame: densities by patch number; None ends a reading.

    Patches that are not given stay as they are. Every faulty value is told, and then none is stored.
    """
    roll = locked_own_roll(actor=actor, roll_id=roll_id)
    patches = _patches_of(roll)
    index = roll.batch.stock.box_speed if metered_index is None else metered_index
    _check_frame(label.strip(), offset_stops, index, reason)
    _check_densities(patches, densities)
    instrument = _instrument(instrument_id)
    frame = roll.patch_frames.filter(label=label.strip()).first()
    if frame is None:
        if roll.patch_frames.count() >= MOST_FRAMES:
            raise InvalidInput(f"A roll holds at most {MOST_FRAMES} frames with patches.", field="label")
        frame = PatchFrame(roll=roll, label=label.strip(), created_by=actor)
    frame.offset_stops, frame.metered_index = offset_stops, index
    frame.filter_name = filter_name.strip()
    check_fields(frame, "label", "filter_name")
    frame.save()
    standing = {reading.patch_id: reading for reading in frame.readings.filter(is_current=True)}
    changed = {
        patches[number].pk: density
        for number, density in densities.items()
        if density != _density(standing.get(patches[number].pk))
    }
    _replace(frame, standing, changed, actor, instrument, reason, source, source_name)
    record_audit(
        actor=actor,
        action="record patch readings",
        subject=roll,
        after={"frame": frame.label, "offset_stops": offset_stops, "readings": len(changed)},
        reason=reason,
    )
    return frame


def _check_patches(patches: list[PatchValue]) -> None:
    if not FEWEST_PATCHES <= len(patches) <= MOST_PATCHES:
        raise InvalidInput(
            f"Enter {FEWEST_PATCHES} to {MOST_PATCHES} patches; there are {len(patches)}.", field="patches"
        )
    faults = [fault for number, patch in enumerate(patches, start=1) if (fault := _fault(number, patch))]
    labels = [patch.label.strip().casefold() for patch in patches]
    faults += [
        f"Patch {number}: “{patch.label}” is there twice; give each patch a label of its own."
        for number, patch in enumerate(patches, start=1)
        if labels.index(labels[number - 1]) < number - 1
    ]
    if not any(patch.is_grey for patch in patches):
        faults.append("Mark at least one patch as grey: shifts of colour are counted from it.")
    if faults:
        problems = tuple({"field": "patches", "message": fault} for fault in faults)
        raise InvalidInput(faults[0], field="patches", problems=problems)


def _fault(number: int, patch: PatchValue) -> str:
    if not 0 < len(patch.label.strip()) <= 40:
        return f"Patch {number}: give it a label of at most 40 characters."
    factor = patch.luminance_factor
    if not (math.isfinite(factor) and 0.001 <= factor <= 1.2):
        return f"Patch {number}: a luminance factor lies between 0.001 and 1.2, not at {factor:g}."
    return ""


def _patches_of(roll) -> dict[int, Patch]:
    patches = Patch.objects.filter(patch_set__exposure_revision=roll.exposure_revision_id)
    found = {patch.number: patch for patch in patches}
    if not found:
        raise WrongState(
            f"No patches are entered for {roll.exposure_revision}. An admin has to say what is on the target."
        )
    return found


def _check_frame(label: str, offset_stops: float, index: float, reason: str) -> None:
    if not label:
        raise InvalidInput("Give the frame's number or name.", field="label")
    if not (math.isfinite(offset_stops) and abs(offset_stops) <= GREATEST_OFFSET):
        raise InvalidInput(
            f"A bracket reaches ± {GREATEST_OFFSET:g} stops at most; check the sign.", field="offset_stops"
        )
    if not (math.isfinite(index) and 0.5 <= index <= 102_400):
        raise InvalidInput("Enter the index that the meter was set to, such as 100.", field="metered_index")
    if len(reason.strip()) > 200:
        raise InvalidInput("Give the reason in at most 200 characters.", field="reason")


def _check_densities(patches: dict[int, Patch], densities: Mapping[int, float | None]) -> None:
    problems = []
    for number, density in densities.items():
        fault = "" if density is None else density_fault(density)
        if number not in patches:
            fault = f"The target has no patch {number}."
        if fault:
            problems.append({"field": f"d-{number}", "message": fault})
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))


def _instrument(instrument_id: int | None) -> Instrument | None:
    if instrument_id is None:
        return None
    instrument = Instrument.objects.filter(pk=instrument_id, is_active=True).first()
    if instrument is None:
        raise InvalidInput("Choose an instrument that is in use.", field="instrument_id")
    return instrument


def _density(reading: PatchReading | None) -> float | None:
    return None if reading is None else reading.density


def _replace(frame, standing, changed, actor, instrument, reason, source, source_name) -> None:
    """End the old readings first: at no time do two of them stand for one patch."""
    ended = [standing[pk].pk for pk in changed if pk in standing]
    why = reason.strip() or "corrected in draft"
    PatchReading.objects.filter(pk__in=ended).update(
        is_current=False, ended_at=timezone.now(), ended_reason=why
    )
    PatchReading.objects.bulk_create(
        PatchReading(
            frame=frame,
            patch_id=pk,
            density=density,
            instrument=instrument,
            source=source,
            source_name=source_name,
            read_by=actor,
        )
        for pk, density in changed.items()
        if density is not None
    )
