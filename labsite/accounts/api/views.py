"""The base of every view of the API, and the answer to addresses that there are not."""

from typing import ClassVar

from django.core.exceptions import RequestDataTooBig, SuspiciousOperation
from django.utils.cache import patch_cache_control
from rest_framework.exceptions import ParseError
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from labsite.accounts.api.access import Members
from labsite.accounts.api.documents import LabSchema
from labsite.accounts.api.fields import Asked, Given
from labsite.accounts.api.parsing import BodyTooLarge, BoundedJSONParser
from labsite.common.api import Paging
from labsite.common.errors import NotFound


class LabView(APIView):
    """Views parse, make one service or query call and answer; methods are marked by ``operation``."""

    schema = LabSchema()
    parser_classes = [BoundedJSONParser]
    pagination_class = Paging
    #: What docstrings of shared methods leave open.
    words: ClassVar[dict[str, str]] = {}

    def get_permissions(self):
        """Return what the called method says; a method that there is not is for members to ask for."""
        handler = getattr(self, self.request.method.lower(), None)
        called = getattr(handler, "operation", None)
        return [called.access() if called else Members()]

    def given(self, serializer: type[Given]) -> dict:
        """Return the body's values, named fields only; or refuse with every fault."""
        return _checked(serializer(data=self.request.data, context=self.context))

    def asked(self, serializer: type[Asked]) -> dict:
        """Return the values of the query, named ones only; or refuse with every fault."""
        return _checked(serializer(query=self.request.query_params, context=self.context))

    def answer(self, serializer, row, *, status: int = 200) -> Response:
        """Answer with one thing."""
        return Response(serializer(row, context=self.context).data, status=status)

    def nothing(self) -> Response:
        """Answer that it is done."""
        return Response(status=204)

    def paged(self, serializer, rows) -> Response:
        """Answer with the asked page of a list."""
        pages = self.pagination_class()
        page = pages.paginate_queryset(rows, self.request, view=self)
        return pages.get_paginated_response(serializer(page, many=True, context=self.context).data)

    @property
    def context(self) -> dict:
        """What serializers may have to know: who asks."""
        return {"user": self.request.user}

    def handle_exception(self, exc):
        """Give bodies that Django itself refuses the common shape too."""
        if isinstance(exc, RequestDataTooBig):
            exc = BodyTooLarge()
        elif isinstance(exc, SuspiciousOperation):
            exc = ParseError("The form has too many parts.")
        return super().handle_exception(exc)

    def finalize_response(self, request: Request, response: Response, *args, **kwargs) -> Response:
        """Let no cache keep what may be for this person only."""
        response = super().finalize_response(request, response, *args, **kwargs)
        patch_cache_control(response, private=True, no_store=True)
        return response


class UnknownAddress(APIView):
    """Answers in the common shape where there is nothing."""

    schema = None
    authentication_classes = []
    permission_classes = [AllowAny]

    def initial(self, request, *args, **kwargs):
        """Refuse whatever the method."""
        raise NotFound("There is nothing here. Addresses end with a slash; /api/openapi.json lists them.")


def _checked(serializer: Given) -> dict:
    serializer.is_valid(raise_exception=True)
    return serializer.validated_data
