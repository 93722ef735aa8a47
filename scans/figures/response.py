"""Figures of a scanner's calibration: the response, how far its steps lie off it, and drift."""

from __future__ import annotations

import math

from curves.sensitometry.number_text import signed_number
from scans.figures.parts import band_trace, frame, line, points, rounded, zero_line

MOST_POINTS = 200
Z95 = 1.959964


def response_figure(document: dict) -> dict:
    """Level against density, with the tablet's steps on it.

    Parameters
    ----------
    document : dict
        A stored calibration.

    Returns
    -------
    dict
    """
    response = document["response"]
    every = max(1, len(response["level"]) // MOST_POINTS)
    density, level = response["density"][::every], response["level"][::every]
    error = response["standard_error"][::every]
    read = [
        (calibrated, _level_at(response, calibrated - residual)) for calibrated, residual in _steps(document)
    ]
    low = [each - Z95 * spread for each, spread in zip(density, error, strict=True)]
    high = [each + Z95 * spread for each, spread in zip(density, error, strict=True)]
    log_level = [math.log10(each) for each in level]
    data = [
        band_trace(log_level, low, high, ink=0, key="response"),
        line("response", rounded(log_level), rounded(density), hover="level 10^%{x:.2f}: %{y:.2f} D"),
        points(
            "steps",
            rounded([math.log10(each) for _, each in read]),
            [each for each, _ in read],
            hover="%{y:.2f} D",
        ),
    ]
    said = (
        f"Response of {document['scanner'] or 'the scanner'}: density from {density[-1]:.2f} to "
        f"{density[0]:.2f} falls as the level rises; {len(read)} steps of the tablet lie on it."
    )
    return frame(data, "log₁₀ of the level in the file", "density (D)", said)


def residual_figure(document: dict) -> dict:
    """How far each step lies off the response.

    Parameters
    ----------
    document : dict
        A stored calibration.

    Returns
    -------
    dict
    """
    steps = _steps(document)
    across = [density for density, _ in steps]
    data = [
        zero_line(min(across), max(across)),
        points(
            "residual", rounded(across), [residual for _, residual in steps], hover="%{x:.2f} D: %{y:.4f}"
        ),
    ]
    said = (
        f"Calibrated density less the response at {len(steps)} steps; root of the mean square "
        f"{document['residual_rms']:.4f} D."
    )
    return frame(data, "calibrated density (D)", "step less response (D)", said)


def shift_figure(drift: dict) -> dict:
    """What the calibration reads at the level that the one before gave to each density, less that density.

    Parameters
    ----------
    drift : dict
        As stored with a calibration, with ``density`` and ``shift``.

    Returns
    -------
    dict
    """
    density, shift = drift["density"], drift["shift"]
    data = [
        zero_line(min(density), max(density)),
        line("shift", rounded(density), rounded(shift), hover="%{x:.1f} D: %{y:.4f}"),
    ]
    largest = signed_number(drift["largest"], 3)
    said = f"Shift since the calibration of {drift['made_on']}: at most {largest} D in size."
    return frame(data, "density by the calibration before (D)", "shift (D)", said)


def drift_figure(history: list[dict]) -> dict:
    """Drift from calibration to calibration over time.

    Parameters
    ----------
    history : list of dict
        Of each calibration but the first, in order: ``made_on`` (ISO day), ``largest`` and ``rms`` [density].

    Returns
    -------
    dict
    """
    days = [each["made_on"] for each in history]
    data = [
        points("largest shift", days, [each["largest"] for each in history], hover="%{x}: %{y:.3f} D"),
        line("root mean square", days, rounded([each["rms"] for each in history]), ink=1, hover="%{y:.3f} D"),
    ]
    said = f"Largest shift against the calibration before, for {len(history)} calibrations of this set-up."
    return frame(data, "day of the calibration", "shift (D)", said, xaxis={"type": "date"})


def _steps(document: dict) -> list[tuple[float, float]]:
    """Calibrated density and residual of each step that was used [density]."""
    stored = document["steps"]
    both = zip(stored["density"], stored["residual"], strict=True)
    return [(density, residual) for density, residual in both if residual is not None]


def _level_at(response: dict, density: float) -> float:
    """Level by linear interpolation on the falling curve [level]."""
    densities, levels = response["density"], response["level"]
    for index in range(1, len(densities)):
        if densities[index] <= density:
            share = (densities[index - 1] - density) / (densities[index - 1] - densities[index])
            return levels[index - 1] + share * (levels[index] - levels[index - 1])
    return levels[-1]
