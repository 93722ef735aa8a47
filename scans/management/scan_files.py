"""What ``measure_scan`` reads beside the scan: a tablet's densities, a calibration, a scanner's limits."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from curves.importers import MAX_BYTES, parse_readings, read_table
from scans.imaging.calibrate import Calibration, ScannerSetup
from scans.imaging.calibrate_store import calibration_from_dict
from scans.imaging.measures import ImagingError, Refusal
from scans.imaging.picture import Picture
from scans.imaging.scanner_limits import ScannerLimits

LARGEST_JSON = 16 * 1024 * 1024


class BadFileError(Exception):
    """A file that cannot be used; the message is one sentence that says where, why and what would do."""


def read_tablet_densities(path: str) -> np.ndarray:
    """Calibrated densities of a tablet by step, shape (n,) [density], readings of one step averaged.

    Raises
    ------
    BadFileError
        When it cannot be read, or its steps are not 1, 2, 3 … with rising density.
    """
    table = parse_readings(read_table(_bytes_of(path, MAX_BYTES), filename=path), require="step")
    if not table.is_valid:
        first = table.problems[0]
        place = ", ".join(part for part in (path, first.place) if part)
        raise BadFileError(f"{place}: {first.message}.")
    by_step: dict[int, list[float]] = {}
    for row in table.rows:
        if row.step is not None:
            by_step.setdefault(row.step, []).append(row.density)
    if sorted(by_step) != list(range(1, len(by_step) + 1)):
        raise BadFileError(f"{path}: the steps are not numbered 1, 2, 3 and on without a gap.")
    densities = np.array([np.mean(by_step[step]) for step in sorted(by_step)])
    if np.any(np.diff(densities) <= 0):
        raise BadFileError(
            f"{path}: the densities do not rise steadily with the step; number them from the lightest."
        )
    return densities


def read_calibration(path: str) -> Calibration:
    """A calibration, out of its own file or out of a report that holds one.

    Raises
    ------
    BadFileError
    """
    stored = _json_of(path)
    if isinstance(stored, dict) and isinstance(stored.get("calibration"), dict):
        stored = stored["calibration"]
    try:
        made = calibration_from_dict(stored)
    except (KeyError, TypeError, ValueError) as error:
        raise BadFileError(f"{path}: the calibration lacks a part; make it anew.") from error
    if isinstance(made, Refusal):
        raise BadFileError(f"{path}: {made.text}")
    return made


def read_scanner_limits(path: str) -> ScannerLimits:
    """A scanner's noise and MTF.

    Raises
    ------
    BadFileError
    """
    try:
        return ScannerLimits.from_dict(_json_of(path))
    except ImagingError as error:
        raise BadFileError(f"{path}: {error.message}") from error


def setup_of(picture: Picture) -> ScannerSetup:
    """The scanner and the settings that a picture's file tells of."""
    told = picture.metadata
    scanner = " ".join(told[name] for name in ("make", "model") if name in told)
    settings = {
        "bit_depth": str(picture.bit_depth),
        "channels": str(picture.channels),
        "colour_profile": told.get("colour_profile", ""),
        "software": told.get("software", ""),
    }
    if picture.resolution_ppi is not None:
        settings["resolution_ppi"] = " by ".join(f"{each:.0f}" for each in picture.resolution_ppi)
    return ScannerSetup(scanner, settings)


def _bytes_of(path: str, most: int) -> bytes:
    try:
        with Path(path).open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        raise BadFileError(f"{path}: cannot be read ({error.strerror or error}).") from error


def _json_of(path: str):
    data = _bytes_of(path, LARGEST_JSON)
    try:
        return json.loads(data[: LARGEST_JSON + 1])
    except (ValueError, RecursionError) as error:
        raise BadFileError(f"{path}: this is no JSON; give the file that this program wrote.") from error
