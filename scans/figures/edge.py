"""Figures of an edge: the rise of light across it, and modulation against spatial frequency."""

from __future__ import annotations

from scans.figures.parts import band_trace, frame, line, rounded

Z95 = 1.959964
MOST_POINTS = 400


def profile_figure(profile: dict) -> dict | None:
    """How light rises across the edge, with its 95 % band.

    Parameters
    ----------
    profile : dict
        Of a stored report of an edge.

    Returns
    -------
    dict or None
        None where no profile was kept.
    """
    every = max(1, len(profile["place_um"]) // MOST_POINTS)
    x, level, error = (profile[name][::every] for name in ("place_um", "level", "error"))
    if not x:
        return None
    low = [value - Z95 * spread for value, spread in zip(level, error, strict=True)]
    high = [value + Z95 * spread for value, spread in zip(level, error, strict=True)]
    data = [
        band_trace(x, low, high, ink=0, key="light"),
        line("light", rounded(x), rounded(level), hover="%{x:.1f} µm: %{y:.3f}"),
        _level_line(x, 0.0),
        _level_line(x, 1.0),
    ]
    said = "Light across the edge, all rows together, with its 95 % band"
    if min(level) < 0.1 and max(level) >= 0.9:
        width = _place_at(x, level, 0.9) - _place_at(x, level, 0.1)
        said += f"; from 10 % to 90 % of the step it takes {width:.1f} µm"
    return frame(data, "distance from the edge (µm)", "share of the step", f"{said}.")


def mtf_figure(edge: dict) -> dict:
    """The MTF of everything together with its 95 % band, and of the film where it is known.

    Parameters
    ----------
    edge : dict
        A stored report of an edge.

    Returns
    -------
    dict
    """
    stored = edge["mtf"]
    x, mtf, error = stored["frequency_cycles_per_mm"], stored["mtf"], stored["error"]
    low = [value - Z95 * spread for value, spread in zip(mtf, error, strict=True)]
    high = [value + Z95 * spread for value, spread in zip(mtf, error, strict=True)]
    hover = "%{x:.1f} cycles/mm: %{y:.2f}"
    data = [
        band_trace(x, low, high, ink=0, key="together"),
        line("together", rounded(x), rounded(mtf), hover=hover),
    ]
    has_film = any(value is not None for value in stored["film_mtf"])
    if has_film:
        film = [None if value is None else round(value, 4) for value in stored["film_mtf"]]
        data.append(line("film", rounded(x), film, ink=1, hover=hover))
    data += [_level_line(x, level) for level in (0.5, 0.1)]
    said = f"Modulation falls from 1 to {mtf[-1]:.2f} at the Nyquist frequency of {x[-1]:.1f} cycles/mm."
    if has_film:
        said += " Full line: all together, with its 95 % band; dashed: without the scanner."
    return frame(
        data, "spatial frequency (cycles/mm)", "modulation transfer", said, yaxis={"rangemode": "tozero"}
    )


def _level_line(x: list, level: float) -> dict:
    """A line at one level, to read the curve by."""
    return {
        "type": "scatter",
        "mode": "lines",
        "x": rounded([x[0], x[-1]]),
        "y": [level, level],
        "hoverinfo": "skip",
        "meta": {"role": "construction", "ink": "reference", "key": f"level {level}"},
    }


def _place_at(x: list, level: list, share: float) -> float:
    """Where the light first reaches a share of the step, between two points of the profile."""
    index = next(index for index, value in enumerate(level) if value >= share and index)
    part = (share - level[index - 1]) / (level[index] - level[index - 1])
    return x[index - 1] + part * (x[index] - x[index - 1])
