"""Decoding in a child process with limits on memory, computing and time, and without the lab's secrets.

The child reads the file and answers with one line of JSON. Pixels that can be mapped where they lie are
not copied; others go through a file that has no name, so that nothing is left behind however it ends.
"""

from __future__ import annotations

import json
import logging
import resource
import signal
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import BinaryIO

import numpy as np

from scans.imaging.decode import Outcome, read_picture
from scans.imaging.decode_checks import DEFAULT_LIMITS, Limits
from scans.imaging.measures import Flag, Refusal
from scans.imaging.picture import Picture

ROOT = Path(__file__).resolve().parents[2]


def decode_in_child(
    path: str | Path, limits: Limits = DEFAULT_LIMITS, folder: str | Path | None = None
) -> Outcome:
    """Read a picture from an untrusted file.

    Parameters
    ----------
    path : str or Path
    limits : Limits
    folder : str or Path, optional
        Where the nameless file of decoded pixels lies; the system's temporary folder by default.

    Returns
    -------
    Outcome
        Whatever the file does to the child: damage, excess of memory or time, even its death is a refusal.
    """
    with tempfile.TemporaryFile(dir=folder) as pixels:
        module = ["-P", "-m", "scans.imaging.decode_child"]
        told = [str(Path(path).absolute()), str(pixels.fileno()), json.dumps(limits.to_dict())]
        command = [sys.executable, *module, *told]
        # A bare environment: the child needs no secret, and one thread keeps its address space small.
        environment = {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
        try:
            answer = subprocess.run(  # noqa: S603
                command,
                env=environment,
                pass_fds=(pixels.fileno(),),
                stdin=subprocess.DEVNULL,
                capture_output=True,
                timeout=limits.wall_s,
                check=False,
            )
        except subprocess.TimeoutExpired:
            text = f"Decoding took longer than {limits.wall_s} seconds and was stopped."
            return Outcome(refusal=Refusal("OUT_OF_TIME", text))
        return _outcome(answer, path, pixels)


def _outcome(answer: subprocess.CompletedProcess, path: str | Path, pixels: BinaryIO) -> Outcome:
    if answer.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
        return Outcome(refusal=Refusal("OUT_OF_TIME", "Decoding took more computing than is allowed."))
    try:
        told = json.loads(answer.stdout)
    except ValueError:
        text = "The decoder stopped without an answer, as a damaged or hostile file can make it do."
        return Outcome(refusal=Refusal("DECODER_STOPPED", text))
    if told["refusal"] is not None:
        return Outcome(refusal=Refusal(**told["refusal"]))
    fields = told["picture"]
    where = pixels if told["offset"] is None else path
    samples = np.memmap(
        where, dtype=np.dtype(told["dtype"]), mode="r", offset=told["offset"] or 0, shape=tuple(told["shape"])
    )
    return Outcome(
        picture=Picture(
            samples=samples,
            format=fields["format"],
            bit_depth=fields["bit_depth"],
            resolution_ppi=fields["resolution_ppi"] and tuple(fields["resolution_ppi"]),
            metadata=fields["metadata"],
            refusal=fields["refusal"] and Refusal(**fields["refusal"]),
            flags=tuple(Flag(**flag) for flag in fields["flags"]),
        )
    )


def _answer(path: str, pixels: BinaryIO, limits: Limits) -> dict:
    """What the child tells: the picture without its pixels, and where those lie."""
    outcome = read_picture(path, limits)
    if outcome.picture is None:
        return {"refusal": outcome.refusal.to_dict()}
    picture, samples = outcome.picture, outcome.picture.samples
    in_place = isinstance(samples, np.memmap) and samples.flags.c_contiguous
    if not in_place:
        np.ascontiguousarray(samples).tofile(pixels)
        pixels.flush()
    return {
        "refusal": None,
        "offset": samples.offset if in_place else None,
        "dtype": samples.dtype.str,
        "shape": samples.shape,
        "picture": {
            "format": picture.format,
            "bit_depth": picture.bit_depth,
            "resolution_ppi": picture.resolution_ppi,
            "metadata": picture.metadata,
            "refusal": picture.refusal and picture.refusal.to_dict(),
            "flags": [flag.to_dict() for flag in picture.flags],
        },
    }


def _limit(limits: Limits) -> None:
    for what, most in (
        (resource.RLIMIT_AS, limits.memory_bytes),
        (resource.RLIMIT_CPU, limits.cpu_s),
        (resource.RLIMIT_FSIZE, limits.decoded_bytes),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))


def main(path: str, descriptor: str, limits: str) -> None:
    """Limit this process, then read the file and tell what it holds.

    Parameters
    ----------
    path : str
    descriptor : str
        Number of the open file that takes the pixels.
    limits : str
        `Limits` as JSON.
    """
    bounds = Limits(**json.loads(limits))
    _limit(bounds)
    logging.disable(logging.CRITICAL)  # the libraries' remarks on damaged tags
    with open(int(descriptor), "wb", closefd=False) as pixels:
        told = _answer(path, pixels, bounds)
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    main(*sys.argv[1:])
