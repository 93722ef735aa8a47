"""One roll's characteristic curve: its band, its steps, and how the measures were read from it."""

from __future__ import annotations

import numpy as np

from curves.figures.constructions import drawn_constructions
from curves.figures.description import figure_description
from curves.figures.parts import (
    ABSOLUTE_TITLE,
    RELATIVE_TITLE,
    band_trace,
    density_axis,
    exposure_axis,
    figure,
    rounded,
    stock_line,
)
from curves.figures.styles import line_style
from curves.sensitometry import Analysis, Points
from curves.sensitometry.number_text import signed_number

CURVE_KEY = "curve"


def characteristic_figure(
    analysis: Analysis, *, points: bool = True, band: bool = True, constructions: bool = True
) -> dict:
    """The characteristic curve of one analysis.

    Parameters
    ----------
    analysis : Analysis
    points : bool
        Whether the averaged steps are shown; those left out of the fit are crosses.
    band : bool
        Whether the 95 % band is shown.
    constructions : bool
        Whether the lines and points from which measures are read are shown.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.
    """
    curve = analysis.curve
    style = line_style(0, CURVE_KEY)
    has_curve = len(curve.log_exposure) > 0
    data = []
    if band and has_curve:
        data.append(band_trace(curve.log_exposure, curve.low, curve.high, ink=style.ink, key=CURVE_KEY))
    drawn = drawn_constructions(analysis) if constructions and has_curve else []
    data += [trace for trace, _ in drawn]
    hover = "%{y:.2f} D at %{x:.2f}"
    line = stock_line("curve", curve.log_exposure, curve.density, style, hover=hover)
    data.append(line | {"mode": "lines"})
    if points:
        data += _steps(analysis.points, style.ink)
    meta = {
        "kind": "characteristic",
        "exposure": analysis.exposure,
        "value_name": "gross density",
        "value_unit": "D",
        "marks": [trace["name"] for trace, _ in drawn],
        "left_out": [],
    }
    title = ABSOLUTE_TITLE if analysis.exposure == "absolute" else RELATIVE_TITLE
    notes = [note for _, note in drawn]
    result = figure(data, exposure_axis(title), density_axis("gross density"), meta, notes, notes_inside=True)
    meta["description"] = figure_description(result)
    return result


def _steps(points: Points, ink: int) -> list[dict]:
    """The averaged steps that the fit used, and those that it left out."""
    traces = []
    for name, symbol, chosen in (
        ("steps", "circle-open", ~points.is_flagged),
        ("steps left out of the fit", "x", points.is_flagged),
    ):
        if not np.any(chosen):
            continue
        labels = [
            f"{f'step {step}, ' if step else ''}mean of {count}, {signed_number(residual, 3)} from the curve"
            for step, count, residual in zip(
                points.step[chosen], points.count[chosen], points.residual[chosen], strict=True
            )
        ]
        traces.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": name,
                "x": rounded(points.log_exposure[chosen]),
                "y": rounded(points.density[chosen]),
                "text": labels,
                "marker": {"symbol": symbol, "size": 7},
                "hovertemplate": "%{y:.3f} D at %{x:.2f}<br>%{text}<extra></extra>",
                "meta": {"role": "point", "ink": ink, "key": CURVE_KEY},
            }
        )
    return traces
