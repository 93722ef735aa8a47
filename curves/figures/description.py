"""One plain sentence for those who do not see the figure."""

from __future__ import annotations

from collections.abc import Mapping

from curves.figures.parts import STOP
from curves.sensitometry.comparing.curve_matching import SHADOW_DENSITY

_SUBJECTS = {
    "characteristic": "Characteristic curve",
    "comparison": "Characteristic curves",
    "difference": "Density differences from the reference",
    "gradient": "Gradients",
}
_ALIGNMENTS = {
    "exposure": "at equal exposure",
    "speed_point": "aligned at the speed points",
    "shadow_density": f"aligned where net density is {SHADOW_DENSITY:.2f}",
    "contrast": "aligned at the speed points, contrast matched",
}
_MANY = 6


def figure_description(figure: Mapping) -> str:
    """Say in one sentence what a figure shows: what, of whom, over which range, what is left out.

    Parameters
    ----------
    figure : mapping
        As the functions of this package return it.

    Returns
    -------
    str
    """
    meta = figure["meta"]
    curves = [trace for trace in figure["data"] if trace["meta"]["role"] in ("reference", "stock")]
    drawn = [trace for trace in curves if trace["x"]]
    parts = [_SUBJECTS[meta["kind"]] + _names(drawn, meta["kind"])]
    if meta.get("align") in _ALIGNMENTS:
        parts.append(_ALIGNMENTS[meta["align"]])
    parts.append(_ranges(drawn, meta))
    if meta.get("marks"):
        parts.append(f"marked: {', '.join(meta['marks'])}")
    if meta.get("left_out"):
        parts.append(f"not drawn: {', '.join(each['label'] for each in meta['left_out'])}")
    return "; ".join(part for part in parts if part) + "."


def _names(curves, kind: str) -> str:
    if kind == "characteristic":
        return ""
    references = [trace["name"] for trace in curves if trace["meta"]["role"] == "reference"]
    # Lit curves first: they are drawn last, and are what the figure is about.
    stocks = sorted((t for t in curves if t["meta"]["role"] == "stock"), key=lambda t: "ink" not in t["meta"])
    stocks = [trace["name"] for trace in stocks]
    listed = ", ".join(stocks[:_MANY])
    if len(stocks) > _MANY:
        listed += f" and {len(stocks) - _MANY} more"
    if kind == "difference" or not references:
        return f" of {listed}" if listed else ""
    beside = f", with {listed}" if listed else ""
    return f" of the reference {references[0]}{beside}"


def _ranges(curves, meta: Mapping) -> str:
    if not curves:
        return "no curve could be drawn"
    x = [value for trace in curves for value in trace["x"]]
    y = [value for trace in curves for value in trace["y"]]
    stops = (max(x) - min(x)) / STOP
    return (
        f"{meta['value_name']} from {_number(min(y))} to {_number(max(y))} over log exposure "
        f"{_number(min(x))} to {_number(max(x))} ({stops:.1f} stops)"
    )


def _number(value: float) -> str:
    return f"{value + 0.0:.2f}".replace("-", "−")
