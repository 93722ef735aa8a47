"""Patches of a target and what was read of them on rolls."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch

from curves.models import InstrumentCorrection, Patch, PatchFrame, PatchReading, PatchSet, Roll
from curves.queries.applied_corrections import corrected_value, correction_of, standing_corrections
from curves.queries.rolls import visible_roll
from curves.sensitometry import colour_response as engine
from curves.sensitometry.measures import Measure
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP

#: Error of a reading whose instrument does not state its own: densitometers repeat to about 0.01 and differ
#: from each other by about 0.02 (common practice, no source).
USUAL_READING_SD = 0.02
#: Error of a camera's shutter and aperture together, log₁₀: a tenth of a stop (common practice, no source).
SETTING_LOG_SD = 0.03


@dataclass(frozen=True)
class ReadFrame:
    """One frame with the standing reading of each patch, by patch number.

    ``densities`` are on the scale that the roll's curve is on, after the instrument's correction; a reading
    beyond what the correction was tested on is in ``as_read`` alone. The correction's own error is common
    to patches and curve and falls out where one is read off the other.
    """

    frame: PatchFrame
    densities: dict[int, float]
    density_sd: float
    as_read: dict[int, float]
    corrected_by: tuple[str, ...] = ()

    def patches(self, patches: Iterable[Patch]) -> list[engine.Patch]:
        """The patches that were read on it, for the engine."""
        return [
            engine.Patch(patch.label, patch.luminance_factor, self.densities[patch.number], self.density_sd)
            for patch in patches
            if patch.number in self.densities
        ]


@dataclass(frozen=True)
class RollPatches:
    """The target of a roll and its frames; ``patch_set`` is None where no patches are entered."""

    roll: Roll
    patch_set: PatchSet | None
    patches: tuple[Patch, ...]
    frames: tuple[ReadFrame, ...]

    @property
    def darkest_grey(self) -> Patch | None:
        """The patch that stands for the shadow in a bracket."""
        greys = [patch for patch in self.patches if patch.is_grey]
        return min(greys, key=lambda patch: patch.luminance_factor, default=None)


def roll_patches(user, roll_id: int) -> RollPatches:
    """Return the patches of a roll that this person may see, in three queries whatever was read."""
    roll = visible_roll(user, roll_id)
    return patches_of_rolls([roll])[0]


def patches_of_rolls(rolls: list[Roll]) -> list[RollPatches]:
    """Return the patches of rolls that have their exposure revision, in a fixed number of queries."""
    sets = PatchSet.objects.filter(exposure_revision__in={roll.exposure_revision_id for roll in rolls})
    by_revision = {found.exposure_revision_id: found for found in sets.prefetch_related("patches")}
    standing = PatchReading.objects.filter(is_current=True).select_related("instrument", "patch")
    frames = PatchFrame.objects.filter(roll__in=rolls).order_by("offset_stops", "pk")
    by_roll: dict[int, list[ReadFrame]] = {}
    frames = list(frames.prefetch_related(Prefetch("readings", standing, to_attr="standing")))
    corrections = standing_corrections(r.instrument_id for frame in frames for r in frame.standing)
    for frame in frames:
        by_roll.setdefault(frame.roll_id, []).append(_read_frame(frame, corrections))
    return [
        RollPatches(
            roll,
            by_revision.get(roll.exposure_revision_id),
            _patches(by_revision.get(roll.exposure_revision_id)),
            tuple(by_roll.get(roll.pk, ())),
        )
        for roll in rolls
    ]


def _patches(patch_set: PatchSet | None) -> tuple[Patch, ...]:
    return tuple(sorted(patch_set.patches.all(), key=lambda patch: patch.number)) if patch_set else ()


def _read_frame(frame: PatchFrame, corrections: dict[int, list[InstrumentCorrection]]) -> ReadFrame:
    stated = [reading.instrument.reading_sd if reading.instrument else None for reading in frame.standing]
    sds = [USUAL_READING_SD if sd is None else sd for sd in stated]
    densities, titles = {}, []
    for reading in frame.standing:
        correction = correction_of(corrections, reading.instrument_id, reading.read_at)
        density = reading.density if correction is None else corrected_value(correction, reading.density)
        if density is not None:
            densities[reading.patch.number] = density
        titles.extend([str(correction)] if correction else [])
    return ReadFrame(
        frame,
        densities,
        max(sds, default=USUAL_READING_SD),
        {reading.patch.number: reading.density for reading in frame.standing},
        tuple(dict.fromkeys(titles)),
    )


def frame_shifts(read: RollPatches, curve: SampledCurve) -> dict[str, Measure]:
    """Shift of every patch from grey on a roll, without a filter, from the frame that tells it best."""
    best: dict[str, Measure] = {}
    for frame in read.frames:
        greys = frame.patches(patch for patch in read.patches if patch.is_grey)
        coloured = frame.patches(patch for patch in read.patches if not patch.is_grey)
        if frame.frame.filter_name or not greys or not coloured:
            continue
        for label, shift in engine.patch_shifts(curve, coloured, greys).items():
            if label not in best or _is_better(shift, best[label]):
                best[label] = shift
    return best


def _is_better(shift: Measure, than: Measure) -> bool:
    if shift.value is None or than.value is None:
        return than.value is None and shift.value is not None
    return (shift.standard_error or 9.0) < (than.standard_error or 9.0)


@dataclass(frozen=True)
class FilterFactor:
    """By how much a filter lengthens the exposure, from one grey patch on two frames."""

    filter_name: str
    patch: str
    without: str
    through: str
    factor: Measure


def filter_factors(read: RollPatches, curve: SampledCurve) -> tuple[FilterFactor, ...]:
    """Return the factor of each filter on a roll, from the pair of frames and the grey that tell it best."""
    plain = [frame for frame in read.frames if not frame.frame.filter_name]
    found: dict[str, FilterFactor] = {}
    for filtered in read.frames:
        name = filtered.frame.filter_name
        if not name:
            continue
        for factor in _pairs(read, curve, plain, filtered):
            if name not in found or _is_better(factor.factor, found[name].factor):
                found[name] = factor
    return tuple(found[name] for name in sorted(found))


def _pairs(read: RollPatches, curve: SampledCurve, plain: list[ReadFrame], filtered: ReadFrame):
    for without in plain:
        added = filtered.frame.offset_stops - without.frame.offset_stops
        for patch in read.patches:
            if not patch.is_grey or not {patch.number} <= set(without.densities) & set(filtered.densities):
                continue
            factor = engine.filter_factor(
                curve,
                without.densities[patch.number],
                filtered.densities[patch.number],
                added * STOP,
                density_sd=max(without.density_sd, filtered.density_sd),
                exposure_log_sd=SETTING_LOG_SD * 2**0.5,
            )
            yield FilterFactor(
                filtered.frame.filter_name,
                patch.label,
                without.frame.label,
                filtered.frame.label,
                factor,
            )
