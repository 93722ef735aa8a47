"""Whatever a file holds, it gets an outcome and a reason, within its limits and without a crash.

Conditions: hand-made files whose headers lie, and files of real encoders with random damage.
"""

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import imagecodecs
import numpy as np
import pytest

from scans.imaging.decode import read_picture
from scans.imaging.decode_checks import MEGABYTE, Limits
from scans.imaging.decode_child import decode_in_child
from scans.imaging.flags import REFUSALS
from tests.imaging.picture_files import TIFF_KINDS, hostile_files, mutated, texture, write_png, write_tiff

ROOT = Path(__file__).resolve().parents[2]
IN_A_CHILD = ("nothing", "TIFF, 60 pages", "TIFF, deflate bomb behind a small header", "PNG, giant")


@pytest.fixture(scope="module")
def hostile():
    """The hand-made files."""
    return hostile_files()


def check(outcome, codes):
    """Exactly one of a picture and a registered refusal; the expected one where it is told."""
    assert (outcome.picture is None) != (outcome.refusal is None)
    if outcome.refusal:
        assert outcome.refusal.code in REFUSALS
        assert outcome.refusal.text.endswith(".")
    if codes is not None:
        assert outcome.refusal is not None
        assert outcome.refusal.code in codes


def test_every_lying_header_is_refused_with_its_reason(hostile, tmp_path):
    peaks = []
    for name, (content, codes) in hostile.items():
        path = tmp_path / "file"
        path.write_bytes(content)
        started = time.perf_counter()
        try:
            check(read_picture(path), codes)
        except AssertionError as fault:
            raise AssertionError(name) from fault
        peaks.append(time.perf_counter() - started)
    # Nothing is decoded before the header is checked, so a bomb costs no time.
    assert max(peaks) < 2.0


@pytest.mark.parametrize("name", IN_A_CHILD)
def test_a_child_refuses_like_its_parent(hostile, tmp_path, name):
    content, codes = hostile[name]
    (tmp_path / "file").write_bytes(content)
    check(decode_in_child(tmp_path / "file", folder=tmp_path), codes)
    assert os.listdir(tmp_path) == ["file"]


@pytest.mark.full
def test_every_hostile_file_in_a_child_within_its_limits(hostile, tmp_path):
    """60 files and more: each read or refused, in less than 30 s and 1.2 GB."""
    rng = np.random.default_rng(60)
    contents = [content for content, _ in hostile.values()] + [
        mutated(data, rng) for data in sources(tmp_path) for _ in range(3)
    ]
    assert len(contents) >= 60
    (tmp_path / "folder").mkdir()
    for content in contents:
        (tmp_path / "file").write_bytes(content)
        started = time.perf_counter()
        check(decode_in_child(tmp_path / "file", folder=tmp_path / "folder"), None)
        assert time.perf_counter() - started < 30
        assert os.listdir(tmp_path / "folder") == []
    assert resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss < 1200 * 1024


def test_memory_and_time_of_a_child_are_limited(tmp_path):
    path = tmp_path / "scan.tif"
    write_tiff(path, np.zeros((9000, 9000), np.uint16), compression="zlib", rowsperstrip=64)
    small = decode_in_child(path, Limits(memory_bytes=250 * MEGABYTE))
    assert small.refusal.code == "OUT_OF_MEMORY"
    short = decode_in_child(path, Limits(wall_s=0))
    assert short.refusal.code == "OUT_OF_TIME"


def test_a_child_that_dies_is_a_refusal(tmp_path, monkeypatch):
    """One that ends without a word."""
    path = write_tiff(tmp_path / "scan.tif", texture())
    monkeypatch.setattr("scans.imaging.decode_child.ROOT", tmp_path)  # where there is no such module
    assert decode_in_child(path).refusal.code == "DECODER_STOPPED"


def test_a_missing_file_is_a_refusal(tmp_path):
    for outcome in (read_picture(tmp_path / "none.tif"), decode_in_child(tmp_path / "none.tif")):
        assert outcome.refusal.code == "NOT_FOUND"
    assert read_picture(tmp_path).refusal.code in ("NOT_FOUND", "NOT_A_PICTURE")


def sources(folder):
    """Contents of honest files of every accepted kind, small so that damage hits their structure."""
    files = []
    for options in TIFF_KINDS.values():
        for channels in (1, 3):
            path = write_tiff(folder / "source.tif", texture(24, 40, channels=channels), **options)
            files.append(path.read_bytes())
    for channels in (1, 3, 4):
        files.append(write_png(folder / "source.png", texture(24, 40, channels=channels)).read_bytes())
    files.append(imagecodecs.jpeg8_encode(texture(24, 40, bits=8, channels=3)))
    return files


def fuzz(folder, first, count, seed=2000):
    """Read damaged files in this process and tell of each, so that a crash can be gone on from."""
    honest = sources(folder)
    for index in range(first, count):
        rng = np.random.default_rng([seed, index])
        path = folder / "mutated"
        path.write_bytes(mutated(honest[index % len(honest)], rng))
        started = time.perf_counter()
        outcome = read_picture(path)
        check(outcome, None)
        if outcome.picture is not None:
            np.asarray(outcome.picture.samples).sum()  # what is mapped must be there
        print(index, int(outcome.picture is not None), time.perf_counter() - started)


FUZZING = """
import logging, resource, sys
from pathlib import Path
from tests.imaging.test_hostile_files import fuzz
logging.disable(logging.CRITICAL)
resource.setrlimit(resource.RLIMIT_AS, (1200 * 2**20, 1200 * 2**20))
fuzz(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
"""


@pytest.mark.parametrize("count", [2000, pytest.param(40_000, marks=pytest.mark.full)])
def test_damaged_files_of_real_encoders_have_an_outcome(tmp_path, count):
    """The reader itself raises nothing; what kills it, the child turns into a refusal.

    Seen in 40,000 files: the library's LZW decoder reads beyond its memory once or so. That is why pictures
    are decoded in a child; no such file may be more than one in a thousand, and each must be refused.
    """
    done, read, slowest, crashes = 0, 0, 0.0, 0
    while done < count:
        result = subprocess.run(
            [sys.executable, "-u", "-c", FUZZING, str(tmp_path), str(done), str(count)],
            cwd=ROOT,
            env={"OPENBLAS_NUM_THREADS": "1"},
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        told = [line.split() for line in result.stdout.splitlines()]
        read += sum(int(was_read) for _, was_read, _ in told)
        slowest = max([slowest, *(float(taken) for *_, taken in told)])
        done += len(told)
        if result.returncode == 0:
            break
        assert result.returncode < 0, f"file {done}: {result.stderr[-2000:]}"
        crashes += 1
        done += 1
        check(decode_in_child(tmp_path / "mutated"), None)
    assert done == count
    assert crashes <= count / 1000
    # Damage to a pixel or a comment leaves a readable file; were nearly all or none, the fuzz would be void.
    assert 0.05 * count < read < 0.9 * count
    assert slowest < 10.0
