"""The patches of a target, as an admin says what they are; once read they stay as they are."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction

from curves.models import ExposureRevision
from curves.models.patches import Patch, PatchReading, PatchSet
from labsite.accounts.services import record_audit
from labsite.accounts.services.changes import check_fields
from labsite.common.access import require_admin
from labsite.common.errors import InvalidInput, NotFound, WrongState

FEWEST_PATCHES, MOST_PATCHES = 2, 40


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
