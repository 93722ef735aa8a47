"""What the OpenAPI document says of every operation: who may, what it takes, every answer it gives."""

from dataclasses import dataclass
from operator import attrgetter

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers
from rest_framework.permissions import SAFE_METHODS

from labsite.accounts.api.access import Admins, Members, Readers

#: What the numbers and words in addresses mean.
PATH_PARAMETERS = {
    "aims_id": "Number of a set of aims of control strips.",
    "analysis_id": "Number of an analysis.",
    "calibration_id": "Number of a calibration of a scanner.",
    "check_id": "Number of a check of an instrument.",
    "comparison_id": "Number of a saved comparison.",
    "correction_id": "Number of a revision of an instrument's correction.",
    "exposure_revision_id": "Number of a revision of an exposure standard.",
    "finding_id": "Number of a finding about an instrument.",
    "frozen_code": "Short name of a frozen comparison.",
    "instrument_id": "Number of an instrument.",
    "job_id": "Id of a job.",
    "pair_key": "Numbers of a process and an exposure revision, as 2-1.",
    "price_id": "Number of a price.",
    "measure_id": "Number of a measure of a roll's grain or sharpness.",
    "process_revision_id": "Number of a revision of a process standard.",
    "result_id": "Number of a stock's result.",
    "revision_id": "Number of a revision.",
    "roll_id": "Number of a roll: 12 for R-0012.",
    "run_id": "Number of a process run.",
    "scan_id": "Number of a scan: 12 for S-0012.",
    "standard_id": "Number of a standard or step tablet.",
    "stock_id": "Number of a stock.",
    "strip_id": "Number of a control strip.",
    "strip_number": "Place of the strip on its roll, from 1.",
    "study_id": "Number of a study of agreement.",
    "verdict_id": "Number of a verdict.",
    "upload_id": "Id of an upload.",
    "version_number": "Number of a version of a sheet, from 1.",
}

REFUSALS = {
    400: "A value can't be used; each fault is told.",
    401: "No token, or one that is not good for this.",
    403: "Your role, or your token, does not permit this.",
    404: "No such thing, or none that is open to you.",
    409: "It is not in a state that permits this.",
    412: "Another version of the protocol is meant.",
    413: "The body, or the file that it is of, is too large.",
    415: "The body is of another kind than this operation takes.",
    423: "Another request is at it just now; try again in a moment.",
    460: "The bytes do not match their checksum; send them again.",
    507: "The lab's disk has no room for it.",
}


class ProblemSerializer(serializers.Serializer):
    """One fault. Of a value sent as JSON: its field; of a file: its row and column."""

    message = serializers.CharField(help_text="What is wrong, and what would do.")
    field = serializers.CharField(
        required=False, allow_null=True, help_text="Name of the value; readings.3.density is nested."
    )
    value = serializers.JSONField(required=False, help_text="What was found there.")
    row = serializers.IntegerField(required=False, allow_null=True, help_text="Row of the file, from 1.")
    column = serializers.CharField(required=False, allow_null=True, help_text="Column of the file.")
    code = serializers.CharField(required=False, help_text="Kind of the fault, for programs.")


class RefusalSerializer(serializers.Serializer):
    """Why something was not done: the same words as on the pages."""

    code = serializers.CharField(help_text="Kind of the refusal, for programs.")
    message = serializers.CharField(help_text="What is wrong, and what would mend it.")
    field = serializers.CharField(allow_null=True, help_text="The value that it is about, if one.")
    problems = ProblemSerializer(
        many=True, required=False, help_text="Every fault, where values were at fault."
    )


@dataclass(frozen=True)
class Operation:
    """What a method of a view does, for the document and for its access.

    ``body``, ``asks`` and ``answer`` are serializers, or the names of where the view has them; ``media`` is
    what is answered where it is not JSON.
    """

    access: type
    body: type | str | None
    asks: type | None
    answer: type | str | None
    is_list: bool
    status: int
    refusals: tuple[int, ...]
    media: str = ""


def operation(
    *, access: type, body=None, asks=None, answer=None, lists=None, status: int = 200, refusals=(), media=""
):
    """Mark a method of a view as an operation: who may, its body, its query, what it answers or lists.

    ``refusals`` are the statuses of what the service or query may refuse; what follows from the access,
    the body, the query and a list's pages need not be named.
    """

    def marked(method):
        codes = {401, *refusals}
        if access is Admins or (access is Members and method.__name__.upper() not in SAFE_METHODS):
            codes.add(403)
        codes |= {400, 413, 415} if body else set()
        codes |= {400} if asks else set()
        codes |= {404} if lists else set()
        method.operation = Operation(
            access, body, asks, answer or lists, bool(lists), status, tuple(sorted(codes)), media
        )
        return method

    return marked


class LabSchema(AutoSchema):
    """Reads all it says from ``operation`` and from the method's docstring, its first line the summary.

    A view's ``words`` fill the places that a docstring leaves open.
    """

    def get_summary(self) -> str:
        """Return the first line of the method's docstring."""
        return self._told()[0].rstrip(".")

    def get_description(self) -> str:
        """Return the rest of it, with who may."""
        return f"{self._told()[1]}\n\nFor: {self._operation.access.__doc__}".strip()

    def get_operation_id(self) -> str:
        """Return the name without a "create" where nothing is created."""
        name = super().get_operation_id()
        return name.removesuffix("_create") if self._operation.status == 200 else name

    def get_auth(self) -> list[dict]:
        """Let readers do without a token."""
        return super().get_auth() + ([{}] if self._operation.access is Readers else [])

    def get_override_parameters(self) -> list:
        """Return what the query may ask for."""
        return [self._operation.asks] if self._operation.asks else []

    def get_request_serializer(self):
        """Return what the body holds."""
        return self._serializer(self._operation.body)

    def get_response_serializers(self) -> dict:
        """Return every answer by its status."""
        answer = self._serializer(self._operation.answer)
        if answer is None:
            answer = OpenApiResponse(description="Done.")
        elif self._operation.is_list:
            answer = answer(many=True)
        refusals = {
            code: OpenApiResponse(RefusalSerializer, REFUSALS[code]) for code in self._operation.refusals
        }
        status, media = self._operation.status, self._operation.media
        return {(status, media) if media else status: answer, **refusals}

    def _tokenize_path(self) -> list[str]:
        """Leave out of names and tags what all addresses begin with."""
        return [part for part in super()._tokenize_path() if part not in ("api", "v1")]

    def _resolve_path_parameters(self, variables) -> list[dict]:
        parameters = super()._resolve_path_parameters(variables)
        for parameter in parameters:
            parameter["description"] = PATH_PARAMETERS[parameter["name"]]
        return parameters

    @property
    def _operation(self) -> Operation:
        return getattr(self.view, self.method.lower()).operation

    def _serializer(self, named: type | str | None) -> type | None:
        return attrgetter(named)(self.view) if isinstance(named, str) else named

    def _told(self) -> tuple[str, str]:
        first, _, rest = super().get_description().format_map(self.view.words).partition("\n")
        return first, rest.strip()
