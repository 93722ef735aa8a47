"""Scans of step tablets whose truth is known: for the demo lab, for tests and for accuracy studies.

A scene is drawn pixel by pixel from density: each pixel is traced back through rotation, perspective and
curl to a place on the tablet. Edges are as soft as one pixel. Dust, hair, scratches, labels, uneven light
and the scanner's noise follow, then the scanner's response.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from scans.imaging.measures import ImagingError
from scans.imaging.picture import Picture
from scans.imaging.synthetic_dirt import OPAQUE, Dirt, add_dirt

KINDS = {11: 0.30, 21: 0.15, 31: 0.10}
"""Number of steps of a kind of tablet to its increment [density]."""
FIRST = 0.05
MASK = {"clear": 0.0, "grey": 0.7, "dark": OPAQUE}
DIGITS = ("75557", "26227", "71747", "71717", "55711", "74717", "74757", "71111", "75757", "75717")
"""Digits as five rows of three dots, a row an octal number."""


@dataclass(frozen=True)
class Scene:
    """What is to be drawn.

    Parameters
    ----------
    densities : tuple of float, lightest to densest unless reversed [density]
    width, height : int
        Of the picture [pixels].
    pitch_px, height_px : float
        Of one step along and across the tablet [pixels].
    centre : tuple of float (x, y) [pixels]
    angle_deg : float
        Rotation of the tablet, clockwise on the screen [degrees].
    taper, stretch : float
        Perspective: how much narrower across, and how much longer each step, from the first to the last,
        as fractions [ratio].
    bow : float
        Curl: how far the middle lies below the ends, as a fraction of the length [ratio].
    surround : str
        A key of `MASK`.
    margins : tuple of float (before, after) [steps]
        Film without steps at either end.
    margin_density : float
        [density]
    is_reversed, is_upside_down, is_upright : bool
        Densest first; mirrored top to bottom; running down the picture instead of across.
    labels : str
        "none", "inside" or "outside".
    specks, hairs, scratches : int
        How many.
    border_px : tuple of float (left, top, right, bottom) [pixels]
        Dark edges of the holder.
    light : tuple of float (x, y) [ratio]
        Fall of light across the picture.
    grain : float
        Standard deviation of one pixel [density].
    overlay : tuple of float (u0, v0, u1, v1, tilt, density), or None
        A second film over part of the tablet, in steps and heights; its sides lean by ``tilt``.
    seed : int
    """

    densities: tuple[float, ...]
    width: int = 1400
    height: int = 700
    pitch_px: float = 50.0
    height_px: float = 260.0
    centre: tuple[float, float] = (700.0, 350.0)
    angle_deg: float = 0.0
    taper: float = 0.0
    stretch: float = 0.0
    bow: float = 0.0
    surround: str = "clear"
    margins: tuple[float, float] = (0.0, 0.0)
    margin_density: float = 0.03
    is_reversed: bool = False
    is_upside_down: bool = False
    is_upright: bool = False
    labels: str = "none"
    specks: int = 0
    hairs: int = 0
    scratches: int = 0
    border_px: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    light: tuple[float, float] = (0.0, 0.0)
    grain: float = 0.01
    overlay: tuple[float, float, float, float, float, float] | None = None
    seed: int = 1

    def place(self, along, across):
        """Where a place on the tablet lies in the picture.

        Parameters
        ----------
        along : array_like, shape (n,) [steps]
            0 at the start of the first step drawn, counted along the tablet.
        across : array_like, shape (n,) [ratio]
            0 at one long edge, 1 at the other.

        Returns
        -------
        x, y : ndarray, shape (n,) [pixels]
        """
        count = len(self.densities)
        middle = (np.asarray(along, float) - count / 2) / count
        length = self.pitch_px * count
        u = length * (middle + self.stretch * (middle**2 - 0.25) / 2)
        v = self.height_px * (np.asarray(across, float) - 0.5) * (1 - self.taper * middle)
        v = v + self.bow * length * (0.25 - middle**2) * 4
        turn = np.deg2rad(self.angle_deg)
        x = self.centre[0] + u * np.cos(turn) - v * np.sin(turn)
        y = self.centre[1] + u * np.sin(turn) + v * np.cos(turn)
        return (y, x) if self.is_upright else (x, y)

    @property
    def step_centres(self) -> np.ndarray:
        """Centres of the steps from the lightest to the densest, shape (n, 2) [pixels]."""
        along = np.arange(len(self.densities)) + 0.5
        x, y = self.place(along[::-1] if self.is_reversed else along, np.full(along.size, 0.5))
        return np.column_stack([x, y])


def draw_scan(scene: Scene, response=None, *, flare: float = 0.001, dark: float = 300.0) -> Picture:
    """Draw a scan.

    Parameters
    ----------
    scene : Scene
    response : callable, optional
        Light (1 = clear) to a share of full scale; linear when not given.
    flare : float
        Stray light as a fraction of clear light [ratio].
    dark : float
        Level without light [level].

    Returns
    -------
    Picture
        16 bits, grey, 2400 pixels per inch.
    """
    if scene.surround not in MASK:
        raise ImagingError("UNKNOWN_SURROUND", "The surround is clear, grey or dark.")
    rng = np.random.default_rng(scene.seed)
    shape = (scene.width, scene.height) if scene.is_upright else (scene.height, scene.width)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    if scene.is_upright:
        x, y = y, x
    along, across = _trace_back(scene, x, y)
    density = _tablet(scene, along, across)
    dirt = Dirt(scene.specks, scene.hairs, scene.scratches, scene.border_px)
    add_dirt(density, dirt, rng)
    grain = rng.standard_normal(density.shape, dtype=np.float32)
    density += scene.grain * np.sqrt(np.clip(density, 0.0, 1.5)) * ndimage.uniform_filter(grain, 2) * 2
    falling = 1 - scene.light[0] * (x / scene.width - 0.5) - scene.light[1] * (y / scene.height - 0.5)
    light = (10.0**-density * falling + flare) / (1 + flare)
    level = dark + 57000.0 * (light if response is None else response(light))
    level += rng.standard_normal(level.shape, dtype=np.float32) * np.sqrt(64.0 + level / 8)
    samples = np.clip(np.rint(level), 0, 65535).astype(np.uint16)
    return Picture(samples, resolution_ppi=(2400.0, 2400.0))


def _trace_back(scene: Scene, x, y):
    """Place on the tablet (steps along, heights across) of each pixel."""
    count = len(scene.densities)
    length = scene.pitch_px * count
    turn = np.deg2rad(scene.angle_deg)
    dx, dy = x - scene.centre[0], y - scene.centre[1]
    u, v = dx * np.cos(turn) + dy * np.sin(turn), -dx * np.sin(turn) + dy * np.cos(turn)
    middle = u / length
    for _ in range(2):  # the inverse of a slight stretch, by substitution
        middle = u / length - scene.stretch * (middle**2 - 0.25) / 2
    v = v - scene.bow * length * (0.25 - np.minimum(middle**2, 1.0)) * 4
    across = v / (scene.height_px * (1 - scene.taper * middle)) + 0.5
    return (middle * count + count / 2).astype(np.float32), across.astype(np.float32)


def _inside(value, low, high, soft):
    """1 between two edges, 0 outside, over ``soft`` in between."""
    return np.clip((value - low) / soft + 0.5, 0, 1) * np.clip((high - value) / soft + 0.5, 0, 1)


def _tablet(scene: Scene, along, across):
    count = len(scene.densities)
    order = scene.densities[::-1] if scene.is_reversed else scene.densities
    padded = np.array([scene.margin_density, *order, scene.margin_density], np.float32)
    soft = 1.0 / scene.pitch_px
    nearest = np.rint(along)
    share = np.clip((along - nearest) / soft + 0.5, 0, 1)
    before = np.clip(nearest, 0, count + 1).astype(np.int16)
    after = np.clip(nearest + 1, 0, count + 1).astype(np.int16)
    # Light, not density, mixes across an edge.
    steps = -np.log10((1 - share) * 10.0 ** -padded[before] + share * 10.0 ** -padded[after])
    if scene.labels == "inside":
        steps = _label(scene, steps, along, across, 0.03, 0.11)
    film = _inside(along, -scene.margins[0], count + scene.margins[1], soft)
    film = film * _inside(across, 0.0, 1.0, 1.0 / scene.height_px)
    surround = MASK[scene.surround]
    density = -np.log10(film * 10.0**-steps + (1 - film) * 10.0**-surround)
    if scene.labels == "outside":
        density = _label(scene, density, along, across, -0.12, -0.04)
    if scene.overlay is not None:
        u0, v0, u1, v1, tilt, added = scene.overlay
        lean = tilt * (across - 0.5)
        density = density + added * _inside(along - lean, u0, u1, soft) * _inside(across, v0, v1, 0.01)
    return density


def _label(scene: Scene, density, along, across, top, bottom):
    """The step's number as dots, light where the ground is dense and dark where it is light."""
    flipped = 1 - across if scene.is_upside_down else across
    number = np.clip(along, 0, len(scene.densities) - 1).astype(int) + 1
    dot = (flipped - top) / (bottom - top) * 5
    row = np.clip(dot, 0, 4).astype(int)
    within = (dot >= 0) & (dot < 5) & (along >= 0) & (along < len(scene.densities))
    rows = np.array([[int(dots) for dots in pattern] for pattern in DIGITS])
    inked = np.zeros(density.shape, bool)
    for position, digits in ((0.3, number // 10), (0.55, number % 10)):
        column = np.floor((along - np.floor(along) - position) / 0.07).astype(int)
        bit = (rows[digits, row] >> np.clip(2 - column, 0, 2)) & 1
        inked |= within & (column >= 0) & (column < 3) & (bit == 1)
    return np.where(inked, np.where(density > 1.0, 0.1, 2.0), density).astype(np.float32)


def random_scene(rng: np.random.Generator, steps: int) -> Scene:
    """A scene of a tablet as members may lay it on the glass.

    Parameters
    ----------
    rng : numpy.random.Generator
    steps : int
        A key of `KINDS`.

    Returns
    -------
    Scene
        Rotated by up to 5 degrees, with dust, hair, labels, uneven light and borders, slight curl and
        perspective, in a clear, grey or dark surround.
    """
    densities = tuple(FIRST + KINDS[steps] * np.arange(steps))
    margins = tuple(rng.choice([0.0, rng.uniform(0.2, 2.0)], 2))
    room = 1400 * rng.uniform(0.72, 0.88) / (steps + sum(margins))
    has_borders = rng.random() < 0.6
    return Scene(
        densities=densities,
        pitch_px=room,
        height_px=rng.uniform(150, 360),
        centre=(700 + rng.uniform(-30, 30), 350 + rng.uniform(-60, 60)),
        angle_deg=rng.uniform(-5, 5),
        taper=rng.uniform(-0.03, 0.03),
        stretch=rng.uniform(-0.03, 0.03),
        bow=rng.uniform(-0.006, 0.006),
        surround=str(rng.choice(list(MASK))),
        margins=margins,
        margin_density=float(rng.choice([0.03, OPAQUE])),
        is_reversed=bool(rng.random() < 0.5),
        is_upside_down=bool(rng.random() < 0.5),
        is_upright=bool(rng.random() < 0.25),
        labels=str(rng.choice(["none", "inside", "outside"])),
        specks=int(rng.integers(20, 120)),
        hairs=int(rng.integers(0, 4)),
        scratches=int(rng.integers(0, 3)),
        border_px=tuple(rng.uniform(0, 25, 4)) if has_borders else (0.0, 0.0, 0.0, 0.0),
        light=(rng.uniform(-0.08, 0.08), rng.uniform(-0.05, 0.05)),
        grain=rng.uniform(0.005, 0.05),
        seed=int(rng.integers(2**31)),
    )


def shifted(scene: Scene, along_px: float) -> Scene:
    """The same scene with the tablet moved along itself.

    Parameters
    ----------
    scene : Scene
    along_px : float
        [pixels]

    Returns
    -------
    Scene
    """
    turn = np.deg2rad(scene.angle_deg)
    x, y = scene.centre
    return replace(scene, centre=(x + along_px * np.cos(turn), y + along_px * np.sin(turn)))
