"""Pictures are decoded in the test's own process, but where the child is what a test is about."""

import pytest

from scans.imaging.decode import read_picture
from scans.imaging.decode_checks import DEFAULT_LIMITS
from scans.tasks import checking, measuring, tiles


@pytest.fixture
def decoding_child():
    """Asked for by tests whose files are to be decoded as in production: each takes a start of Python."""


@pytest.fixture(autouse=True)
def decoded_here(request, monkeypatch):
    """The same reader of pictures without the walls around it."""
    if "decoding_child" in request.fixturenames:
        return
    for module in (checking, measuring, tiles):
        monkeypatch.setattr(module, "decode_in_child", _read)


def _read(path, limits=DEFAULT_LIMITS, folder=None):
    return read_picture(path, limits)
