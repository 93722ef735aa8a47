"""A target photographed on a film and scanned, with everything known: for the demo lab, tests and studies.

The chain is that of the real thing. The target's reflectance, times light that falls off, plus the lens's
flare, is exposure; lens and film spread it; the film's curve makes density of it; grain is added as its
noise power says, its variance in proportion to density (Siedentopf's rule); the scanner spreads the
transmittance, adds flare and noise and answers with its response.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy import fft, ndimage

from scans.imaging.homography import carried
from scans.imaging.measures import ImagingError
from scans.imaging.picture import MICROMETRES_PER_INCH, Picture
from scans.imaging.synthetic_dirt import Dirt, add_dirt
from scans.imaging.synthetic_edge import MTF50_TIMES_BLUR
from scans.imaging.synthetic_grain import Spectrum, grain_field, scaled_spectrum, two_scale
from scans.imaging.synthetic_target import PANCHROMATIC, target_density
from scans.imaging.target_layout import HOUSE_TARGET, PatchPlace, TargetLayout

FRAME_MM = (36.0, 24.0)
SCENE_REGIONS: dict[str, PatchPlace] = {region.label: region for region in HOUSE_TARGET.regions}
"""Where the scene's regions lie on the house target."""
CLEAR, DARK = 57000.0, 300.0
"""Levels of the clear gate and of no light."""
DARKEST = 1e-6
"""Least light that the film is asked about, as a part of white [fraction]."""
MARGIN_PX = 8
FEW_PIXELS, FINE_ENOUGH_MM = 300_000, 0.012
"""Parts are drawn with four samples a pixel each way, whole scans with two, fine ones with one."""


@dataclass(frozen=True)
class FilmLook:
    """A film as it was exposed and processed; or a print, with a curve that falls.

    Parameters
    ----------
    curve : callable
        Log exposure, ndarray of any shape [log10 lx s], to density, the same shape [density].
    rms_granularity : float
        At density 1, through 48 micrometres [1000 x density].
    mtf50_cycles_mm : float
        Where lens and film together keep half the modulation [cycles/mm].
    spread : str
        "gaussian", or "exponential" for a line spread with longer tails, transfer 1 / (1 + (f / f50)^2).
    spectrum : callable
        Relative noise power of frequency [cycles/mm].
    colours : mapping of str to float
        What the film sees of each colour patch [density].
    """

    curve: Callable[[np.ndarray], np.ndarray]
    rms_granularity: float = 10.0
    mtf50_cycles_mm: float = 40.0
    spread: str = "gaussian"
    spectrum: Spectrum = two_scale
    colours: Mapping[str, float] = field(default_factory=lambda: PANCHROMATIC)

    def transfer(self, frequency) -> np.ndarray:
        """Modulation that is left, of any shape [1], at frequencies of the same shape [cycles/mm]."""
        relative = np.asarray(frequency) / self.mtf50_cycles_mm
        if self.spread == "gaussian":
            return np.exp2(-(relative**2))
        return 1 / (1 + relative**2)


@dataclass(frozen=True)
class Shot:
    """How the target was photographed.

    Parameters
    ----------
    log_exposure : float
        Of a perfect white in the middle of the frame [log10 lx s].
    mm_per_unit : float
        Size of the target on the film [mm / target unit].
    centre_mm : tuple of float (x, y)
        Of the target, from the frame's upper left [mm].
    angle_deg : float
        Turn of the target, clockwise as seen [degrees].
    keystone : tuple of float (x, y)
        How much nearer the camera the target's right and lower sides are than the left and upper [ratio].
    light : tuple of float (x, y)
        Change of light from left to right and from top to bottom [ratio].
    falloff : float
        Light lost in the corners [fraction].
    flare : float
        Of the lens, as a part of white [fraction].
    """

    log_exposure: float = 0.6
    mm_per_unit: float = 0.108
    centre_mm: tuple[float, float] = (18.0, 12.0)
    angle_deg: float = 0.0
    keystone: tuple[float, float] = (0.0, 0.0)
    light: tuple[float, float] = (0.0, 0.0)
    falloff: float = 0.0
    flare: float = 0.005


@dataclass(frozen=True)
class ScanLook:
    """A scanner, and how the film lay in it.

    Parameters
    ----------
    ppi : float
        [pixels per inch]
    blur_px : float
        Standard deviation of its Gaussian spread [pixels].
    noise : float
        Its noise against that of a good one: sqrt(64 + level / 8) levels [ratio].
    response : callable or None
        Light (1 = clear) to a share of full scale; linear when not given.
    flare : float
        Stray light as a part of clear light [fraction].
    angle_deg : float
        Turn of the film, clockwise as seen [degrees].
    is_mirrored, is_upside_down : bool
        Emulsion the wrong way round; turned by half a turn.
    margin_mm : float
        Scanned beyond the frame on all sides: the film's edge there had no exposure [mm].
    dirt : Dirt
    """

    ppi: float = 1200.0
    blur_px: float = 0.5
    noise: float = 1.0
    response: Callable[[np.ndarray], np.ndarray] | None = None
    flare: float = 0.001
    angle_deg: float = 0.0
    is_mirrored: bool = False
    is_upside_down: bool = False
    margin_mm: float = 0.0
    dirt: Dirt = field(default_factory=Dirt)

    @property
    def pitch_mm(self) -> float:
        """Distance from pixel to pixel, scalar [mm]."""
        return MICROMETRES_PER_INCH / 1000 / self.ppi

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the whole scan [pixels]."""
        return tuple(round((side + 2 * self.margin_mm) / self.pitch_mm) for side in FRAME_MM)


def scene_homography(shot: Shot, scan: ScanLook, layout: TargetLayout = HOUSE_TARGET) -> np.ndarray:
    """Where the target truly lies in a whole scan.

    Parameters
    ----------
    shot : Shot
    scan : ScanLook
    layout : TargetLayout

    Returns
    -------
    matrix : ndarray, shape (3, 3) [pixels / target unit]
    """
    x, y = shot.keystone
    keystone = np.array([[1, 0, 0], [0, 1, 0], [-x / layout.width, -y / layout.height, 1]])
    on_film = (
        _moved(*shot.centre_mm)
        @ _turned(shot.angle_deg)
        @ np.diag([shot.mm_per_unit, shot.mm_per_unit, 1])
        @ keystone
        @ _moved(-layout.width / 2, -layout.height / 2)
    )
    matrix = _film_to_pixels(scan) @ on_film
    return matrix / matrix[2, 2]


def _film_to_pixels(scan: ScanLook) -> np.ndarray:
    width, height = scan.size_px
    mirror = np.diag([-1.0 if scan.is_mirrored else 1.0, 1.0, 1.0])
    turn = _turned(scan.angle_deg + (180.0 if scan.is_upside_down else 0.0))
    scale = np.diag([1 / scan.pitch_mm, 1 / scan.pitch_mm, 1])
    to_centre = _moved((width - 1) / 2, (height - 1) / 2)
    return to_centre @ turn @ mirror @ scale @ _moved(-FRAME_MM[0] / 2, -FRAME_MM[1] / 2)


def _moved(x: float, y: float) -> np.ndarray:
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1]], float)


def _turned(degrees: float) -> np.ndarray:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])


def draw_scene(
    film: FilmLook,
    scan: ScanLook,
    seed: int,
    *,
    shot: Shot | None = None,
    layout: TargetLayout = HOUSE_TARGET,
    window_px: tuple[int, int, int, int] | None = None,
) -> Picture:
    """Photograph and scan the target.

    A whole frame takes 3 s and 0.35 GB at 1200 pixels an inch, 19 s and 1.1 GB at 4000.

    Parameters
    ----------
    film : FilmLook
    scan : ScanLook
    seed : int
        Of grain, noise and dirt.
    shot : Shot, optional
    layout : TargetLayout
    window_px : tuple of int (x, y, width, height), optional
        Part of the whole scan; its grain is drawn for itself [pixels].

    Returns
    -------
    Picture
        16 bits, grey.
    """
    shot = shot or Shot()
    rng = np.random.default_rng(seed)
    x, y, width, height = window_px or (0, 0, *scan.size_px)
    shape = (height, width)
    fine = 4 if width * height <= FEW_PIXELS else 2 if scan.pitch_mm > FINE_ENOUGH_MM else 1
    # Samples: the first pixel is sample (MARGIN_PX * fine), every other lies ``fine`` samples on.
    to_samples = np.diag([fine, fine, 1.0]) @ _moved(MARGIN_PX - x, MARGIN_PX - y)
    size = tuple((side + 2 * MARGIN_PX) * fine for side in shape)
    density = target_density(layout, to_samples @ scene_homography(shot, scan, layout), size, film.colours)
    light = 10.0**-density
    light += np.float32(shot.flare)
    light *= _illumination(shot, to_samples @ _film_to_pixels(scan), size)
    light = _spread(light, film, 1000 * scan.pitch_mm / fine)
    transmittance = _developed(light, film, shot.log_exposure)
    transmittance = ndimage.gaussian_filter(transmittance, scan.blur_px * fine)
    start = MARGIN_PX * fine
    transmittance = np.ascontiguousarray(transmittance[start:-start:fine, start:-start:fine])
    samples = _scanned(transmittance, film, scan, rng)
    return Picture(samples, resolution_ppi=(float(scan.ppi), float(scan.ppi)))


def draw_crop(
    film: FilmLook,
    scan: ScanLook,
    seed: int,
    region: str,
    *,
    size_mm: float = 3.0,
    shot: Shot | None = None,
    layout: TargetLayout = HOUSE_TARGET,
) -> Picture:
    """The middle of one region of the scene, scanned closely.

    Parameters
    ----------
    film : FilmLook
    scan : ScanLook
    seed : int
    region : str
        A region or patch of the layout.
    size_mm : float
        Side of the square on the film [mm].
    shot : Shot, optional
    layout : TargetLayout

    Returns
    -------
    Picture
        16 bits, grey.
    """
    shot = shot or Shot()
    (centre,) = carried(scene_homography(shot, scan, layout), [layout.region(region).centre])
    side = round(size_mm / scan.pitch_mm)
    x, y = (round(float(place) - side / 2) for place in centre)
    return draw_scene(film, scan, seed, shot=shot, layout=layout, window_px=(x, y, side, side))


def _illumination(shot: Shot, matrix: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Light on each sample, none beyond the frame; ``matrix`` carries the film's millimetres to samples."""
    back = np.linalg.inv(matrix).astype(np.float32)
    rows, columns = (np.arange(side, dtype=np.float32) for side in size)
    x, y = (
        (line[0] * columns)[None, :] + (line[1] * rows + line[2])[:, None] - np.float32(side / 2)
        for line, side in zip(back[:2], FRAME_MM, strict=True)
    )
    half_width, half_height = FRAME_MM[0] / 2, FRAME_MM[1] / 2
    gate = (np.abs(x) <= half_width) & (np.abs(y) <= half_height)
    light = 1 + shot.light[0] * x / FRAME_MM[0] + shot.light[1] * y / FRAME_MM[1]
    if shot.falloff:
        light *= 1 - shot.falloff * (x**2 + y**2) / (half_width**2 + half_height**2)
    return np.where(gate, light / (1 + shot.flare), 0).astype(np.float32)


def _spread(light: np.ndarray, film: FilmLook, sample_um: float) -> np.ndarray:
    """Light after lens and film, by Fourier transform."""
    if film.spread not in ("gaussian", "exponential"):
        raise ImagingError("UNKNOWN_SPREAD", "The spread is gaussian or exponential.")
    if film.spread == "gaussian" and sample_um < 1.5 * _blur_um(film):
        return ndimage.gaussian_filter(light, _blur_um(film) / sample_um)
    size = [fft.next_fast_len(side + 32, real=True) for side in light.shape]
    padded = np.pad(light, [(0, n - side) for n, side in zip(size, light.shape, strict=True)], mode="edge")
    v, u = fft.fftfreq(size[0], sample_um / 1000), fft.rfftfreq(size[1], sample_um / 1000)
    transfer = film.transfer(np.hypot(v[:, None], u).astype(np.float32))
    spread = fft.irfft2(fft.rfft2(padded) * transfer, size)
    return spread[: light.shape[0], : light.shape[1]]


def _blur_um(film: FilmLook) -> float:
    """Standard deviation of a Gaussian of the film's transfer [um]."""
    return 1000 * MTF50_TIMES_BLUR / film.mtf50_cycles_mm


def _developed(light: np.ndarray, film: FilmLook, log_exposure: float) -> np.ndarray:
    """Transmittance, by a table of the curve over log exposure."""
    log_light = np.log10(np.maximum(light, np.float32(DARKEST)))
    table = np.linspace(float(log_light.min()), float(log_light.max()) + 1e-3, 2**16)
    density = np.asarray(film.curve(table + log_exposure), float)
    if density.shape != table.shape or not np.isfinite(density).all():
        raise ImagingError("BAD_CURVE", "A film's curve gives a finite density for every log exposure.")
    # The nearest of so many points is within 0.0001 of any log exposure.
    place = (log_light - np.float32(table[0])) * np.float32((table.size - 1) / (table[-1] - table[0]))
    return (10.0**-density).astype(np.float32)[np.rint(place).astype(np.int32)]


def _scanned(transmittance: np.ndarray, film: FilmLook, scan: ScanLook, rng) -> np.ndarray:
    """Levels: grain, dirt, flare, response and noise."""
    pitch_um = 1000 * scan.pitch_mm
    density = -np.log10(transmittance)
    if film.rms_granularity:
        spectrum = scaled_spectrum(film.spectrum, film.rms_granularity)
        grain = grain_field(density.shape, pitch_um, spectrum, rng, blur_um=scan.blur_px * pitch_um) - 1
        transmittance = transmittance * np.maximum(1 + np.sqrt(np.maximum(density, 0)) * grain, 0.02)
    if scan.dirt != Dirt():
        density = -np.log10(transmittance)
        add_dirt(density, scan.dirt, rng)
        transmittance = 10.0**-density
    light = (transmittance + scan.flare) / (1 + scan.flare)
    level = DARK + CLEAR * (light if scan.response is None else scan.response(light))
    noise = rng.standard_normal(level.shape, dtype=np.float32)
    level = level + scan.noise * noise * np.sqrt(64.0 + level / 8)
    return np.clip(np.rint(level), 0, 65535).astype(np.uint16)
