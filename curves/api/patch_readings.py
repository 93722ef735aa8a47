"""Readings of a target's patches on the frames of a roll, and the target, for scripts."""

from rest_framework import serializers

from curves.api.readings import VERSION, script_name
from curves.models import PatchReading
from curves.queries.colour_response import light_series
from curves.queries.patches import ReadFrame, RollPatches, roll_patches, target_of
from curves.services.patch_readings import (
    GREATEST_OFFSET,
    MOST_FRAMES,
    MOST_REPEATS,
    FrameValue,
    record_patch_frames,
)
from curves.services.patch_sets import MOST_PATCHES, PatchValue, enter_patch_set
from curves.services.readings import LONGEST_REASON
from labsite.accounts.api.access import Admins, Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, Number, identifier, text, whole
from labsite.accounts.api.views import LabView

OFFSET = "Exposure against the metered one in stops, by true settings; more exposure is positive."
INDEX = "Index that the meter was set to."
FILTER = "Empty: without a filter."
REPEAT = f"Which reading of the patch on this frame it is, 1 to {MOST_REPEATS}."


class PatchSerializer(serializers.Serializer):
    """A patch of the target."""

    number = serializers.IntegerField()
    label = serializers.CharField()
    luminance_factor = serializers.FloatField(help_text="Share of a perfect white, under this light.")
    is_grey = serializers.BooleanField()


class TargetSerializer(serializers.Serializer):
    """The target that is photographed under a revision of an exposure standard."""

    name = serializers.CharField()
    source = serializers.CharField(help_text="Who measured the patches with what.")
    patches = PatchSerializer(many=True)


class PatchDensitySerializer(serializers.Serializer):
    """A reading that stands."""

    patch = serializers.IntegerField(help_text="Number of the patch.")
    replicate = serializers.IntegerField(help_text=REPEAT)
    density = serializers.FloatField(help_text="Gross density, as read.")


class UsedDensitySerializer(serializers.Serializer):
    """What is told from a patch: the mean of its readings, with the instrument's correction."""

    patch = serializers.IntegerField(help_text="Number of the patch.")
    density = serializers.FloatField(help_text="Gross density.")


class PatchFrameSerializer(serializers.Serializer):
    """A frame with the target on it. Readings beyond what a correction was tested on are not in use."""

    label = serializers.CharField()
    offset_stops = serializers.FloatField(help_text=OFFSET)
    metered_index = serializers.FloatField(help_text=INDEX)
    exposure_index = serializers.FloatField(help_text="Index for which it is the metered exposure.")
    filter_name = serializers.CharField(help_text=FILTER)
    readings = PatchDensitySerializer(many=True)
    in_use = UsedDensitySerializer(many=True)
    density_sd = serializers.FloatField(help_text="Standard error of a reading.")
    corrected_by = serializers.ListField(
        child=serializers.CharField(), help_text="Revisions of the instrument's correction."
    )


class PatchReadingsSerializer(serializers.Serializer):
    """What was read of the target on a roll."""

    roll_id = serializers.IntegerField()
    exposure_revision_id = serializers.IntegerField()
    light = serializers.CharField(help_text="daylight or tungsten; series under each stand apart.")
    colour_temperature_k = serializers.IntegerField()
    target = TargetSerializer(allow_null=True, help_text="Null: nobody has said what is on it.")
    frames = PatchFrameSerializer(many=True, help_text="By exposure.")
    version = serializers.CharField(help_text="Changes whenever a reading or a frame does.")


class StoredPatchReadingsSerializer(PatchReadingsSerializer):
    """The readings as they stand now."""

    changed = serializers.IntegerField(help_text="How many readings were stored, replaced or ended.")


class PatchCellSerializer(Given):
    """One reading; null ends the one that stands."""

    patch = whole(min_value=1, max_value=MOST_PATCHES, help_text="Number of the patch on the target.")
    replicate = whole(required=False, min_value=1, max_value=MOST_REPEATS, help_text=f"{REPEAT} Else 1.")
    density = Number(allow_null=True, help_text="Gross density.")


class FrameGivenSerializer(Given):
    """A frame; what is not given of a standing one stays as it is."""

    label = text(help_text="Its number or name, up to 20 characters.")
    offset_stops = Number(
        required=False, min_value=-GREATEST_OFFSET, max_value=GREATEST_OFFSET, help_text=f"{OFFSET} Else 0."
    )
    metered_index = Number(
        required=False, min_value=0.5, max_value=102_400, help_text=f"{INDEX} Else the box speed."
    )
    filter_name = text(required=False, help_text=FILTER)
    readings = PatchCellSerializer(many=True, max_length=MOST_PATCHES * MOST_REPEATS)

    def validate_readings(self, cells: list[dict]) -> list[dict]:
        """Refuse a cell that is given twice: one of the two would be lost."""
        seen = set()
        for cell in cells:
            key = cell["patch"], cell.get("replicate", 1)
            if key in seen:
                raise serializers.ValidationError(
                    f"Reading {key[1]} of patch {key[0]} is given twice; number repeated readings 1, 2, 3."
                )
            seen.add(key)
        return cells


class PatchFramesSerializer(Given):
    """Frames to store. All others stay as they are."""

    frames = FrameGivenSerializer(many=True, max_length=MOST_FRAMES)
    instrument_id = identifier(required=False, allow_null=True)
    reason = text(
        required=False,
        help_text=f"Why stored readings change, in at most {LONGEST_REASON} characters; kept with them.",
    )
    version = text(required=False, max_length=16, help_text=VERSION)


class PatchValueSerializer(Given):
    """What is said of one patch."""

    label = text(help_text="Its name on the target, up to 40 characters.")
    luminance_factor = Number(help_text="Share of a perfect white, under this light; 0.18 for middle grey.")
    is_grey = serializers.BooleanField(required=False, help_text="Whether it is a neutral grey. Else not.")


class TargetGivenSerializer(Given):
    """The target of a revision, in the order of its patches."""

    name = text()
    source = text(help_text="Who measured the patches with what.")
    patches = PatchValueSerializer(many=True, max_length=MOST_PATCHES)


class PatchReadings(LabView):
    """What was read of the target on one roll."""

    @operation(access=Members, answer=PatchReadingsSerializer, refusals=(404,))
    def get(self, request, roll_id: int):
        """Read the target of a roll and what was read of it, frame by frame."""
        read = roll_patches(request.user, roll_id)
        return self.answer(PatchReadingsSerializer, patch_readings_document(read))

    @operation(
        access=Members,
        body=PatchFramesSerializer,
        answer=StoredPatchReadingsSerializer,
        refusals=(404, 409),
    )
    def put(self, request, roll_id: int):
        """Store frames with readings of the target, all or none; what is replaced is kept."""
        given = self.given(PatchFramesSerializer)
        roll_patches(request.user, roll_id)  # a roll that is not open to you is not there
        changed = record_patch_frames(
            actor=request.user,
            roll_id=roll_id,
            frames=[_frame(frame) for frame in given.pop("frames")],
            source=PatchReading.Source.SCRIPT,
            source_name=script_name(request),
            **given,
        )
        document = patch_readings_document(roll_patches(request.user, roll_id))
        return self.answer(StoredPatchReadingsSerializer, document | {"changed": changed})


class PatchTarget(LabView):
    """The target of a revision of an exposure standard."""

    @operation(access=Members, answer=TargetSerializer, refusals=(404,))
    def get(self, request, revision_id: int):
        """Read which patches are on the target of a revision of an exposure standard."""
        return self.answer(TargetSerializer, _target(target_of(request.user, revision_id)))

    @operation(access=Admins, body=TargetGivenSerializer, answer=TargetSerializer, refusals=(404, 409))
    def put(self, request, revision_id: int):
        """Say which patches are on the target of a revision; read ones can't be changed any more."""
        given = self.given(TargetGivenSerializer)
        patches = [PatchValue(**patch) for patch in given.pop("patches")]
        enter_patch_set(actor=request.user, exposure_revision_id=revision_id, patches=patches, **given)
        return self.answer(TargetSerializer, _target(target_of(request.user, revision_id)))


def patch_readings_document(read: RollPatches) -> dict:
    """Return a roll's patches, frame by frame, as they can be sent back."""
    exposure = read.roll.exposure_revision
    return {
        "roll_id": read.roll.pk,
        "exposure_revision_id": exposure.pk,
        "light": light_series(exposure),
        "colour_temperature_k": exposure.colour_temperature_k,
        "target": _target(read.patch_set) if read.patch_set else None,
        "frames": [_frame_document(frame) for frame in read.frames],
        "version": read.version,
    }


def _target(patch_set) -> dict:
    patches = sorted(patch_set.patches.all(), key=lambda patch: patch.number)
    return {"name": patch_set.name, "source": patch_set.source, "patches": patches}


def _frame_document(read: ReadFrame) -> dict:
    frame = read.frame
    return {
        "label": frame.label,
        "offset_stops": frame.offset_stops,
        "metered_index": frame.metered_index,
        "exposure_index": frame.exposure_index,
        "filter_name": frame.filter_name,
        "readings": [
            {"patch": number, "replicate": repeat, "density": density}
            for (number, repeat), density in sorted((read.repeats or {}).items())
        ],
        "in_use": [
            {"patch": number, "density": density} for number, density in sorted(read.densities.items())
        ],
        "density_sd": read.density_sd,
        "corrected_by": list(read.corrected_by),
    }


def _frame(given: dict) -> FrameValue:
    cells = given.pop("readings")
    return FrameValue(
        densities={(cell["patch"], cell.get("replicate", 1)): cell["density"] for cell in cells}, **given
    )
