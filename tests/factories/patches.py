"""A painted target and what its patches left on rolls of a known curve."""

import math

from curves.models import Analysis, Roll
from curves.services.patch_readings import record_patch_frame
from curves.services.patch_sets import PatchValue
from tests.factories.results import fitted
from tests.factories.rolls import soft_toe_densities

STOP = math.log10(2)
PATCHES = [
    PatchValue("Light grey", 0.36, True),
    PatchValue("Middle grey", 0.18, True),
    PatchValue("Dark grey", 0.05, True),
    PatchValue("Blue", 0.10),
    PatchValue("Red", 0.12),
]
#: Shift of each coloured patch from grey that the invented films are given, stops.
TRUTH = {"Blue": 0.4, "Red": -0.3}
METER = -0.35  # log₁₀ lux·s of a perfect white at the metered exposure


def expose(roll, offset=0.0, *, shifts=TRUTH, held_back=0.0, **shape) -> dict[int, float]:
    """Densities by patch number of a frame that got so many stops more than the meter's."""
    densities = {}
    for number, patch in enumerate(PATCHES, start=1):
        stops = math.log2(patch.luminance_factor) + shifts.get(patch.label, 0.0) + offset - held_back
        densities[number] = round(float(soft_toe_densities(METER + stops * STOP, **shape)), 3)
    return densities


def bracket(owner, roll, offsets=(-2, -1, 0, 1, 2), **how):
    """Read the target on frames from number two on."""
    for label, offset in enumerate(offsets, start=2):
        record_patch_frame(
            actor=owner,
            roll_id=roll.pk,
            label=str(label),
            offset_stops=float(offset),
            densities=expose(roll, offset, **how),
        )


def analyse(roll, *, state="accepted", **how):
    """Give the roll the analysis of its known curve, and let it count."""
    found = dict(fitted(**how))
    analysis = Analysis.objects.create(
        roll=roll,
        engine_version=found["engine_version"],
        input_digest="0" * 64,
        measures=found.pop("measures"),
        detail=found,
    )
    Roll.objects.filter(pk=roll.pk).update(current_analysis=analysis, state=state)
