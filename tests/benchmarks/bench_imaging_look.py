"""A 43 MB frame made fit to look at: tiles, a thumbnail, the target in it; beside the obvious numpy way."""

import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import imagecodecs
import numpy as np
import tifffile
from scipy import ndimage

from scans.imaging.decode import read_picture
from scans.imaging.locate_target import LocatedTarget, locate_target
from scans.imaging.pyramid import TILE_PX, build_pyramid, thumbnail
from scans.imaging.synthetic_scene import FilmLook, ScanLook, draw_scene
from tests.imaging.calibrations import made_calibration
from tests.imaging.target_studies import negative_curve

PPI = 4000
RUNS = 3
OURS = "from tests.benchmarks.bench_imaging_look import build; build({path!r}, {folder!r})"
PEAK = "print(next(x for x in open('/proc/self/status') if x.startswith('VmHWM')).split()[1])"


def rows() -> list[dict]:
    """Three rows of one frame of 24 by 36 mm at 4000 pixels an inch."""
    with tempfile.TemporaryDirectory() as folder:
        path, tiles = str(Path(folder) / "frame.tif"), str(Path(folder) / "tiles")
        tifffile.imwrite(
            path, draw_scene(FilmLook(negative_curve()), ScanLook(ppi=PPI), 1).samples, metadata=None
        )
        pyramid = _row("tiles of a 43 MB frame", build, _obvious, _floor, path, tiles)
        size = sum(each.stat().st_size for each in Path(tiles).rglob("*.png")) / 1e6
        count = sum(1 for _ in Path(tiles).rglob("*.png"))
        pyramid["peak_memory_mb"] = _peak_mb(path, tiles)
        bound = 3 * Path(path).stat().st_size / 1e6 + 150
        pyramid["note"] += f"; {count} tiles, {size:.0f} MB; memory bound {bound:.0f} MB"
        return [
            pyramid,
            _row("thumbnail of a 43 MB frame", _thumbnail, _obvious_thumbnail, _floor, path, tiles),
            _row("target found in a 43 MB frame", _target, None, _floor, path, tiles),
        ]


def build(path: str, folder: str) -> None:
    """Ours: bands of rows, tables of codes, light handed down from level to level."""
    build_pyramid(read_picture(path).picture, folder, made_calibration())


def _thumbnail(path: str, folder: str) -> None:
    thumbnail(read_picture(path).picture, made_calibration())


def _target(path: str, folder: str) -> None:
    assert isinstance(locate_target(read_picture(path).picture), LocatedTarget)


def _obvious(path: str, folder: str) -> None:
    """The whole frame in double precision, halved by a general zoom, encoded as the library does unasked."""
    response = made_calibration().response
    light = 10.0 ** -np.interp(tifffile.imread(path).astype(float), response.level, response.density)
    while True:
        codes = np.clip(-np.log10(light) * 100, 0, 255).astype(np.uint8)
        for row in range(0, codes.shape[0], TILE_PX):
            for column in range(0, codes.shape[1], TILE_PX):
                tile = np.ascontiguousarray(codes[row : row + TILE_PX, column : column + TILE_PX])
                Path(folder, f"{light.shape[1]}_{row}_{column}.png").write_bytes(imagecodecs.png_encode(tile))
        if max(light.shape) == 1:
            return
        light = ndimage.zoom(
            light, [math.ceil(n / 2) / n for n in light.shape], order=1, grid_mode=True, mode="nearest"
        )


def _obvious_thumbnail(path: str, folder: str) -> None:
    response = made_calibration().response
    light = 10.0 ** -np.interp(tifffile.imread(path).astype(float), response.level, response.density)
    small = ndimage.zoom(ndimage.uniform_filter(light, 11), 480 / max(light.shape), order=1)
    imagecodecs.png_encode(np.clip(-np.log10(small) * 100, 0, 255).astype(np.uint8))


def _floor(path: str, folder: str) -> None:
    """One read and one pass."""
    tifffile.imread(path).mean()


def _row(name: str, ours, obvious, floor, path: str, folder: str) -> dict:
    ours_s, processor_s = _timed(ours, path, folder, RUNS)
    obvious_s = None if obvious is None else _timed(obvious, path, folder + " obvious", 1)[0]
    return {
        "name": name,
        "ours_s": ours_s,
        "obvious_s": obvious_s,
        "floor_s": _timed(floor, path, folder, RUNS)[0],
        "ratio": None if obvious_s is None else obvious_s / ours_s,
        "peak_memory_mb": None,
        "note": f"processor time {processor_s:.2f} s",
    }


def _timed(work, path: str, folder: str, runs: int) -> tuple[float, float]:
    """Least wall and processor time of some runs, seconds."""
    Path(folder).mkdir(exist_ok=True)
    taken = []
    for _ in range(runs):
        started, processor = time.perf_counter(), time.process_time()
        work(path, folder)
        taken.append((time.perf_counter() - started, time.process_time() - processor))
    return min(wall for wall, _ in taken), min(processor for _, processor in taken)


def _peak_mb(path: str, folder: str) -> float:
    program = OURS.format(path=path, folder=folder) + "; " + PEAK
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    result = subprocess.run(
        [sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True
    )
    return int(result.stdout) * 1024 / 1e6
