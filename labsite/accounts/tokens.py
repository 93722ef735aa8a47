"""Sign-in of scripts: ``Authorization: Token cg_…``."""

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed, PermissionDenied
from rest_framework.permissions import SAFE_METHODS

from labsite.accounts.services import live_token
from labsite.common.errors import NotAllowed

KEYWORD = "Token"


class LabTokenAuthentication(BaseAuthentication):
    """A script acts as the person whose token it carries; a read-only token changes nothing."""

    def authenticate(self, request):
        """Return the person and the token, None when the request carries none, or refuse it."""
        words = get_authorization_header(request).decode("latin-1").split()
        if not words or words[0].lower() != KEYWORD.lower():
            return None
        if len(words) != 2:
            raise AuthenticationFailed(f"Write the header as: Authorization: {KEYWORD} cg_…")
        try:
            token = live_token(words[1])
        except NotAllowed as fault:
            raise AuthenticationFailed(fault.message, code=fault.code) from None
        if token.is_read_only and request.method not in SAFE_METHODS:
            raise PermissionDenied("This token may only read. Make one that may write, and use that.")
        return token.user, token

    def authenticate_header(self, request) -> str:
        """Return what a 401 answer asks for."""
        return KEYWORD


class LabTokenScheme(OpenApiAuthenticationExtension):
    """How the OpenAPI document describes the header."""

    target_class = LabTokenAuthentication
    name = "labToken"

    def get_security_definition(self, auto_schema) -> dict:
        """Return the scheme."""
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": f"`{KEYWORD} cg_…`, made on the page Access tokens. It acts as its owner.",
        }
