"""A report of `fit_report` as a table for people."""

from __future__ import annotations

from collections.abc import Mapping

from curves.sensitometry import MEASURES, REASONS

_TITLE_WIDTH = max(len(definition.title) for definition in MEASURES.values())
_VALUE_WIDTH = 14
_INTERVAL_WIDTH = 19


def report_text(report: Mapping) -> str:
    """Write a report as lines of a table, then flags, differences from the reference and notes."""
    lines = [f"{report['file']}  (exposure: {report['exposure']}, engine {report['engine_version']})", ""]
    lines.append(_row("Measure", "Value", "95 % interval", "Unit"))
    lines += [_measure_line(name, measure) for name, measure in report["measures"].items()]
    if report["flags"]:
        lines += ["", "Flags"]
        lines += [f"  {flag['code']}: {flag['text']}" for flag in report["flags"]]
    if "comparison" in report:
        lines += ["", "Against the reference"]
        differences = report["comparison"]
        measured = [name for name in differences if name in MEASURES]
        lines += [_measure_line(name, differences[name]) for name in measured]
        lines += [f"  {sentence}" for sentence in differences["sentences"]]
    if report["notes"]:
        lines += ["", "Notes"]
        lines += [f"  {note}" for note in report["notes"]]
    return "\n".join(lines)


def _measure_line(name: str, measure: Mapping) -> str:
    title = MEASURES[name].title
    if measure["value"] is None:
        return f"{title:<{_TITLE_WIDTH}}  {'withheld':>{_VALUE_WIDTH}}  {REASONS[measure['reason']]}"
    decimals = MEASURES[name].decimals
    value, low, high = (
        None if measure[end] is None else f"{measure[end] + 0.0:.{decimals}f}"
        for end in ("value", "low", "high")
    )
    interval = f"{low} to {high}" if low is not None and high is not None else ""
    if high is None and low is not None:
        value = f"at least {low}"
    elif low is None and high is not None:
        value = f"at most {high}"
    return _row(title, value, interval, measure["unit"], measure["note"])


def _row(title: str, value: str, interval: str, unit: str, note: str = "") -> str:
    cells = (
        f"{title:<{_TITLE_WIDTH}}  {value:>{_VALUE_WIDTH}}  {interval:<{_INTERVAL_WIDTH}}  {unit:<17}  {note}"
    )
    return cells.rstrip()
