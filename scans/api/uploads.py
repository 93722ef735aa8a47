"""Uploads by the open tus protocol, version 1.0.0: for scripts with a token, for pages with their session.

The protocol speaks in headers and statuses; what they mean is in ``scans.services.uploads``.
"""

import base64
import binascii
from typing import ClassVar

from django.urls import reverse
from django.utils.http import http_date
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.exceptions import APIException, UnsupportedMediaType
from rest_framework.response import Response

from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import LabSchema, operation
from labsite.accounts.api.fields import LARGEST_ID, PersonSerializer
from labsite.accounts.api.views import LabView
from labsite.common.errors import InvalidInput, LabError
from scans.models import Upload
from scans.queries.uploads import upload_report
from scans.services.uploads import MOST_BYTES, cancel_upload, receive_bytes, resume_upload, start_upload

VERSION = "1.0.0"
EXTENSIONS = "creation,termination,checksum,expiration"
BYTES = "application/offset+octet-stream"
#: What the protocol, or HTTP, says more precisely than our kinds of errors do.
STATUSES = {"busy": 423, "no_room": 507, "too_large": 413, "checksum": 460}
ABOUT_METADATA = (
    "`filename`, and if wanted `shows` and `roll_id`: each name, a space and its value in base64, "
    "parted by commas."
)
HEADERS = {
    "Upload-Length": (OpenApiTypes.INT, "Bytes of the whole file."),
    "Upload-Metadata": (OpenApiTypes.STR, ABOUT_METADATA),
    "Upload-Offset": (OpenApiTypes.INT, "How many bytes of the file come before these."),
}


class ScanOfSameContentSerializer(serializers.Serializer):
    """Another scan of the very same file."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    member = PersonSerializer()
    roll_id = serializers.IntegerField(allow_null=True)


class UploadSerializer(serializers.Serializer):
    """An upload: how much of it is there, and what became of it."""

    id = serializers.UUIDField(source="upload.id")
    filename = serializers.CharField(source="upload.filename")
    size_bytes = serializers.IntegerField(source="upload.size_bytes")
    received_bytes = serializers.IntegerField(source="upload.received_bytes")
    stage = serializers.CharField(
        help_text="`sending`, `checking`, then `measurable`, `view_only` or `refused`."
    )
    words = serializers.CharField(help_text="What the file is, or why it can't be measured or read.")
    scan_id = serializers.IntegerField(source="upload.scan_id", allow_null=True)
    is_repeat = serializers.BooleanField(help_text="Whether you had uploaded this very file already.")
    others = ScanOfSameContentSerializer(many=True)
    expires_at = serializers.DateTimeField(help_text="When it is given up unless more comes.")


class UnsupportedVersion(APIException):
    """Another version of the protocol."""

    status_code = 412
    default_detail = f"This site speaks version {VERSION} of the tus protocol."
    default_code = "unsupported_version"


class TusSchema(LabSchema):
    """Adds what is told in headers."""

    def get_override_parameters(self) -> list:
        """Return the query's and the headers' parameters."""
        return super().get_override_parameters() + [
            OpenApiParameter(
                name, HEADERS[name][0], OpenApiParameter.HEADER, required=True, description=HEADERS[name][1]
            )
            for name in self.view.told_in_headers.get(self.method, ())
        ]


class TusView(LabView):
    """What every answer of the protocol has, and how it says our refusals."""

    schema = TusSchema()
    told_in_headers: ClassVar[dict[str, tuple[str, ...]]] = {}

    def initial(self, request, *args, **kwargs):
        """Refuse another version; scripts that tell none are taken to mean ours."""
        super().initial(request, *args, **kwargs)
        if request.headers.get("Tus-Resumable", VERSION) != VERSION:
            raise UnsupportedVersion

    def options(self, request, *args, **kwargs):
        """Say what is supported."""
        return Response(
            status=204,
            headers={
                "Tus-Version": VERSION,
                "Tus-Extension": EXTENSIONS,
                "Tus-Max-Size": str(MOST_BYTES),
                "Tus-Checksum-Algorithm": "sha256",
            },
        )

    def handle_exception(self, exc):
        """Answer with the status that the protocol has for it."""
        if isinstance(exc, LabError) and exc.code in STATUSES:
            refusal = APIException(exc.message, exc.code)
            refusal.status_code = STATUSES[exc.code]
            exc = refusal
        return super().handle_exception(exc)

    def finalize_response(self, request, response, *args, **kwargs):
        """Name the version in every answer."""
        response = super().finalize_response(request, response, *args, **kwargs)
        response["Tus-Resumable"] = VERSION
        if response.status_code == 412:
            response["Tus-Version"] = VERSION
        return response


class Uploads(TusView):
    """Beginning uploads."""

    told_in_headers = {"POST": ("Upload-Length", "Upload-Metadata")}

    @operation(access=Members, answer=UploadSerializer, status=201, refusals=(400, 409, 412, 413, 507))
    def post(self, request):
        """Begin the upload of a scan's file.

        The address in the header `Location` then takes the bytes. The protocol is tus, version 1.0.0, with
        creation, termination, checksum (sha256) and expiration; any client of it will do.
        """
        told = _metadata(request.headers.get("Upload-Metadata", ""))
        upload = start_upload(
            actor=request.user,
            filename=told.get("filename", ""),
            size_bytes=_whole(request, "Upload-Length", "size_bytes"),
            shows=told.get("shows", ""),
            roll_id=_number(told["roll_id"], "roll_id") if told.get("roll_id") else None,
        )
        answer = self.answer(UploadSerializer, upload_report(upload), status=201)
        answer["Location"] = request.build_absolute_uri(reverse("api_upload", args=[upload.pk]))
        return _with_expiry(answer, upload)


class OneUpload(TusView):
    """One upload of one's own."""

    told_in_headers = {"PATCH": ("Upload-Offset",)}

    @operation(access=Members, answer=UploadSerializer, refusals=(404, 412))
    def get(self, request, upload_id):
        """Read how far an upload is and what the check of its file found.

        `HEAD` answers with `Upload-Offset` and `Upload-Length` alone.
        """
        upload = resume_upload(actor=request.user, upload_id=upload_id)
        answer = self.answer(UploadSerializer, upload_report(upload))
        answer["Upload-Offset"], answer["Upload-Length"] = upload.received_bytes, upload.size_bytes
        return _with_expiry(answer, upload)

    @operation(
        access=Members, body={BYTES: OpenApiTypes.BINARY}, status=204, refusals=(404, 409, 412, 423, 460, 507)
    )
    def patch(self, request, upload_id):
        """Send bytes of a file, from where the last ones ended.

        A header `Upload-Checksum: sha256 …` (base64) has these bytes kept only if they are as sent. The last
        byte makes the upload a scan, and its file is checked.
        """
        if request.content_type != BYTES:
            raise UnsupportedMediaType(request.content_type, f"Send the bytes as {BYTES}.")
        upload = receive_bytes(
            actor=request.user,
            upload_id=upload_id,
            offset=_whole(request, "Upload-Offset", "offset"),
            stream=request._request,  # read as it comes, never as a whole
            length=int(request.META.get("CONTENT_LENGTH") or 0),
            checksum=_checksum(request.headers.get("Upload-Checksum", "")),
        )
        answer = self.nothing()
        answer["Upload-Offset"] = upload.received_bytes
        return _with_expiry(answer, upload)

    @operation(access=Members, status=204, refusals=(404, 409, 412, 423))
    def delete(self, request, upload_id):
        """Give an upload up; what came of it is removed."""
        cancel_upload(actor=request.user, upload_id=upload_id)
        return self.nothing()


def _with_expiry(answer: Response, upload: Upload) -> Response:
    if upload.completed_at is None:
        answer["Upload-Expires"] = http_date(upload_report(upload).expires_at.timestamp())
    return answer


def _whole(request, header: str, field: str) -> int:
    text = request.headers.get(header, "")
    if not text:
        raise InvalidInput(f"The header {header} is missing.", field=field)
    return _number(text, field)


def _number(text: str, field: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 19 and int(text) <= LARGEST_ID):
        raise InvalidInput("Give a whole number.", field=field)
    return int(text)


def _metadata(header: str) -> dict[str, str]:
    """Names and values of the header: ``filename c3RyaXAudGlm,shows c3RyaXA=``."""
    told = {}
    for pair in filter(None, (pair.strip() for pair in header.split(","))):
        name, _, value = pair.partition(" ")
        try:
            told[name] = base64.b64decode(value, validate=True).decode().replace("\0", "")
        except (binascii.Error, UnicodeDecodeError):
            raise InvalidInput(
                f"In Upload-Metadata, {name} has no value in base64 of UTF-8.", field="metadata"
            ) from None
    return told


def _checksum(header: str) -> str:
    algorithm, _, value = header.partition(" ")
    if header and (algorithm != "sha256" or not value):
        raise InvalidInput("Give the checksum as: sha256, a space, the digest in base64.", field="checksum")
    return value
