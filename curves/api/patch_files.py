"""A file of patch densities for a roll: looked at without storing anything, or stored as a whole."""

from django.db import transaction
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser

from curves.api.patch_readings import StoredPatchReadingsSerializer, patch_readings_document
from curves.api.readings import VERSION
from curves.importers import MAX_BYTES
from curves.models import StagedPatchFile
from curves.queries.patch_files import patch_file_preview
from curves.queries.patches import roll_patches
from curves.services.patch_files import commit_staged_patches, discard_staged_patches, stage_patch_file
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, identifier, text
from labsite.accounts.api.views import LabView


class PatchFileGivenSerializer(Given):
    """A file and what it was read with."""

    file = serializers.FileField(allow_empty_file=True, help_text="CSV, TSV or XLSX, up to 2 MB.")
    instrument_id = identifier(required=False, allow_null=True)
    commit = serializers.BooleanField(default=False, help_text="Whether to store it; else it is only read.")
    version = text(required=False, max_length=16, help_text=VERSION)


class FilePatchSerializer(serializers.Serializer):
    """A reading of the file, next to what stands."""

    frame = serializers.CharField()
    is_new_frame = serializers.BooleanField()
    patch = serializers.IntegerField(help_text="Number of the patch on the target.")
    label = serializers.CharField(help_text="Name of the patch.")
    replicate = serializers.IntegerField()
    density = serializers.FloatField(help_text="Gross density in the file.")
    standing = serializers.FloatField(allow_null=True, help_text="Gross density that stands; null: none.")
    change = serializers.ChoiceField(["new", "same", "replaced"])


class PatchFilePreviewSerializer(serializers.Serializer):
    """What a file says, and what storing it would change or has changed."""

    filename = serializers.CharField()
    is_stored = serializers.BooleanField()
    notes = serializers.ListField(child=serializers.CharField(), help_text="How the file was read.")
    cells = FilePatchSerializer(many=True)
    counts = serializers.DictField(child=serializers.IntegerField(), help_text="Readings by change.")
    warnings = serializers.ListField(child=serializers.CharField(), help_text="Worth a second look.")
    version = serializers.CharField(help_text="Of the readings that it was held against.")
    stored = StoredPatchReadingsSerializer(allow_null=True, help_text="Null unless it was stored.")


class PatchFile(LabView):
    """A file for one roll."""

    parser_classes = [MultiPartParser]

    @operation(
        access=Members, body=PatchFileGivenSerializer, answer=PatchFilePreviewSerializer, refusals=(404, 409)
    )
    def post(self, request, roll_id: int):
        """Read a file of patch densities and say what storing it would change; with `commit` store it.

        Every fault of a file is told, and then nothing is stored.
        """
        given = self.given(PatchFileGivenSerializer)
        roll_patches(request.user, roll_id)  # a roll that is not open to you is not there
        # A refused file leaves nothing behind, not even its preview.
        with transaction.atomic():
            staged = stage_patch_file(
                actor=request.user,
                roll_id=roll_id,
                filename=given["file"].name,
                # One byte more than is accepted: enough to be told that it is too large.
                data=given["file"].read(MAX_BYTES + 1),
                instrument_id=given.get("instrument_id"),
            )
            shown = _preview(request.user, staged)
            if given["commit"]:
                changed = commit_staged_patches(
                    actor=request.user, staged_id=staged.pk, version=given.get("version", "")
                )
                stored = patch_readings_document(roll_patches(request.user, roll_id))
                shown |= {"is_stored": True, "stored": stored | {"changed": changed}}
            else:
                discard_staged_patches(actor=request.user, staged_id=staged.pk)
        return self.answer(PatchFilePreviewSerializer, shown)


def _preview(user, staged: StagedPatchFile) -> dict:
    preview = patch_file_preview(user, staged.pk)
    return {
        "filename": staged.filename,
        "is_stored": False,
        "notes": staged.notes,
        "cells": [
            {
                "frame": frame.label,
                "is_new_frame": frame.is_new,
                "patch": line.patch.number,
                "label": line.patch.label,
                "replicate": repeat,
                "density": cell.density,
                "standing": cell.standing,
                "change": cell.change,
            }
            for frame in preview.frames
            for line in frame.patches
            for repeat, cell in enumerate(line.cells, start=1)
            if cell.density is not None
        ],
        "counts": preview.counts,
        "warnings": preview.warnings,
        "version": preview.read.version,
        "stored": None,
    }
