"""What goes on which frame of a planned roll: the tablet's strips, the target's bracket, a blank frame."""

from dataclasses import dataclass
from functools import cached_property

from curves.models import PatchSet, Roll
from curves.models.exposures import ExposureMethod
from curves.queries.rolls import visible_roll
from curves.sensitometry.exposing.bracket_plan import (
    THIRD_STOP_APERTURES,
    WHOLE_STOP_SHUTTERS,
    FrameSetting,
    bracket_settings,
)
from curves.sensitometry.exposing.exposure_settings import exposure_value, true_aperture, true_shutter_s
from curves.sensitometry.exposing.reciprocity import THRESHOLD_S
from curves.sensitometry.measures import SensitometryError
from labsite.common.errors import InvalidInput

MOST_FRAMES = 36


@dataclass(frozen=True)
class SheetSettings:
    """The metered exposure, the speed under test, and how far the bracket goes."""

    shutter_s: float
    aperture: float
    exposure_index: float
    span_stops: float = 2.0
    per_stop: int = 3
    widest_aperture: float = 2.0
    smallest_aperture: float = 22.0
    fastest_shutter_s: float = 1 / 1000
    slowest_shutter_s: float = 1 / 2

    @cached_property
    def metered_value(self) -> float:
        """Exposure value of the metered pair, by its true settings, stops."""
        return exposure_value(true_aperture(self.aperture), true_shutter_s(self.shutter_s))

    @property
    def shutters_s(self) -> tuple[float, ...]:
        """The marks that the camera has, those of reciprocity failure left out."""
        slowest = min(self.slowest_shutter_s, THRESHOLD_S)
        return tuple(s for s in WHOLE_STOP_SHUTTERS if self.fastest_shutter_s * 0.99 <= s <= slowest * 1.01)

    @property
    def apertures(self) -> tuple[float, ...]:
        """The marks that the lens has."""
        return tuple(n for n in THIRD_STOP_APERTURES if self.widest_aperture <= n <= self.smallest_aperture)


@dataclass(frozen=True)
class SheetFrame:
    """One line of the sheet; ``setting`` is None where the camera's settings don't matter."""

    number: int
    what: str
    setting: FrameSetting | None = None

    @property
    def is_metered(self) -> bool:
        """Whether it is the frame exposed as the meter says."""
        return self.setting is not None and abs(self.setting.offset_stops) < 1e-9

    @property
    def shutter_text(self) -> str:
        """The shutter's mark, as it is engraved."""
        if self.setting is None or self.setting.shutter_mark_s is None:
            return ""
        mark = self.setting.shutter_mark_s
        return f"{mark:g} s" if mark >= 1 else f"1/{round(1 / mark)} s"

    @property
    def aperture_text(self) -> str:
        """The aperture's mark, as it is engraved."""
        if self.setting is None or self.setting.aperture_mark is None:
            return ""
        return f"f/{self.setting.aperture_mark:g}"


@dataclass(frozen=True)
class ExposureSheet:
    """The sheet of one roll."""

    roll: Roll
    strips: tuple[SheetFrame, ...]
    bracket: tuple[SheetFrame, ...]
    blank: SheetFrame
    unreachable: int

    @property
    def is_contact(self) -> bool:
        """Whether the tablet is exposed in contact and not by the camera."""
        return self.roll.exposure_revision.method == ExposureMethod.TABLET_CONTACT

    @property
    def frames(self) -> tuple[SheetFrame, ...]:
        """Every frame in the order of the film."""
        return (*self.strips, *self.bracket, self.blank)


def exposure_sheet(user, roll_id: int, settings: SheetSettings) -> ExposureSheet:
    """Return the frames of a roll that this person may see, each with what to set."""
    roll = visible_roll(user, roll_id)
    try:
        settings_of_frames = bracket_settings(
            settings.metered_value,
            settings.exposure_index,
            shutter_marks_s=settings.shutters_s,
            aperture_marks=settings.apertures,
            span_stops=settings.span_stops,
            per_stop=settings.per_stop,
            preferred_aperture=settings.aperture,
        )
    except SensitometryError as refusal:
        raise InvalidInput(refusal.message) from refusal
    strips = tuple(
        SheetFrame(number, f"Step tablet, strip {strip.number}: {strip.tablet_revision}")
        for number, strip in enumerate(
            roll.strips.select_related("tablet_revision__tablet").order_by("number"), start=1
        )
    )
    target = _target(roll)
    bracket = tuple(
        SheetFrame(number, target, setting)
        for number, setting in enumerate(settings_of_frames, start=len(strips) + 1)
    )
    count = len(strips) + len(bracket) + 1
    if count > MOST_FRAMES:
        raise InvalidInput(
            f"That makes {count} frames; a roll of 35 mm film holds {MOST_FRAMES}. Use a narrower bracket.",
            field="span",
        )
    blank = SheetFrame(count, "Unexposed, for base plus fog: lens cap on")
    return ExposureSheet(
        roll, strips, bracket, blank, sum(1 for setting in settings_of_frames if setting.reason)
    )


def _target(roll: Roll) -> str:
    """What the camera's bracket is made of: the target whose patches are known, before a described one."""
    patch_set = PatchSet.objects.filter(exposure_revision=roll.exposure_revision_id).first()
    if patch_set is not None:
        return str(patch_set)
    described = roll.exposure_revision.target
    is_photographed = roll.exposure_revision.method == ExposureMethod.TABLET_PHOTOGRAPHED
    return described if described and is_photographed else "Grey card and target"
