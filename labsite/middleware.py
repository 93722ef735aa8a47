"""What is done to every request: an id, the true client address, and what the browser may load."""

import uuid

from django.conf import settings
from django.middleware.gzip import GZipMiddleware

from labsite.common.request_id import reset_request_id, set_request_id

# The only style that Plotly makes itself is an empty element; its digest lets it pass.
EMPTY_STYLE = "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"

CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'self'",
        "script-src 'self'",
        f"style-src 'self' {EMPTY_STYLE}",
        "img-src 'self' data: blob:",
        "connect-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    ]
)
PERMISSIONS_POLICY = "camera=(), geolocation=(), microphone=(), payment=(), usb=()"


class RequestId:
    """Gives each request an id that log lines, audit records and the answer's X-Request-ID share."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.id = uuid.uuid4().hex
        token = set_request_id(request.id)
        try:
            response = self.get_response(request)
        finally:
            reset_request_id(token)
        response["X-Request-ID"] = request.id
        return response


class ForwardedAddress:
    """Makes REMOTE_ADDR the client's, counting back over our own proxies only.

    Each proxy appends the address it was called from, so with n proxies of ours the n-th from the
    right is the last that we can believe; whatever stands before it the client may have made up.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        hops = settings.TRUSTED_PROXIES
        chain = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
        if hops and len(chain) >= hops and chain[-hops].strip():
            request.META["REMOTE_ADDR"] = chain[-hops].strip()
        return self.get_response(request)


class BrowserPolicy:
    """Says what a page may load: nothing from elsewhere, no inline script, no frame around it."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        return response


class TextCompression(GZipMiddleware):
    """Compresses pages, data and drawings; pictures and workbooks are compressed already.

    A page that repeats what was asked and also holds a secret could be guessed from its length: Django
    pads the answer by a random length, and the form token differs in every page.
    """

    KINDS = ("text/", "application/json", "application/vnd.oai.openapi", "image/svg+xml")

    def process_response(self, request, response):
        if response.streaming or not response.get("Content-Type", "").startswith(self.KINDS):
            return response
        return super().process_response(request, response)
