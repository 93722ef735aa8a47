"""Colour shifts of patches, as points with their intervals: a column a patch, a mark a stock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from curves.figures.parts import rounded
from curves.figures.styles import LineStyle
from curves.sensitometry.measures import Measure
from curves.sensitometry.number_text import signed_number

#: Marks of one patch stand so far apart, share of a column.
SPREAD = 0.6


def colour_figure(
    patches: Sequence[str],
    entries: Sequence[tuple[str, Mapping[str, Measure], LineStyle | None]],
    *,
    against: str = "",
) -> dict:
    """Shift of each patch for several stocks.

    Parameters
    ----------
    patches : sequence of str
        Labels of the patches, in the order of the columns.
    entries : sequence of (str, mapping of str to Measure, LineStyle or None)
        Label, shifts by patch [stop] and style of each stock; the reference has no style.
    against : str
        Name of the reference when the shifts are differences from it, else shifts from grey.

    Returns
    -------
    dict
        ``data``, ``layout`` and ``meta``. A patch that is withheld has no mark; ``meta["left_out"]`` names
        stocks without any.
    """
    data = []
    for at, (label, shifts, style) in enumerate(entries):
        offset = SPREAD * ((at + 0.5) / len(entries) - 0.5)
        known = [(i + offset, shifts[p]) for i, p in enumerate(patches) if _is_known(shifts.get(p))]
        if known:
            data.append(_marks(label, known, style))
    zero = f"as {against}" if against else "as grey"
    line = {
        "type": "scatter",
        "mode": "lines",
        "name": zero,
        "x": rounded([-0.5, len(patches) - 0.5]),
        "y": [0.0, 0.0],
        "hoverinfo": "skip",
        "meta": {"role": "construction"},
    }
    title = f"stops against {against}" if against else "stops against grey"
    layout = {
        "xaxis": {
            "tickmode": "array",
            "tickvals": list(range(len(patches))),
            "ticktext": list(patches),
            "range": rounded([-0.5, len(patches) - 0.5]),
            "title": {"text": "patch"},
        },
        "yaxis": {"title": {"text": title}},
        "margin": {"l": 56, "r": 20, "t": 16, "b": 64},
        "hovermode": "closest",
        "showlegend": False,
        "annotations": [],
    }
    drawn = {trace["name"] for trace in data}
    left_out = [
        {"label": label, "key": style.key if style else "reference", "reason": "MISSING_MEASURE"}
        for label, _, style in entries
        if label not in drawn
    ]
    meta = {"kind": "colour", "left_out": left_out, "description": _words(patches, entries, against)}
    return {"data": [line, *data], "layout": layout, "meta": meta}


def _is_known(shift: Measure | None) -> bool:
    return shift is not None and shift.value is not None


def _marks(label: str, known: list, style: LineStyle | None) -> dict:
    values = [shift.value for _, shift in known]
    above = [(shift.high if shift.high is not None else shift.value) - shift.value for _, shift in known]
    below = [shift.value - (shift.low if shift.low is not None else shift.value) for _, shift in known]
    ink, key = (style.ink, style.key) if style else ("reference", "reference")
    return {
        "type": "scatter",
        "mode": "markers",
        "name": label,
        "x": rounded([x for x, _ in known]),
        "y": rounded(values),
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": rounded(above),
            "arrayminus": rounded(below),
        },
        "marker": {"symbol": style.marker if style else "diamond-open", "size": 8},
        "hovertemplate": "%{y:+.2f} stops",
        "meta": {"role": "point", "ink": ink, "key": key},
    }


def _words(patches, entries, against: str) -> str:
    if not entries or not patches:
        return "No patch of any stock could be read."
    parts = []
    for label, shifts, _ in entries:
        known = [(p, shifts[p].value) for p in patches if _is_known(shifts.get(p))]
        if known:
            least, most = min(known, key=lambda one: one[1]), max(known, key=lambda one: one[1])
            parts.append(f"{label} from {_stops(least)} to {_stops(most)}")
    of = f"against {against}" if against else "against grey"
    return f"Colour shift {of}, in stops: {'; '.join(parts) or 'none could be read'}."


def _stops(found: tuple[str, float]) -> str:
    return f"{signed_number(found[1], 2)} ({found[0]})"
