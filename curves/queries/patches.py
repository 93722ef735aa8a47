"""Patches of a target and what was read of them on rolls."""

import hashlib
import json
import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import fmean, variance

from django.db.models import Prefetch

from curves.models import (
    ExposureRevision,
    InstrumentCorrection,
    Patch,
    PatchFrame,
    PatchReading,
    PatchSet,
    Roll,
)
from curves.queries.applied_corrections import corrected_value, correction_of, standing_corrections
from curves.queries.rolls import visible_roll
from curves.sensitometry import colour_response as engine
from curves.sensitometry.measures import Measure
from curves.sensitometry.sampled_curve import SampledCurve
from curves.sensitometry.speed_scale import STOP
from labsite.common.access import require_member
from labsite.common.errors import NotFound

#: Error of a reading whose instrument does not state its own: densitometers repeat to about 0.01 and differ
#: from each other by about 0.02 (common practice, no source).
USUAL_READING_SD = 0.02
#: Error of a camera's shutter and aperture together, log₁₀: a tenth of a stop (common practice, no source).
SETTING_LOG_SD = 0.03


@dataclass(frozen=True)
class ReadFrame:
    """One frame with the standing readings of each patch, by patch number; repeats are averaged.

    ``densities`` are on the scale that the roll's curve is on, after the instrument's correction; a reading
    beyond what the correction was tested on is in ``as_read`` alone. The correction's own error is common
    to patches and curve and falls out where one is read off the other. Repeats that differ by more than the
    instrument's stated error widen it; they do not narrow it, as most of it is where the aperture was put
    and is common to readings in one place.
    """

    frame: PatchFrame
    densities: dict[int, float]
    density_sd: float
    as_read: dict[int, float]
    corrected_by: tuple[str, ...] = ()
    repeats: dict[tuple[int, int], float] | None = None  # by patch number and repeat, as read

    @property
    def repeat_count(self) -> int:
        """How often the patch that was read most often was read."""
        return max((repeat for _, repeat in self.repeats or {}), default=1)

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
    def version(self) -> str:
        """Changes whenever a reading or a frame does."""
        return patches_version(frame.frame for frame in self.frames)

    @property
    def darkest_grey(self) -> Patch | None:
        """The patch that stands for the shadow in a bracket."""
        greys = [patch for patch in self.patches if patch.is_grey]
        return min(greys, key=lambda patch: patch.luminance_factor, default=None)


def roll_patches(user, roll_id: int) -> RollPatches:
    """Return the patches of a roll that this person may see, in three queries whatever was read."""
    roll = visible_roll(user, roll_id)
    return patches_of_rolls([roll])[0]


def target_of(user, revision_id: int) -> PatchSet:
    """Return the target of a revision of an exposure standard, to members."""
    require_member(user)
    # By the revision's own key, which no number is too large for.
    revision = ExposureRevision.objects.filter(pk=revision_id).first()
    found = PatchSet.objects.filter(exposure_revision=revision).prefetch_related("patches").first()
    if found is None:
        raise NotFound("No patches are entered for this revision of an exposure standard, if there is one.")
    return found


def ended_patch_readings(roll: Roll) -> list[PatchReading]:
    """Return the readings that others took the place of, or that were taken out; the latest first."""
    ended = PatchReading.objects.filter(frame__roll=roll, is_current=False)
    return list(ended.select_related("frame", "patch", "read_by").order_by("-ended_at", "-pk"))


def patches_version(frames: Iterable[PatchFrame]) -> str:
    """Return a short digest of frames and of the readings that stand, to notice that others have come."""
    cells = []
    for frame in frames:
        cells.append([frame.label, frame.offset_stops, frame.metered_index, frame.filter_name])
        cells += [
            [frame.label, r.patch.number, r.replicate, r.density, r.instrument_id or 0]
            for r in _standing_of(frame)
        ]
    text = json.dumps(sorted(cells, key=json.dumps))
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _standing_of(frame: PatchFrame) -> list[PatchReading]:
    if hasattr(frame, "standing"):
        return frame.standing
    return [reading for reading in frame.readings.all() if reading.is_current]


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
    as_read: dict[int, list[float]] = {}
    corrected: dict[int, list[float | None]] = {}
    titles = []
    for reading in frame.standing:
        correction = correction_of(corrections, reading.instrument_id, reading.read_at)
        density = reading.density if correction is None else corrected_value(correction, reading.density)
        as_read.setdefault(reading.patch.number, []).append(reading.density)
        corrected.setdefault(reading.patch.number, []).append(density)
        titles.extend([str(correction)] if correction else [])
    return ReadFrame(
        frame,
        {number: fmean(found) for number, found in corrected.items() if None not in found},
        max([*sds, _scatter(as_read.values())]) or USUAL_READING_SD,
        {number: fmean(found) for number, found in as_read.items()},
        tuple(dict.fromkeys(titles)),
        {(reading.patch.number, reading.replicate): reading.density for reading in frame.standing},
    )


def _scatter(repeats: Iterable[list[float]]) -> float:
    """Standard deviation of one reading about its patch's mean, over all patches read more than once."""
    weighted = [(len(found) - 1, variance(found)) for found in repeats if len(found) > 1]
    freedom = sum(count for count, _ in weighted)
    return math.sqrt(sum(count * square for count, square in weighted) / freedom) if freedom else 0.0


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
