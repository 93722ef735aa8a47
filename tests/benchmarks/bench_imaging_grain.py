"""Grain of a whole 43 MB frame and the sharpness of an edge, on one core, beside the obvious scipy way."""

import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy import fft, ndimage, optimize, signal, special

from scans.imaging.grain import measure_patch
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.sharpness import measure_edge
from scans.imaging.synthetic_edge import gaussian_edge
from scans.imaging.synthetic_grain import grain_field, scaled_spectrum, two_scale

ROWS, COLUMNS = 3780, 5669
PITCH_UM = 6.35
WHITE = 60_000
RUNS = 3
LIMITS = ScannerLimits.gaussian(0.6 * PITCH_UM, 0.0009)


def rows() -> list[dict]:
    """The frame from file to granularity, and an edge of 2000 x 2000 pixels with its interval."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "frame.npy"
        np.save(path, _frame())
        return [_grain_row(path), _edge_row()]


def measure_file(path: str) -> float:
    """Ours: levels to transmittance by a table, then dust, light, spectrum and granularity."""
    found = measure_patch(_transmittance(path), (4000, 4000), LIMITS)
    return found.rms_granularity.value


def _frame() -> np.ndarray:
    """Levels of a frame of even tone at density 1 that the light leaves by a tenth, with dust."""
    generator = np.random.default_rng(43)
    field = grain_field(
        (ROWS, COLUMNS),
        PITCH_UM,
        scaled_spectrum(two_scale, 10.0),
        generator,
        blur_um=0.6 * PITCH_UM,
        noise_sd=0.009,
    )
    field *= np.linspace(0.95, 1.05, COLUMNS, dtype=np.float32)
    for y, x in generator.integers(0, (ROWS - 8, COLUMNS - 8), (2000, 2)):
        field[y : y + 8, x : x + 8] *= 0.4
    return (0.1 * WHITE * field).astype(np.uint16)


def _transmittance(path) -> np.ndarray:
    table = np.arange(65536, dtype=np.float32) / WHITE
    return table[np.load(path, mmap_mode="r")]


def _obvious(path) -> float:
    """Median filter for the dust, whole-image FFT for the spectrum, convolution with the aperture."""
    picture = _transmittance(path)
    rows, columns = (np.linspace(-1, 1, n, dtype=np.float32) for n in picture.shape)
    small = picture[::16, ::16].astype(float)
    v, u = np.meshgrid(rows[::16], columns[::16], indexing="ij")
    terms = np.stack([np.ones_like(v), v, u, v * v, v * u, u * u], axis=-1).reshape(-1, 6)
    c = np.linalg.lstsq(terms, small.ravel(), rcond=None)[0].astype(np.float32)
    v, u = rows[:, None], columns
    picture /= c[0] + c[1] * v + c[2] * u + c[3] * v * v + c[4] * v * u + c[5] * u * u
    picture -= 1
    off = picture - ndimage.median_filter(picture, size=5)
    dust = np.abs(off) > 4.5 * 1.4826 * np.median(np.abs(off))
    picture[ndimage.binary_dilation(dust, iterations=3)] = 0
    spectrum = np.abs(fft.rfft2(picture)) ** 2 * (PITCH_UM**2 / picture.size)
    reach = np.arange(-4, 5) * PITCH_UM
    disc = (np.hypot(reach[:, None], reach) <= 24).astype(np.float32)
    seen = signal.fftconvolve(picture, disc / disc.sum(), mode="valid")
    return 1000 * float(seen.std()) / math.log(10) + 0 * float(spectrum[0, 0])


def _floor(path) -> float:
    """One read of the file and one pass over it."""
    return float(np.load(path).mean())


def _grain_row(path: Path) -> dict:
    ours, floor = (_shortest(function, path) for function in (measure_file, _floor))
    started = time.perf_counter()
    by_convolution = _obvious(path)
    obvious = time.perf_counter() - started
    size = path.stat().st_size / 1e6
    started = time.process_time()
    value = measure_file(path)
    processor = time.process_time() - started
    return {
        "name": "grain, 43 MB frame, file to granularity",
        "ours_s": ours,
        "obvious_s": obvious,
        "floor_s": floor,
        "ratio": obvious / ours,
        "peak_memory_mb": _peak_memory_mb(path),
        "note": f"truth 10, ours {value:.2f}, by plain convolution {by_convolution:.2f}; "
        f"processor time {processor:.2f} s; memory bound {3 * size + 150:.0f} MB",
    }


def _peak_memory_mb(path: Path) -> float:
    """High water of a process that measures the file and does nothing else."""
    program = (
        "import sys; from tests.benchmarks.bench_imaging_grain import measure_file;"
        "measure_file(sys.argv[1]);"
        "print(next(x for x in open('/proc/self/status') if x.startswith('VmHWM')).split()[1])"
    )
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-c", program, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=environment)
    return int(done.stdout) * 1024 / 1e6


def _edge_row() -> dict:
    generator = np.random.default_rng(5)
    picture = gaussian_edge((2000, 2000), 1.0, 5, noise_sd=0.009, generator=generator)
    ours = _shortest(lambda edge: measure_edge(edge, (4000, 4000)), picture)
    started = time.perf_counter()
    _fit_all_pixels(picture)
    obvious = time.perf_counter() - started
    return {
        "name": "edge, 2000 x 2000 pixels, MTF with its interval",
        "ours_s": ours,
        "obvious_s": obvious,
        "floor_s": _shortest(np.mean, picture),
        "ratio": obvious / ours,
        "note": "obvious: least squares of a blurred step to all pixels, one shape of curve only",
    }


def _fit_all_pixels(picture: np.ndarray) -> np.ndarray:
    y, x = (each.ravel() for each in np.mgrid[: picture.shape[0], : picture.shape[1]].astype(float))

    def edge(places, start, slope, blur, dark, bright):
        across = (places[0] - start - slope * places[1]) / np.hypot(1, slope)
        return dark + (bright - dark) * special.ndtr(across / blur)

    slope = math.tan(math.radians(5.1))
    first = (picture.shape[1] / 2 - slope * picture.shape[0] / 2, slope, 2.0, 0.06, 0.45)
    return optimize.curve_fit(edge, np.array([x, y]), picture.ravel(), p0=first)[0]


def _shortest(function, argument) -> float:
    taken = []
    for _ in range(RUNS):
        started = time.perf_counter()
        function(argument)
        taken.append(time.perf_counter() - started)
    return min(taken)
