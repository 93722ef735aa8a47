"""A paper's curve, the four quadrants of tone reproduction, and the print density of each tone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from curves.figures.labels import end_labels
from curves.figures.parts import (
    ABSOLUTE_TITLE,
    RELATIVE_TITLE,
    STOP,
    band_trace,
    density_axis,
    exposure_axis,
    figure,
    reference_line,
    rounded,
    stock_line,
)
from curves.figures.styles import LineStyle, line_style
from curves.sensitometry.printing.tone_reproduction import ToneReproduction
from curves.sensitometry.sampled_curve import SampledCurve

PAPER_KEY = "paper"
TONE_TITLE = "luminance from the brightest tone (stops)"
#: Horizontal and vertical axis of each quadrant, counted as in Jones's diagram.
QUADRANTS = (("x", "y2"), ("x2", "y2"), ("x2", "y"), ("x", "y"))
_RIGHT, _LEFT, _UPPER, _LOWER = (0.55, 1.0), (0.0, 0.45), (0.56, 1.0), (0.0, 0.44)

Entry = tuple[str, ToneReproduction, LineStyle | None]


def paper_figure(curve: SampledCurve, *, is_absolute: bool, marks: Mapping[str, float]) -> dict:
    """A paper's measured curve with its points and the places from which its measures are read.

    Parameters
    ----------
    curve : SampledCurve
        Reflection density against exposure [D against log10 lx s].
    is_absolute : bool
        Whether the exposures are in lux seconds.
    marks : mapping of str to float
        Log exposure of each place that is marked, by its name [log10 lx s].

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``; see the package's notes on colours.
    """
    x = np.linspace(curve.log_exposure[0], curve.log_exposure[-1], 161)
    density = curve.density_at(x)
    half = 1.959964 * np.linalg.norm(curve.error_at(x), axis=0)
    hover = "%{y:.2f} D at %{x:.2f}"
    line = stock_line("paper", x, density, line_style(0, PAPER_KEY), hover=hover)
    points = {
        "type": "scatter",
        "mode": "markers",
        "name": "points",
        "x": rounded(curve.log_exposure),
        "y": rounded(curve.density),
        "marker": {"symbol": "circle-open", "size": 7},
        "hovertemplate": hover,
        "meta": {"role": "point", "ink": 0, "key": PAPER_KEY},
    }
    data = [band_trace(x, density - half, density + half, ink=0, key=PAPER_KEY), line | {"mode": "lines"}]
    data += [points, *(_mark(name, at, curve) for name, at in marks.items())]
    notes = [_note(name, at, curve) for name, at in marks.items()]
    title = ABSOLUTE_TITLE if is_absolute else RELATIVE_TITLE
    meta = {"kind": "paper", "left_out": [], "marks": list(marks), "description": _paper_words(curve, marks)}
    return figure(data, exposure_axis(title), density_axis("print density"), meta, notes, notes_inside=True)


def print_density_figure(entries: Sequence[Entry]) -> dict:
    """Print density of every subject tone, for the reference and the chosen stocks.

    Parameters
    ----------
    entries : sequence of (str, ToneReproduction, LineStyle or None)
        Label, tones and style of each; the reference has no style.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``.
    """
    data = []
    for label, tones, style in entries:
        ink, key = (style.ink, style.key) if style else ("reference", "reference")
        known = np.isfinite(tones.print_density)
        x = tones.log_luminance[known] / STOP
        data.append(band_trace(x, tones.low[known], tones.high[known], ink=ink, key=key))
        data.append(_line(label, x, tones.print_density[known], style, "%{y:.2f} D, %{x:.1f} stops"))
    lines = [trace for trace in data if trace["meta"]["role"] != "band"]
    meta = {"kind": "print_tones", "left_out": _left_out(entries), "description": _tone_words(entries)}
    x_axis = {"title": {"text": TONE_TITLE}}
    y_axis = {"title": {"text": "print density"}, "autorange": "reversed"}
    return figure(data, x_axis, y_axis, meta, end_labels(lines, beside=data))


def quadrant_figure(entries: Sequence[Entry]) -> dict:
    """The four quadrants: camera and flare, negative, print, and the whole, axes shared between neighbours.

    Parameters
    ----------
    entries : sequence of (str, ToneReproduction, LineStyle or None)
        Label, tones and style of each; the reference has no style.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``. Lower right: film exposure of each subject tone, flare
        included. Lower left: negative density, to the left, of that exposure. Upper left: print density of
        that negative density. Upper right: print density of the subject tone.
    """
    data = []
    for label, tones, style in entries:
        stops = tones.log_luminance / STOP
        pairs = (
            (stops, tones.camera_log_exposure),
            (tones.negative_density, tones.camera_log_exposure),
            (tones.negative_density, tones.print_density),
            (stops, tones.print_density),
        )
        for (x_name, y_name), (x, y) in zip(QUADRANTS, pairs, strict=True):
            known = np.isfinite(x) & np.isfinite(y)
            trace = _line(label, x[known], y[known], style, "%{y:.2f} at %{x:.2f}")
            data.append(trace | {"xaxis": x_name, "yaxis": y_name, "mode": "lines"})
    meta = {"kind": "quadrants", "left_out": _left_out(entries), "description": _quadrant_words(entries)}
    return {"data": data, "layout": _quadrant_layout(data), "meta": meta}


def _quadrant_layout(data: list[dict]) -> dict:
    """Axes that two quadrants share; negative density grows to the left, as in Jones's diagram."""

    def ends(kind: str, name: str) -> list[float]:
        values = [value for trace in data if trace[f"{kind}axis"] == name for value in trace[kind]]
        if not values:
            return [0.0, 1.0]
        room = 0.03 * (max(values) - min(values)) or 0.1
        return rounded([min(values) - room, max(values) + room])

    return {
        "xaxis": {
            "domain": list(_RIGHT),
            "anchor": "y2",
            "range": ends("x", "x"),
            "title": {"text": "subject (stops)", "font": {"size": 12}},
        },
        "xaxis2": {
            "domain": list(_LEFT),
            "anchor": "y2",
            "range": ends("x", "x2")[::-1],
            "title": {"text": "negative (D)", "font": {"size": 12}},
        },
        "yaxis": {
            "domain": list(_UPPER),
            "anchor": "x2",
            "range": ends("y", "y"),
            "title": {"text": "print (D)", "font": {"size": 12}},
        },
        "yaxis2": {
            "domain": list(_LOWER),
            "anchor": "x2",
            "range": ends("y", "y2"),
            "title": {"text": "film (log H)", "font": {"size": 12}},
        },
        "margin": {"l": 60, "r": 20, "t": 28, "b": 60},
        "hovermode": "closest",
        "showlegend": False,
        "annotations": [
            _corner("overall", _RIGHT, _UPPER),
            _corner("print", _LEFT, _UPPER),
            _corner("camera and flare", _RIGHT, _LOWER),
            _corner("negative", _LEFT, _LOWER),
        ],
    }


def _corner(text: str, across: tuple, up: tuple) -> dict:
    return {
        "text": text,
        "xref": "paper",
        "yref": "paper",
        "x": across[0],
        "y": up[1],
        "xanchor": "left",
        "yanchor": "bottom",
        "showarrow": False,
    }


def _line(label: str, x, y, style: LineStyle | None, hover: str) -> dict:
    if style is None:
        return reference_line(label, x, y, hover=hover)
    return stock_line(label, x, y, style, hover=hover)


def _mark(name: str, at: float, curve: SampledCurve) -> dict:
    height = float(curve.density_at(at))
    return {
        "type": "scatter",
        "mode": "lines",
        "name": name,
        "x": rounded([at, at]),
        "y": rounded([0.0, height]),
        "hovertemplate": f"{name} at %{{x:.2f}}<extra></extra>",
        "meta": {"role": "construction", "key": PAPER_KEY},
    }


def _note(name: str, at: float, curve: SampledCurve) -> dict:
    return {
        "text": name,
        "x": rounded([at])[0],
        "y": rounded([float(curve.density_at(at))])[0],
        "xanchor": "right",
        "yanchor": "bottom",
        "showarrow": False,
    }


def _left_out(entries: Sequence[Entry]) -> list[dict]:
    """Stocks of which no tone could be followed through, with the reason of the first."""
    return [
        {
            "label": label,
            "key": style.key if style else "reference",
            "reason": next(reason for reason in tones.reasons if reason),
        }
        for label, tones, style in entries
        if not np.any(np.isfinite(tones.print_density))
    ]


def _paper_words(curve: SampledCurve, marks: Mapping[str, float]) -> str:
    marked = f"; marked: {', '.join(marks)}" if marks else ""
    span = curve.log_exposure[-1] - curve.log_exposure[0]
    return (
        f"Curve of the paper: print density from {curve.density[0]:.2f} to {curve.density[-1]:.2f} over "
        f"{span:.2f} log exposure{marked}."
    ).replace("-", "−")


def _tone_words(entries: Sequence[Entry]) -> str:
    parts = []
    for label, tones, _ in entries:
        known = tones.print_density[np.isfinite(tones.print_density)]
        if known.size:
            parts.append(f"{label} from {known.min():.2f} to {known.max():.2f} D")
    if not parts:
        return "No tone of any stock could be followed through to the print."
    return f"Print density of the subject's tones: {'; '.join(parts)}."


def _quadrant_words(entries: Sequence[Entry]) -> str:
    names = ", ".join(label for label, _, _ in entries)
    return (
        f"Four quadrants for {names}: film exposure of each subject tone with flare, negative density of "
        "that exposure, print density of that negative, and print density of the subject tone."
    )
