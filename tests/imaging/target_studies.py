"""Studies of finding patch targets: fresh scenes, whole or spoilt, and what came of them."""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from scans.imaging.homography import carried
from scans.imaging.locate_target import locate_target
from scans.imaging.measures import Refusal
from scans.imaging.picture import Picture
from scans.imaging.synthetic_dirt import Dirt
from scans.imaging.synthetic_scene import FilmLook, ScanLook, Shot, draw_scene, scene_homography
from scans.imaging.target_layout import HOUSE_TARGET, PatchPlace
from tests.imaging.responses import RESPONSES

CURVES = (None, *(RESPONSES[name] for name in ("gamma", "sRGB", "S-curve")))


def negative_curve(base=0.2, gamma=0.6, toe=-1.2, shoulder=1.8, softness=0.3):
    """Softplus toe and shoulder."""

    def curve(log_exposure):
        toe_part = softness * np.log1p(np.exp((log_exposure - toe) / softness))
        shoulder_part = softness * np.log1p(np.exp((log_exposure - shoulder) / softness))
        return base + gamma * (toe_part - shoulder_part)

    return curve


def print_curve(negative, paper_gamma=2.0, middle=0.9):
    """A print of that negative: its density falls as the scene lightens, from 1.9 to 0.06."""

    def curve(log_exposure):
        return 0.06 + 1.84 / (1 + np.exp(2.2 * paper_gamma * (negative(log_exposure) - middle)))

    return curve


@dataclass(frozen=True)
class Photograph:
    """A scene with its truth."""

    film: FilmLook
    shot: Shot
    scan: ScanLook
    is_negative: bool

    def draw(self, seed, layout=HOUSE_TARGET):
        return draw_scene(self.film, self.scan, seed, shot=self.shot, layout=layout)

    @property
    def matrix(self):
        return scene_homography(self.shot, self.scan)


def random_photograph(rng):
    """A target as members may photograph and scan it: within 5 degrees, filling half of the frame or more."""
    gamma = rng.uniform(0.4, 0.9)
    curve = negative_curve(
        rng.uniform(0.05, 0.35), gamma, -1.2, rng.uniform(1.4, 2.4), rng.uniform(0.15, 0.4)
    )
    is_negative = rng.random() < 0.6
    stops = rng.uniform(-2, 2.5)
    if not is_negative:
        curve = print_curve(
            curve, rng.uniform(1.5, 3.0), float(curve(np.array(0.0))) + rng.uniform(-0.1, 0.1)
        )
        stops = rng.uniform(-0.7, 0.7)
    film = FilmLook(
        curve,
        rms_granularity=rng.uniform(5, 40) if is_negative else rng.uniform(2, 10),
        mtf50_cycles_mm=rng.uniform(15, 60),
        spread=str(rng.choice(["gaussian", "exponential"])),
    )
    size = rng.uniform(0.060, 0.116)
    room = np.maximum(np.array([36.0, 24.0]) / 2 - size * np.array([150, 100]) * 1.06 - 0.3, 0)
    shot = Shot(
        log_exposure=0.5 + 0.301 * stops,
        mm_per_unit=size,
        centre_mm=tuple(np.array([18.0, 12.0]) + rng.uniform(-1, 1, 2) * room),
        angle_deg=rng.uniform(-1, 1) * np.clip(room.min() / 1.2, 0.3, 3.5),
        keystone=tuple(rng.uniform(-0.08, 0.08, 2) * min(1, room.min() + 0.3)),
        light=tuple(rng.uniform(-0.15, 0.15, 2)),
        falloff=rng.uniform(0, 0.3),
        flare=rng.uniform(0.001, 0.02),
    )
    margin = float(rng.choice([0.0, rng.uniform(0.2, 2.0)]))
    scan = ScanLook(
        ppi=float(rng.choice([600, 800, 1200])),
        blur_px=rng.uniform(0.4, 0.8),
        noise=rng.uniform(0.5, 4),
        response=CURVES[rng.integers(len(CURVES))],
        angle_deg=rng.uniform(-1.5, 1.5),
        is_mirrored=bool(rng.random() < 0.4),
        is_upside_down=bool(rng.random() < 0.4),
        margin_mm=margin,
        dirt=Dirt(
            specks=int(rng.integers(0, 150)),
            hairs=int(rng.integers(0, 5)),
            scratches=int(rng.integers(0, 4)),
            border_px=tuple(rng.uniform(0, 0.8 * margin, 4) / 0.0423) if margin else (0.0,) * 4,
        ),
    )
    return Photograph(film, shot, scan, is_negative)


@dataclass(frozen=True)
class Finding:
    """One scene: "right", "wrong" or the refusal's code; the patches' errors as parts of a patch."""

    outcome: str
    errors: np.ndarray | None = None


def find(index, seed):
    """Draw and look for one target that is whole and alone."""
    photograph = random_photograph(np.random.default_rng([seed, index]))
    return judged(photograph, locate_target(photograph.draw(seed + index)))


def judged(photograph, found):
    """Whether every patch lies where it truly does, and the side, the turn and the polarity are told."""
    if isinstance(found, Refusal):
        return Finding(found.code)
    errors = []
    for patch, area in zip(HOUSE_TARGET.patches, found.areas, strict=True):
        (back,) = carried(np.linalg.inv(photograph.matrix), [area.centre])
        errors.append(np.max(np.abs(back - patch.centre) / (patch.w, patch.h)))
    told = (found.is_negative, found.is_mirrored) == (photograph.is_negative, photograph.scan.is_mirrored)
    right = told and max(errors) < 0.25
    return Finding("right" if right else "wrong", np.array(errors))


def _without_marks(rng, photograph, seed):
    bare = replace(HOUSE_TARGET, mark_density=HOUSE_TARGET.ground_density)
    return photograph.draw(seed, bare)


def _covered_mark(rng, photograph, seed):
    """A lid over one mark; a dark one over the solid mark would be one."""
    mark = HOUSE_TARGET.fiducials[rng.integers(4)]
    tone = rng.choice([0.1, 0.6] if mark.modules.all() else [0.1, 0.6, 1.6])
    lid = PatchPlace("lid", mark.x - 2, mark.y - 2, mark.side + 4, mark.side + 4, float(tone))
    return photograph.draw(seed, replace(HOUSE_TARGET, patches=(*HOUSE_TARGET.patches, lid)))


def _marks_exchanged(rng, photograph, seed):
    """Another target: the same marks, of which two stand in one another's place."""
    marks = list(HOUSE_TARGET.fiducials)
    one, other = rng.choice(4, 2, replace=False)
    marks[one], marks[other] = (
        replace(marks[one], pattern=marks[other].pattern),
        replace(marks[other], pattern=marks[one].pattern),
    )
    return photograph.draw(seed, replace(HOUSE_TARGET, fiducials=tuple(marks)))


def _patches_exchanged(rng, photograph, seed):
    """Another target: the same marks, its tones in another order."""
    patches = HOUSE_TARGET.patches
    tones = rng.permutation([patch.reflectance_density for patch in patches[:14]])
    others = [replace(patch, reflectance_density=tone) for patch, tone in zip(patches, tones, strict=False)]
    return photograph.draw(seed, replace(HOUSE_TARGET, patches=(*others, *patches[14:])))


def _clouds(rng, photograph, seed):
    """No target at all: noise of many sizes, and squares with and without holes."""
    view = ndimage.gaussian_filter(rng.standard_normal((700, 1000)), 40) * 60
    view += ndimage.gaussian_filter(rng.standard_normal((700, 1000)), 6) * 4
    for _ in range(int(rng.integers(5, 60))):
        side = int(rng.integers(20, 70))
        x, y = rng.integers(0, 1000 - side), rng.integers(0, 700 - side)
        view[y : y + side, x : x + side] = rng.choice([-2, 2])
        if rng.random() < 0.5:
            hole = side // int(rng.integers(3, 6))
            view[y + hole : y + side - hole, x + hole : x + side - hole] = 0
    level = 20000 * np.exp(0.5 * np.clip(view, -3, 2))
    return Picture(np.clip(level, 0, 65535).astype(np.uint16))


def _cut_off(rng, photograph, seed):
    """A side of the picture cut off, with at least a third of a mark or a patch."""
    picture = photograph.draw(seed)
    samples = picture.samples
    corners = carried(photograph.matrix, [p for mark in HOUSE_TARGET.fiducials for p in _corners_of(mark)])
    low, high = corners.min(axis=0), corners.max(axis=0)
    share = rng.uniform(0.03, 0.45)
    x0, y0, x1, y1 = (int(v) for v in (*(low + share * (high - low)), *(high - share * (high - low))))
    kept = (samples[:, x0:], samples[:, :x1], samples[y0:], samples[:y1])[rng.integers(4)]
    return Picture(np.ascontiguousarray(kept))


def _corners_of(mark):
    return [(mark.x, mark.y), (mark.x + mark.side, mark.y + mark.side)]


def _two(rng, photograph, seed):
    """Two frames in one scan, side by side or above one another."""
    one = photograph.draw(seed).samples
    other = photograph.draw(seed + 1).samples if rng.random() < 0.5 else one[::-1, ::-1]
    return Picture(np.concatenate([one, other], axis=int(rng.integers(2))))


SPOILT = {
    "no marks": _without_marks,
    "mark covered": _covered_mark,
    "marks exchanged": _marks_exchanged,
    "patches exchanged": _patches_exchanged,
    "no target": _clouds,
    "cut off": _cut_off,
    "two targets": _two,
}


def refusals(count, seed):
    """Outcomes by kind of fault."""
    outcomes = {kind: Counter() for kind in SPOILT}
    kinds = list(SPOILT)
    for index in range(count):
        rng = np.random.default_rng([seed, index])
        kind = kinds[index % len(kinds)]
        found = locate_target(SPOILT[kind](rng, random_photograph(rng), seed + index))
        outcomes[kind][found.code if isinstance(found, Refusal) else "accepted"] += 1
    return outcomes
