"""Published stock sheets: their versions, each as it was frozen, and publishing one by hand."""

from django.urls import reverse
from rest_framework import serializers
from rest_framework.response import Response

from curves.api.labels import StockLabelSerializer
from curves.queries.sheet_tables import sheet_document
from curves.queries.sheets import pair_ids, sheet_credits, version_of, versions_of_stock
from curves.queries.stock_sheet import visible_stock
from curves.services.sheets import publish_sheet
from labsite.accounts.api.access import Admins, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, text
from labsite.accounts.api.views import LabView
from labsite.jobs.api import JobSerializer


class SheetVersionSerializer(serializers.Serializer):
    """A version of a stock's sheet, without what it shows."""

    id = serializers.IntegerField()
    stock = StockLabelSerializer(help_text="As it is named now; the version keeps its own name.")
    pair_key = serializers.CharField(help_text="Its process and exposure revision, as in addresses.")
    process_revision_id = serializers.IntegerField()
    exposure_revision_id = serializers.IntegerField()
    number = serializers.IntegerField(help_text="Counts from 1 under these standards.")
    result_id = serializers.IntegerField(source="pooled_id")
    published_at = serializers.DateTimeField()
    digest = serializers.CharField(help_text="SHA-256 of the content as canonical JSON.")
    changes = serializers.ListField(
        child=serializers.CharField(), help_text="What differs from the version before."
    )
    reason = serializers.CharField(help_text="Why it was published by hand; empty: by itself.")


class SheetHeadSerializer(serializers.Serializer):
    """Which version it is."""

    stock = serializers.CharField()
    version = serializers.IntegerField()
    published_on = serializers.DateField()
    digest_sha256 = serializers.CharField()
    permalink = serializers.CharField(help_text="Address of its page.")
    changes = serializers.ListField(child=serializers.CharField())
    reason = serializers.CharField()


class SheetDocumentSerializer(serializers.Serializer):
    """A version as its JSON file has it."""

    sheet = SheetHeadSerializer()
    members = serializers.DictField(
        child=serializers.CharField(allow_null=True),
        help_text="Roll → its member as he or she wishes to be named now; null: not named.",
    )
    content = serializers.DictField(help_text="Every number and word of the sheet, never changed.")


class PublishSerializer(Given):
    """Why a version is published by hand."""

    reason = text(help_text="Shown with the version.")


class SheetVersions(LabView):
    """The published versions of a stock's sheet."""

    @operation(access=Readers, lists=SheetVersionSerializer)
    def get(self, request, stock_id: int):
        """List the versions of a stock's sheets under all standards, newest first."""
        versions = versions_of_stock(request.user, stock_id)
        if not versions.exists():
            visible_stock(request.user, stock_id)  # says so where there is no such stock
        return self.paged(SheetVersionSerializer, versions)


class OneSheetVersion(LabView):
    """One version."""

    @operation(access=Readers, answer=SheetDocumentSerializer, refusals=(404,))
    def get(self, request, stock_id: int, pair_key: str, version_number: int):
        """Read a version with everything that it shows; it never changes."""
        version = version_of(request.user, stock_id, pair_key, version_number)
        page = reverse("stock_sheet_version", args=[stock_id, pair_key, version_number])
        document = sheet_document(version, sheet_credits(version), request.build_absolute_uri(page))
        return Response(document)


class PublishSheet(LabView):
    """A new version by hand."""

    @operation(access=Admins, body=PublishSerializer, answer=JobSerializer, refusals=(404,))
    def post(self, request, stock_id: int, pair_key: str):
        """Have a new version published, if anything in it has changed; the answer is its job."""
        process_id, exposure_id = pair_ids(pair_key)
        job = publish_sheet(
            actor=request.user,
            stock_id=stock_id,
            process_revision_id=process_id,
            exposure_revision_id=exposure_id,
            reason=self.given(PublishSerializer)["reason"],
        )
        return self.answer(JobSerializer, job)
