"""A file of readings for a strip: looked at without storing anything, or stored as a whole."""

from django.db import transaction
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser

from curves.api.readings import VERSION, StoredReadingsSerializer, readings_document
from curves.api.roll_documents import StepField
from curves.importers import MAX_BYTES
from curves.models import StagedImport
from curves.queries.imports import import_preview
from curves.queries.readings import reading_grid, visible_strip
from curves.services.imports import commit_staged_readings, discard_staged_readings, stage_readings_file
from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, identifier, text
from labsite.accounts.api.views import LabView


class ReadingsFileSerializer(Given):
    """A file and what it was read with."""

    file = serializers.FileField(allow_empty_file=True, help_text="CSV, XLSX or CGATS text, up to 2 MB.")
    instrument_id = identifier(required=False, allow_null=True)
    commit = serializers.BooleanField(default=False, help_text="Whether to store it; else it is only read.")
    version = text(required=False, max_length=16, help_text=VERSION)


class FileCellSerializer(serializers.Serializer):
    """A cell of the file, next to what stands."""

    step = StepField(help_text="Number of the step, or “unexposed”.")
    replicate = serializers.IntegerField()
    density = serializers.FloatField(help_text="Gross density in the file.")
    standing = serializers.FloatField(allow_null=True, help_text="Gross density that stands; null: none.")
    change = serializers.ChoiceField(["new", "same", "replaced"])


class FilePreviewSerializer(serializers.Serializer):
    """What a file says, and what storing it would change or has changed."""

    filename = serializers.CharField()
    is_stored = serializers.BooleanField()
    notes = serializers.ListField(child=serializers.CharField(), help_text="How the file was read.")
    cells = FileCellSerializer(many=True)
    counts = serializers.DictField(child=serializers.IntegerField(), help_text="Cells by change.")
    is_reversed = serializers.BooleanField(help_text="Whether steps seem numbered from the other end.")
    warnings = serializers.ListField(
        child=serializers.CharField(), help_text="Steps that fall where they should rise."
    )
    version = serializers.CharField(help_text="Of the readings that it was held against.")
    stored = StoredReadingsSerializer(allow_null=True, help_text="Null unless it was stored.")


class ReadingsFile(LabView):
    """A file for one strip."""

    parser_classes = [MultiPartParser]

    @operation(access=Members, body=ReadingsFileSerializer, answer=FilePreviewSerializer, refusals=(404, 409))
    def post(self, request, roll_id: int, strip_number: int):
        """Read a file of readings and say what storing it would change; with `commit` store it.

        Every fault of a file is told, and then nothing is stored.
        """
        given = self.given(ReadingsFileSerializer)
        strip = visible_strip(request.user, roll_id, strip_number)
        # A refused file leaves nothing behind, not even its preview.
        with transaction.atomic():
            staged = stage_readings_file(
                actor=request.user,
                strip_id=strip.pk,
                filename=given["file"].name,
                # One byte more than is accepted: enough to be told that it is too large.
                data=given["file"].read(MAX_BYTES + 1),
                instrument_id=given.get("instrument_id"),
            )
            shown = _preview(request.user, staged)
            if given["commit"]:
                job = commit_staged_readings(
                    actor=request.user, staged_id=staged.pk, version=given.get("version", "")
                )
                grid = reading_grid(request.user, roll_id, strip_number)
                shown |= {"is_stored": True, "stored": readings_document(grid) | {"job": job}}
            else:
                discard_staged_readings(actor=request.user, staged_id=staged.pk)
        return self.answer(FilePreviewSerializer, shown)


def _preview(user, staged: StagedImport) -> dict:
    preview = import_preview(user, staged.pk)
    return {
        "filename": staged.filename,
        "is_stored": False,
        "notes": staged.notes,
        "cells": [
            {
                "step": row.step,
                "replicate": replicate,
                "density": cell.density,
                "standing": cell.standing,
                "change": cell.change,
            }
            for row in preview.rows
            for replicate, cell in enumerate(row.cells, start=1)
            if cell.density is not None
        ],
        "counts": preview.counts,
        "is_reversed": preview.is_reversed,
        "warnings": [row.warning for row in preview.rows if row.warning],
        "version": preview.grid.version,
        "stored": None,
    }
