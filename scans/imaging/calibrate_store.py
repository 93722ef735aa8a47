"""A calibration as JSON, with a digest that a changed number breaks."""

from __future__ import annotations

import datetime
import hashlib
import json

import numpy as np

from scans.imaging.calibrate import Calibration, ScannerSetup
from scans.imaging.calibrate_response import Response
from scans.imaging.measures import Flag, Measure, Refusal

FORMAT = "scanner calibration 1"


def calibration_to_dict(calibration: Calibration) -> dict:
    """A calibration as plain JSON values.

    Parameters
    ----------
    calibration : Calibration

    Returns
    -------
    dict
        With its own ``digest`` (SHA-256 over everything else, keys sorted).
    """
    response = calibration.response
    stored = {
        "format": FORMAT,
        "scanner": calibration.setup.scanner,
        "settings": dict(calibration.setup.settings),
        "made_on": calibration.made_on.isoformat(),
        "valid_days": calibration.valid_days,
        "tablet": calibration.tablet,
        "response": {
            "level": _rounded(response.level, 4),
            "density": _rounded(response.density, 6),
            "standard_error": _rounded(response.standard_error, 6),
            "dark_level": response.dark_level,
            "gamma": response.gamma,
            "flare": response.flare,
            "departure_odds": response.departure_odds,
        },
        "steps": {
            "density": _rounded(calibration.density, 6),
            "residual": [None if np.isnan(each) else round(float(each), 6) for each in calibration.residual],
        },
        "residual_rms": round(calibration.residual_rms, 6),
        "usable_density_high": calibration.usable_high.to_dict(),
        "flags": [flag.to_dict() for flag in calibration.flags],
    }
    stored = _steady(stored)
    return {**stored, "digest": _digest(stored)}


def calibration_from_dict(stored: object) -> Calibration | Refusal:
    """The calibration that `calibration_to_dict` wrote.

    Parameters
    ----------
    stored : object
        As read from JSON; anything.

    Returns
    -------
    Calibration or Refusal
    """
    if not isinstance(stored, dict) or stored.get("format") != FORMAT:
        return Refusal("UNCALIBRATED", "This is no calibration; give the one that this program wrote.")
    content = {name: value for name, value in stored.items() if name != "digest"}
    if stored.get("digest") != _digest(content):
        return Refusal("TAMPERED", "The calibration does not match its digest; make it anew.")
    response = {
        name: np.asarray(value, float) if isinstance(value, list) else value
        for name, value in stored["response"].items()
    }
    residual = [np.nan if each is None else each for each in stored["steps"]["residual"]]
    return Calibration(
        setup=ScannerSetup(stored["scanner"], stored["settings"]),
        response=Response(**response),
        made_on=datetime.date.fromisoformat(stored["made_on"]),
        valid_days=stored["valid_days"],
        tablet=stored["tablet"],
        density=np.asarray(stored["steps"]["density"], float),
        residual=np.asarray(residual, float),
        usable_high=Measure.from_dict("usable_density_high", stored["usable_density_high"]),
        flags=tuple(Flag(**flag) for flag in stored["flags"]),
    )


def _rounded(values, decimals: int) -> list[float]:
    return [round(float(each), decimals) for each in values]


def _steady(value):
    """The same content without a negative zero, which some databases give back as a zero."""
    if isinstance(value, float):
        return value + 0.0
    if isinstance(value, dict):
        return {name: _steady(each) for name, each in value.items()}
    return [_steady(each) for each in value] if isinstance(value, list | tuple) else value


def _digest(content: dict) -> str:
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
