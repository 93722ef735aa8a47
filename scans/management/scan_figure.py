"""The figure of a scan's report: steps of a tablet, the spectrum of a field, the curve of an edge."""

from __future__ import annotations

SHAPES = {
    "tablet": ("step", "density", "Density of each step"),
    "field": ("spatial frequency (cycles/mm)", "noise power (D²·µm²)", "Noise power spectrum"),
    "edge": ("spatial frequency (cycles/mm)", "modulation transfer", "Modulation transfer function"),
}


def scan_figure(report: dict) -> dict:
    """A figure dictionary in the form of the site's other figures."""
    across, up, title = SHAPES[report["kind"]]
    x, y = _points(report)
    trace = {
        "type": "scatter",
        "mode": "lines+markers" if report["kind"] == "tablet" else "lines",
        "name": title,
        "x": x,
        "y": y,
        "meta": {"role": "curve", "ink": 0, "key": "scan"},
    }
    said = f"{title} of {report['file']}: {len(x)} points."
    if report["refusal"]:
        said = f"{report['file']}: {report['refusal']['text']}"
    return {
        "data": [trace],
        "layout": {"xaxis": {"title": {"text": across}}, "yaxis": {"title": {"text": up}}, "annotations": []},
        "meta": {"description": said},
    }


def _points(report: dict) -> tuple[list, list]:
    if report["kind"] == "tablet":
        read = [area for area in report["areas"] if area["density"]["value"] is not None]
        return [area["step"] for area in read], [area["density"]["value"] for area in read]
    if report["kind"] == "edge":
        return report["mtf"]["frequency_cycles_per_mm"], report["mtf"]["mtf"]
    spectrum = report["noise_power"] or {}
    return spectrum.get("frequency_cycles_per_mm", []), spectrum.get("power_um2", [])
