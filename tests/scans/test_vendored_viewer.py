"""The viewing library in static/scans/vendor is what it says."""

import hashlib
import re
from pathlib import Path

VENDOR = Path(__file__).parents[2] / "scans" / "static" / "scans" / "vendor" / "openseadragon"
SOURCE_MAP = b"//# sourceMappingURL=openseadragon.min.js.map"


def versions():
    return (VENDOR / "VERSIONS").read_text(encoding="utf-8")


def test_the_vendored_files_are_the_recorded_ones():
    recorded = re.findall(r"^([0-9a-f]{64})  (\S+)$", versions(), re.MULTILINE)
    assert {name for _, name in recorded} == {"openseadragon.min.js", "LICENSE"}
    assert {path.name for path in VENDOR.iterdir()} == {"openseadragon.min.js", "LICENSE", "VERSIONS"}
    for digest, name in recorded:
        assert hashlib.sha256((VENDOR / name).read_bytes()).hexdigest() == digest, name


def test_with_its_last_line_put_back_the_library_is_the_published_one():
    published = re.search(r"^# ([0-9a-f]{64})$", versions(), re.MULTILINE).group(1)
    content = (VENDOR / "openseadragon.min.js").read_bytes()
    assert SOURCE_MAP not in content
    assert hashlib.sha256(content + SOURCE_MAP).hexdigest() == published


def test_the_library_is_the_version_that_is_recorded():
    head = (VENDOR / "openseadragon.min.js").read_text(encoding="utf-8")[:200]
    version = re.search(r"version (\d+\.\d+\.\d+)", versions()).group(1)
    assert f"openseadragon {version}" in head
