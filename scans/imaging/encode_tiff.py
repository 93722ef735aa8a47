"""Writing a picture as a TIFF file that says where it comes from."""

from __future__ import annotations

from pathlib import Path

import tifffile

from scans.imaging.picture import Picture

STRIP_BYTES = 1 << 20
MAKE_TAG, MODEL_TAG, DATE_TIME_TAG, ASCII = 271, 272, 306, 2


def write_tiff(
    picture: Picture,
    path: str | Path,
    resolution_ppi: float | tuple[float, float] | None = None,
    *,
    make: str = "",
    model: str = "",
    software: str = "",
    date_time: str = "",
) -> Path:
    """Write a picture, compressed without loss; the same picture and words give the same bytes.

    Parameters
    ----------
    picture : Picture
    path : str or Path
    resolution_ppi : float or tuple of float (x, y), scalar, optional
        In the place of the picture's own [pixels per inch].
    make, model, software, date_time : str
        What the file says of the scanner, in plain letters; the date as "2026:01:31 18:00:00". Left out when
        empty.

    Returns
    -------
    Path
    """
    resolution = resolution_ppi or picture.resolution_ppi
    if isinstance(resolution, int | float):
        resolution = (resolution, resolution)
    told = ((MAKE_TAG, make), (MODEL_TAG, model), (DATE_TIME_TAG, date_time))
    row_bytes = picture.samples[0].nbytes
    tifffile.imwrite(
        path,
        picture.samples,
        photometric="rgb" if picture.channels == 3 else "minisblack",
        compression="zlib",
        predictor=True,
        rowsperstrip=max(1, STRIP_BYTES // row_bytes),
        resolution=resolution,
        resolutionunit="INCH" if resolution else None,
        extratags=[(tag, ASCII, 0, text, True) for tag, text in told if text],
        software=software,
        metadata=None,
    )
    return Path(path)
