"""Pictures that the demo lab's scanner made: drawn from the invented emulsions, known in all their truth.

Drawing takes longer than anything else in the demo, needs no database, and so is done by processes beside.
"""

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from labsite.demo.emulsions import Emulsion, density
from scans.imaging.encode_tiff import write_tiff
from scans.imaging.picture import Picture
from scans.imaging.synthetic_dirt import Dirt
from scans.imaging.synthetic_edge import gaussian_edge
from scans.imaging.synthetic_scene import CLEAR, DARK, FilmLook, ScanLook, Shot, draw_crop, draw_scene
from scans.imaging.synthetic_tablets import Scene, draw_scan

FRAME_PPI, CLOSE_PPI = 1200.0, 4000.0
GREY_CARD_DENSITY = 0.745
MODEL = {"make": "Invented", "model": "Flatbed 3", "software": "Scanroom 1"}
WORKERS = 2
HEIGHT_PX, STRIP_ANGLE_DEG = 360, 0.6
PITCH_PX = {FRAME_PPI: 60.0, CLOSE_PPI: 120.0}


@dataclass(frozen=True)
class Look:
    """What an emulsion's picture looks like beside its curve."""

    emulsion: Emulsion
    rms_granularity: float
    mtf50_cycles_mm: float
    speed_shift: float
    contrast: float

    def curve(self, log_exposure):
        """Density of log exposure, any shape [log10 lx s]."""
        flat = density(
            self.emulsion,
            np.ravel(np.asarray(log_exposure, float)),
            speed_shift=self.speed_shift,
            contrast=self.contrast,
        )
        return flat.reshape(np.shape(log_exposure))

    @property
    def film(self) -> FilmLook:
        """As the drawing takes it."""
        return FilmLook(self.curve, self.rms_granularity, self.mtf50_cycles_mm)

    def exposure_of_card(self, stops: float) -> float:
        """Log exposure of white when a grey card is metered for ten times the speed point's exposure."""
        return self.emulsion.speed_log_h + 1.0 + GREY_CARD_DENSITY + stops * np.log10(2)


def draw_tablet(path: Path, densities, ppi: float, seed: int) -> Path:
    """The tablet itself, for calibrating."""
    scene = _scene(tuple(float(each) for each in densities), ppi, seed=seed, grain=0.003)
    return _write(path, draw_scan(scene), ppi)


def draw_strip(path: Path, look: Look, exposures, ppi: float, seed: int) -> Path:
    """Film exposed through the tablet, with unexposed film at both ends."""
    scene = _scene(
        tuple(float(each) for each in look.curve(np.asarray(exposures))),
        ppi,
        margins=(1.6, 1.6),
        margin_density=look.emulsion.base_fog,
        angle_deg=STRIP_ANGLE_DEG,
        grain=0.012,
        specks=2,
        seed=seed,
    )
    return _write(path, draw_scan(scene), ppi)


def draw_frame(path: Path, look: Look, *, seed: int, stops: float, angle_deg: float, mirrored: bool) -> Path:
    """A frame of the target, laid on the glass a little askew."""
    shot = Shot(look.exposure_of_card(stops), flare=0.006, falloff=0.03)
    scan = ScanLook(FRAME_PPI, angle_deg=angle_deg, is_mirrored=mirrored, dirt=Dirt(specks=3, hairs=1))
    return _write(path, draw_scene(look.film, scan, seed, shot=shot), FRAME_PPI)


def draw_close(path: Path, look: Look, region: str, *, seed: int, stops: float, again: bool = False) -> Path:
    """Three millimetres of the film from one region of the frame, closely scanned.

    ``again`` is a second scan of the very same place: its grain is the same and the scanner's noise another.
    """
    shot, scan = Shot(look.exposure_of_card(stops)), ScanLook(CLOSE_PPI, noise=0.0)
    picture = draw_crop(look.film, scan, seed, region, shot=shot)
    return _write(path, _with_noise(picture, 2 * seed + again), CLOSE_PPI)


def draw_razor(path: Path, *, seed: int) -> Path:
    """A razor blade's edge on clear film: as sharp as the scanner can show anything."""
    light = gaussian_edge((472, 472), ScanLook().blur_px, 5.0, levels=(0.02, 0.8))
    return _write(path, _with_noise(Picture(_levels(DARK + CLEAR * light)), seed), CLOSE_PPI)


def _with_noise(picture: Picture, seed: int) -> Picture:
    level = picture.samples.astype(float)
    noise = np.random.default_rng(seed).standard_normal(level.shape)
    return Picture(_levels(level + noise * np.sqrt(64.0 + level / 8)))


def _levels(level) -> np.ndarray:
    return np.clip(np.rint(level), 0, 65535).astype(np.uint16)


@contextmanager
def drawn_beside() -> Iterator[ProcessPoolExecutor]:
    """Processes that draw while this one goes on with something else."""
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        yield pool


def _scene(densities, ppi: float, **how) -> Scene:
    pitch = PITCH_PX[ppi]
    width = round(pitch * (len(densities) + 6))
    centre = (width / 2, HEIGHT_PX / 2)
    return Scene(
        densities, pitch_px=pitch, width=width, height=HEIGHT_PX, height_px=220.0, centre=centre, **how
    )


def _write(path: Path, picture: Picture, ppi: float) -> Path:
    return write_tiff(picture, path, ppi, **MODEL)
