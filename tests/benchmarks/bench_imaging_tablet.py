"""A step tablet in a 43 MB frame: found and its 21 steps read, on one core, beside the obvious scipy way."""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import tifffile
from scipy import ndimage, signal

from scans.imaging.decode import read_picture
from scans.imaging.density import read_areas
from scans.imaging.locate import locate_tablet
from scans.imaging.synthetic_tablets import FIRST, Scene, draw_scan

STEPS = 21
ANGLE_DEG = 2.3
RUNS = 5
OURS = "from tests.benchmarks.bench_imaging_tablet import measure_file; measure_file({path!r})"
PEAK = "print(next(x for x in open('/proc/self/status') if x.startswith('VmHWM')).split()[1])"


def rows() -> list[dict]:
    """One row: from the file to 21 levels with their errors."""
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "frame.tif")
        scene = Scene(
            densities=tuple(FIRST + 0.15 * np.arange(STEPS)),
            width=5669,
            height=3780,
            pitch_px=230.0,
            height_px=1500.0,
            centre=(2834.0, 1890.0),
            angle_deg=ANGLE_DEG,
            specks=300,
            hairs=5,
        )
        tifffile.imwrite(path, draw_scan(scene).samples, metadata=None)
        ours, obvious = _timed(measure_file, path, RUNS), _timed(_obvious, path, 1)
        started = time.process_time()
        measure_file(path)
        processor = time.process_time() - started
        bound = 3 * Path(path).stat().st_size / 1e6 + 150
        return [
            {
                "name": "tablet found and 21 steps read, 43 MB",
                "ours_s": ours,
                "obvious_s": obvious,
                "floor_s": _timed(_floor, path, RUNS),
                "ratio": obvious / ours,
                "peak_memory_mb": _peak_mb(path),
                "note": f"processor time {processor:.2f} s; memory bound {bound:.0f} MB",
            }
        ]


def measure_file(path: str) -> list[float]:
    """Ours: mapped, shrunk, straightened, the comb fitted and checked, areas read where they lie."""
    picture = read_picture(path).picture
    tablet = locate_tablet(picture, STEPS)
    return [reading.level for reading in read_areas(picture, tablet.areas)]


def _obvious(path: str) -> list[float]:
    """Turn small copies until the edges are sharpest, turn the whole frame so, find peaks, take medians."""
    frame = np.log(tifffile.imread(path).astype(np.float32) + 1)
    small = frame[::6, ::6]
    angles = np.linspace(-5, 5, 41)
    energy = [
        np.square(np.diff(ndimage.rotate(small, a, order=1, reshape=False).mean(axis=0))).sum()
        for a in angles
    ]
    straight = ndimage.rotate(frame, angles[int(np.argmax(energy))], order=1, reshape=False)
    profile = np.median(straight[1500:2300], axis=0)
    slope = np.abs(ndimage.gaussian_filter1d(profile, 4, order=1))
    peaks, _ = signal.find_peaks(slope, distance=150)
    edges = np.sort(peaks[np.argsort(slope[peaks])[-(STEPS + 1) :]])
    middles = ((edges[:-1] + edges[1:]) / 2).astype(int)
    return [float(np.median(straight[1500:2300, x - 60 : x + 60])) for x in middles]


def _floor(path: str) -> float:
    """One read and one pass."""
    return float(tifffile.imread(path).mean())


def _timed(work, path: str, runs: int) -> float:
    taken = []
    for _ in range(runs):
        started = time.perf_counter()
        work(path)
        taken.append(time.perf_counter() - started)
    return min(taken)


def _peak_mb(path: str) -> float:
    program = OURS.format(path=path) + "; " + PEAK
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    result = subprocess.run(
        [sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True
    )
    return int(result.stdout) * 1024 / 1e6
