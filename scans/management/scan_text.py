"""A scan's report as a table for people."""

from __future__ import annotations

from scans.imaging.flags import REASONS

MEASURE_KEYS = {"value", "low", "high", "unit", "reason", "note"}


def scan_text(report: dict) -> str:
    """Write a report as lines: the picture, what was measured, flags and notes."""
    picture = report["picture"]
    resolution = picture["resolution_ppi"]
    size = f"{picture['width']} by {picture['height']} pixels, {picture['bit_depth']} bits"
    told = "resolution not told" if resolution is None else f"{resolution[0]:.0f} pixels/inch"
    lines = [f"{report['file']}  ({picture['format']}, {size}, {told})", ""]
    if report["refusal"]:
        lines += [f"Not measured: {report['refusal']['text']}", ""]
    lines += _areas(report.get("areas") or [])
    lines += _measures(report)
    for title, entries in (("Flags", [flag["text"] for flag in report["flags"]]), ("Notes", report["notes"])):
        if entries:
            lines += [title, *(f"  {entry}" for entry in entries), ""]
    return "\n".join(lines).rstrip()


def _areas(areas: list[dict]) -> list[str]:
    if not areas:
        return []
    lines = [
        f"{'Area':<16}{'Centre (pixels)':>18}{'Transmittance':>16}{'Density':>10}  95 % interval   Flags"
    ]
    for area in areas:
        x, y = (sum(corner[axis] for corner in area["location"]) / 4 for axis in (0, 1))
        flags = ", ".join(flag["code"] for flag in area["flags"])
        place = f"{area['label']:<16}{f'{x:.0f}, {y:.0f}':>18}"
        density = area["density"]
        if density["value"] is None:
            lines.append(f"{place}{'withheld':>16}  {REASONS[density['reason']]}")
        else:
            interval = f"{density['low']:.3f} to {density['high']:.3f}"
            light = f"{area['transmittance']['value']:.5f}"
            lines.append(f"{place}{light:>16}{density['value']:>10.3f}  {interval:<16}{flags}".rstrip())
    return [*lines, ""]


def _measures(report: dict) -> list[str]:
    lines = []
    for name, measure in report.items():
        if not isinstance(measure, dict) or not set(measure) >= MEASURE_KEYS:
            continue
        title = name.removesuffix("_cycles_per_mm").replace("_", " ")
        if measure["value"] is None:
            said = f"withheld  {REASONS[measure['reason']]}"
        else:
            low, high = ("…" if measure[end] is None else f"{measure[end]:.4g}" for end in ("low", "high"))
            said = f"{measure['value']:.4g} {measure['unit']}  (95 %: {low} to {high})"
        note = f"  {measure['note']}" if measure["note"] else ""
        lines.append(f"{title:<18}{said}{note}")
    return [*lines, ""] if lines else []
