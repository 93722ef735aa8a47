"""Reading a request's body: JSON up to a limit."""

import io

from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import JSONParser

#: The largest body of JSON: far above 60 steps read twenty times, far below what would hurt.
MOST_BYTES = 1_000_000


class BodyTooLarge(APIException):
    """The body is larger than any sensible one."""

    status_code = 413
    default_detail = f"The body is larger than {MOST_BYTES:,} bytes; send it in parts."
    default_code = "too_large"


class BoundedJSONParser(JSONParser):
    """JSON that is neither too long nor nested beyond sense."""

    def parse(self, stream, media_type=None, parser_context=None):
        """Return the parsed body."""
        body = stream.read(MOST_BYTES + 1)
        if len(body) > MOST_BYTES:
            raise BodyTooLarge
        try:
            return super().parse(io.BytesIO(body), media_type, parser_context)
        except RecursionError:
            raise ParseError("The body is nested too deeply.") from None
