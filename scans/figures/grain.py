"""Figures of grain: its power by spatial frequency, and granularity against density."""

from __future__ import annotations

from scans.figures.parts import band_trace, frame, line, points, rounded

Z95 = 1.959964


def noise_power_figure(noise_power: dict, density: float) -> dict:
    """The one-dimensional noise power spectrum with its 95 % band.

    Parameters
    ----------
    noise_power : dict
        Of a stored patch.
    density : float, scalar [density]
        Gross density of the patch.

    Returns
    -------
    dict
    """
    x, power = noise_power["frequency_cycles_per_mm"], noise_power["power_um2"]
    error = noise_power["power_error_um2"]
    low = [max(value - Z95 * spread, 0.0) for value, spread in zip(power, error, strict=True)]
    high = [value + Z95 * spread for value, spread in zip(power, error, strict=True)]
    data = [
        band_trace(x, low, high, ink=0, key="noise power"),
        line("noise power", rounded(x), rounded(power), hover="%{x:.1f} cycles/mm: %{y:.4f} D²·µm²"),
    ]
    said = (
        f"Noise power at density {density:.2f}, from {x[0]:.1f} to {x[-1]:.1f} cycles/mm, the scanner's "
        "blur and noise still in it."
    )
    up = "noise power (D²·µm²)"
    return frame(data, "spatial frequency (cycles/mm)", up, said, yaxis={"rangemode": "tozero"})


def granularity_figure(series: list[dict], stated: dict, stated_density: float) -> dict:
    """Granularity of each field against its density, and the value stated at one density.

    Parameters
    ----------
    series : list of dict
        ``density`` and ``rms_granularity`` (a stored measure) of each patch.
    stated : dict
        The stored measure at the stated density [1000 D].
    stated_density : float, scalar [density]

    Returns
    -------
    dict
    """
    read = [each for each in series if each["rms_granularity"]["value"] is not None]
    data = [_with_intervals("fields", [(each["density"], each["rms_granularity"]) for each in read], 0)]
    if stated["value"] is not None:
        data.append(_with_intervals("stated", [(stated_density, stated)], 1))
    said = f"RMS granularity of {len(read)} fields against density"
    if stated["value"] is not None:
        said += f"; at density {stated_density:.2f} it is {stated['value']:.1f}"
    up = "RMS granularity × 1000"
    return frame(data, "gross density (D)", up, f"{said}.", yaxis={"rangemode": "tozero"})


def _with_intervals(name: str, read: list[tuple[float, dict]], ink: int) -> dict:
    """Points at their densities; an end that is open stands at the point itself."""
    values = [measure["value"] for _, measure in read]
    low, high = (
        [measure["value"] if measure[end] is None else measure[end] for _, measure in read]
        for end in ("low", "high")
    )
    x = rounded([density for density, _ in read])
    return points(name, x, values, low=low, high=high, ink=ink, hover="%{x:.2f} D: %{y:.1f}")
