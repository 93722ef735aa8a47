"""Every answer carries an id and the browser's rules; the client's address is taken from our proxies only."""

import gzip
import logging
import re

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from labsite.common.request_id import RequestIdFilter, current_request_id
from labsite.middleware import EMPTY_STYLE, BrowserPolicy, ForwardedAddress, RequestId, TextCompression


def through(middleware, **meta):
    """The answer and the request after one middleware."""
    seen = {}

    def view(request):
        seen["request_id"] = current_request_id()
        seen["address"] = request.META["REMOTE_ADDR"]
        return HttpResponse("ok")

    response = middleware(view)(RequestFactory().get("/", **meta))
    return response, seen


def test_each_request_has_an_id_that_ends_with_it():
    first, seen = through(RequestId)
    second, _ = through(RequestId)
    assert re.fullmatch(r"[0-9a-f]{32}", first["X-Request-ID"])
    assert seen["request_id"] == first["X-Request-ID"] != second["X-Request-ID"]
    assert current_request_id() == ""


def test_log_lines_carry_the_id():
    record = logging.makeLogRecord({})
    assert RequestIdFilter().filter(record)
    assert record.request_id == "-"


@pytest.mark.parametrize(
    ("proxies", "header", "address"),
    [
        (
            0,
            "203.0.113.9",
            "127.0.0.1",
        ),  # nobody of ours stands before us: whatever it says is the client's word
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "10.1.1.1, 203.0.113.9", "203.0.113.9"),  # the first was made up by the client
        (2, "10.1.1.1, 203.0.113.9, 10.0.0.2", "203.0.113.9"),
        (2, "203.0.113.9", "127.0.0.1"),  # too short: it did not come through both of our proxies
        (1, "", "127.0.0.1"),
        (1, "203.0.113.9, ", "127.0.0.1"),
    ],
)
def test_the_address_is_counted_back_over_our_own_proxies(settings, proxies, header, address):
    settings.TRUSTED_PROXIES = proxies
    _, seen = through(ForwardedAddress, HTTP_X_FORWARDED_FOR=header)
    assert seen["address"] == address


def test_the_browser_is_told_to_load_nothing_from_elsewhere():
    response, _ = through(BrowserPolicy)
    rules = dict(rule.split(" ", 1) for rule in response["Content-Security-Policy"].split("; "))
    assert rules == {
        "default-src": "'self'",
        "script-src": "'self'",
        "style-src": f"'self' {EMPTY_STYLE}",
        "img-src": "'self' data: blob:",
        "connect-src": "'self'",
        "object-src": "'none'",
        "base-uri": "'none'",
        "form-action": "'self'",
        "frame-ancestors": "'none'",
    }
    assert "camera=()" in response["Permissions-Policy"]


def test_the_allowed_style_is_the_empty_one():
    """The digest is that of no bytes at all (SHA-256, FIPS 180-4)."""
    import base64
    import hashlib

    digest = base64.b64encode(hashlib.sha256(b"").digest()).decode()
    assert f"'sha256-{digest}'" == EMPTY_STYLE


@pytest.mark.django_db
def test_real_answers_carry_all_of_it(client):
    response = client.get("/healthz/")
    assert response.status_code == 200
    assert response["X-Frame-Options"] == "DENY"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Referrer-Policy"] == "same-origin"
    assert response["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "Content-Security-Policy" in response
    assert "X-Request-ID" in response


@pytest.mark.parametrize(
    ("kind", "is_compressed"),
    [
        ("text/html; charset=utf-8", True),
        ("text/csv; charset=utf-8", True),
        ("application/json", True),
        ("image/svg+xml", True),
        ("image/png", False),
        ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", False),
    ],
)
def test_text_is_compressed_and_pictures_are_left_as_they_are(kind, is_compressed):
    body = b"density 0.30 " * 400
    middleware = TextCompression(lambda request: HttpResponse(body, content_type=kind))
    response = middleware(RequestFactory().get("/", headers={"Accept-Encoding": "gzip"}))
    assert (response.get("Content-Encoding") == "gzip") is is_compressed
    assert (gzip.decompress(response.content) if is_compressed else response.content) == body
    assert is_compressed == (len(response.content) < len(body))
    plain = middleware(RequestFactory().get("/"))
    assert plain.content == body and "Content-Encoding" not in plain
