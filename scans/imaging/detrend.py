"""The slow change of light over a patch: a smooth surface of second order, fitted without the dust.

Everything here stands on blocks of 4 x 4 pixels. One pass over the picture gives each block's mean,
lowest and highest sample; the surface and the dust mask then need a sixteenth of the data.
"""

from dataclasses import dataclass

import numpy as np

BLOCK = 4  # pixels along a side of a block
STRIP = 256  # rows at a time: what one pass holds beside the picture
ORDER = 2
PASSES = 3  # fits of the surface, each without the blocks that the one before found far off
FAR = 4.5  # robust standard deviations
MAD_TO_SD = 1.4826  # a Gaussian's standard deviation over its median absolute deviation


@dataclass(frozen=True, slots=True)
class Blocks:
    """What each block of 4 x 4 pixels holds; pixels left over at the right and bottom are not used.

    Parameters
    ----------
    mean, lowest, highest : ndarray of float32, shape (rows, columns) [unit of the samples]
        NaN where a pixel of the block is not finite.
    """

    mean: np.ndarray
    lowest: np.ndarray
    highest: np.ndarray


@dataclass(frozen=True, slots=True)
class Surface:
    """A polynomial of second order in both directions.

    Parameters
    ----------
    coefficients : ndarray, shape (3, 3) [unit of the samples]
        ``c[i, j]`` belongs to ``v**i u**j``; terms above the second order are zero.
    rows, columns : int, scalar [pixels]
        Size of the picture; u and v run from -1 to 1 over it.
    """

    coefficients: np.ndarray
    rows: int
    columns: int

    def at(self, rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """The surface at pixel centres, shape (len(rows), len(columns)) [unit of the samples], float32."""
        v = _powers(rows, self.rows).astype(np.float32)
        u = _powers(columns, self.columns).astype(np.float32)
        return v @ self.coefficients.astype(np.float32) @ u.T

    def at_blocks(self) -> np.ndarray:
        """The surface at the centres of the blocks, shape (rows, columns) of blocks [unit of the samples]."""
        return self.at(_centres(self.rows // BLOCK), _centres(self.columns // BLOCK))


def block_statistics(samples) -> Blocks:
    """Mean, lowest and highest sample of each block, in one pass.

    Parameters
    ----------
    samples : array_like, shape (rows, columns) [any unit]
        Pixels that must not count are NaN.

    Returns
    -------
    Blocks
        Of ``rows // 4`` by ``columns // 4`` blocks.
    """
    samples = np.asarray(samples)
    rows, columns = samples.shape[0] // BLOCK, samples.shape[1] // BLOCK
    found = [np.empty((rows, columns), dtype=np.float32) for _ in range(3)]
    for top in range(0, rows, STRIP // BLOCK):
        bottom = min(top + STRIP // BLOCK, rows)
        strip = samples[top * BLOCK : bottom * BLOCK, : columns * BLOCK].astype(np.float32, copy=False)
        for into, combine in zip(found, (np.add, np.minimum, np.maximum), strict=True):
            _combine_blocks(strip, combine, into[top:bottom])
    found[0] *= 1 / BLOCK**2
    # The lowest is NaN where any pixel is; an infinite pixel spoils its block as well.
    spoilt = ~(np.isfinite(found[1]) & np.isfinite(found[2]))
    for statistic in found:
        statistic[spoilt] = np.nan
    return Blocks(*found)


def fit_surface(blocks: Blocks, shape: tuple[int, int], clean: np.ndarray | None = None) -> Surface | None:
    """The smooth surface through the block means, blocks far off it left out.

    Parameters
    ----------
    blocks : Blocks
        Of the picture.
    shape : tuple of int, scalar [pixels]
        Rows and columns of the picture.
    clean : ndarray of bool, shape (rows, columns) of blocks, optional
        Blocks that may count. When given they all do; else blocks far off are found and left out.

    Returns
    -------
    Surface or None
        None when fewer than 24 blocks are left or they do not span the patch.
    """
    usable = np.isfinite(blocks.mean)
    if clean is not None:
        return _least_squares(blocks.mean, usable & clean, shape)
    surface = _least_squares(blocks.mean, usable, shape)
    for _ in range(PASSES if surface is not None else 0):
        off = blocks.mean - surface.at_blocks()
        low, high = robust_limits(off[usable], FAR)
        near = usable & (off >= low) & (off <= high)
        surface = _least_squares(blocks.mean, near, shape) or surface
    return surface


def robust_limits(values: np.ndarray, deviations: float) -> tuple[float, float]:
    """Limits around the median, each side by its own spread, so that a skewed field is not cut.

    Parameters
    ----------
    values : ndarray, shape (n,) [any unit]
        Mostly undisturbed values.
    deviations : float, scalar [standard deviations]
        How far the limits lie out.

    Returns
    -------
    low, high : float, scalar [unit of values]
        Median less and plus ``deviations * 1.4826 * MAD`` of the lower and the upper half.
    """
    values = values[:: max(1, values.size // 200_000)]  # the median of a part is near enough
    middle = float(np.median(values))
    off = values - middle
    below, above = -off[off <= 0], off[off >= 0]
    scale = deviations * MAD_TO_SD
    return middle - scale * float(np.median(below)), middle + scale * float(np.median(above))


def _combine_blocks(strip: np.ndarray, combine: np.ufunc, into: np.ndarray) -> None:
    tall = combine(combine(strip[0::4], strip[1::4]), combine(strip[2::4], strip[3::4]))
    combine(combine(tall[:, 0::4], tall[:, 1::4]), combine(tall[:, 2::4], tall[:, 3::4]), out=into)


def _centres(count: int) -> np.ndarray:
    return np.arange(count) * BLOCK + (BLOCK - 1) / 2


def _powers(position: np.ndarray, length: int, highest: int = ORDER) -> np.ndarray:
    scaled = (2 * np.asarray(position, dtype=float) - (length - 1)) / max(length - 1, 1)
    return scaled[:, None] ** np.arange(highest + 1)


def _least_squares(mean: np.ndarray, usable: np.ndarray, shape: tuple[int, int]) -> Surface | None:
    """Normal equations out of the moments of the mask, which are separable on a grid."""
    if np.count_nonzero(usable) < 24:
        return None
    v = _powers(_centres(mean.shape[0]), shape[0], 2 * ORDER)
    u = _powers(_centres(mean.shape[1]), shape[1], 2 * ORDER)
    moments = v.T @ (usable.astype(float) @ u)
    right = v[:, : ORDER + 1].T @ (np.where(usable, mean, 0.0) @ u[:, : ORDER + 1])
    terms = [(i, j) for i in range(ORDER + 1) for j in range(ORDER + 1 - i)]
    normal = np.array([[moments[i + k, j + m] for k, m in terms] for i, j in terms])
    if np.linalg.cond(normal) > 1e8:
        return None
    found = np.linalg.solve(normal, [right[i, j] for i, j in terms])
    coefficients = np.zeros((ORDER + 1, ORDER + 1))
    for (i, j), value in zip(terms, found, strict=True):
        coefficients[i, j] = value
    return Surface(coefficients, *shape)
