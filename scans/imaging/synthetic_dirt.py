"""What lies on a scanner's glass: specks, hairs, scratches and the edges of the holder."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

OPAQUE = 4.0
"""Density of a holder."""


@dataclass(frozen=True)
class Dirt:
    """How much of it.

    Parameters
    ----------
    specks, hairs, scratches : int
        How many.
    border_px : tuple of float (left, top, right, bottom) [pixels]
        Dark edges of the holder; the upright ones lean a little.
    """

    specks: int = 0
    hairs: int = 0
    scratches: int = 0
    border_px: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


def add_dirt(density: np.ndarray, dirt: Dirt, rng: np.random.Generator) -> None:
    """Draw dirt into a picture: specks and hairs darken, scratches lighten, the holder ends the picture.

    Parameters
    ----------
    density : ndarray, shape (h, w) [density]
        Changed in place.
    dirt : Dirt
    rng : numpy.random.Generator
    """
    height, width = density.shape
    for _ in range(dirt.specks):
        radius = rng.uniform(0.6, 3.0)
        _blot(density, rng.uniform(0, width), rng.uniform(0, height), radius, rng.uniform(0.2, 1.5))
    for count, change in ((dirt.hairs, 0.6), (dirt.scratches, -0.4)):
        for _ in range(count):
            x, y, heading = rng.uniform(0, width), rng.uniform(0, height), rng.uniform(0, 2 * np.pi)
            bend = rng.normal(0, 0.02)
            for _ in range(int(rng.uniform(60, 300))):
                _blot(density, x, y, 0.9, change / 2)
                x, y, heading = x + np.cos(heading), y + np.sin(heading), heading + bend
    left, top, right, bottom = dirt.border_px
    lean = np.linspace(0, rng.uniform(-4, 4), height)[:, None]
    column, row = np.arange(width)[None, :], np.arange(height)[:, None]
    outside = (column < left + lean) | (column >= width - right - lean)
    outside = outside | (row < top) | (row >= height - bottom)
    density[outside & np.broadcast_to((left + top + right + bottom) > 0, outside.shape)] = OPAQUE
    np.maximum(density, -0.02, out=density)


def _blot(density, x, y, radius, change) -> None:
    x0, y0, reach = int(x), int(y), int(radius) + 2
    window = (slice(max(y0 - reach, 0), y0 + reach + 1), slice(max(x0 - reach, 0), x0 + reach + 1))
    part = density[window]
    if part.size:
        rows = np.arange(window[0].start, window[0].start + part.shape[0])[:, None]
        columns = np.arange(window[1].start, window[1].start + part.shape[1])[None, :]
        part += change * np.clip(radius - np.hypot(rows - y, columns - x) + 0.5, 0, 1)
