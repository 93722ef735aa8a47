"""The figure of an edge: modulation against spatial frequency, up to the scan's Nyquist frequency."""

from __future__ import annotations

from scans.figures.parts import band_trace, frame, line, rounded

Z95 = 1.959964


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
    for level in (0.5, 0.1):
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": rounded([x[0], x[-1]]),
                "y": [level, level],
                "hoverinfo": "skip",
                "meta": {"role": "construction", "ink": "reference", "key": f"level {level}"},
            }
        )
    said = f"Modulation falls from 1 to {mtf[-1]:.2f} at the Nyquist frequency of {x[-1]:.1f} cycles/mm."
    if has_film:
        said += " Full line: all together, with its 95 % band; dashed: without the scanner."
    across = f"spatial frequency (cycles/mm), to Nyquist at {x[-1]:.1f}"
    return frame(data, across, "modulation transfer", said, yaxis={"rangemode": "tozero"})
