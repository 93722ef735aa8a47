"""Studies of finding tablets: fresh scenes, the tablet told rightly or wrongly, and what came of it."""

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from scans.imaging.locate import locate_tablet
from scans.imaging.measures import Refusal
from scans.imaging.synthetic_tablets import KINDS, draw_scan, random_scene, shifted
from tests.imaging.responses import RESPONSES

COUNTS = tuple(KINDS)
CURVES = (None, *(RESPONSES[name] for name in ("gamma", "sRGB", "S-curve")))


@dataclass(frozen=True)
class Finding:
    """One scan: "right", "wrong", or the code of the refusal; and the largest error in steps."""

    outcome: str
    along: float = float("nan")
    across: float = float("nan")


def find(index, seed):
    """Draw and look for one tablet that is told rightly."""
    rng = np.random.default_rng([seed, index])
    steps = COUNTS[index % len(COUNTS)]
    scene = random_scene(rng, steps)
    found = locate_tablet(draw_scan(scene, CURVES[index % len(CURVES)]), steps)
    if isinstance(found, Refusal):
        return Finding(found.code)
    error = np.abs(np.array([area.centre for area in found.areas]) - scene.step_centres).max(axis=0)
    if scene.is_upright:
        error = error[::-1]
    along, across = error[0] / scene.pitch_px, error[1] / scene.height_px
    return Finding("right" if max(along, across) < 0.25 else "wrong", float(along), float(across))


def spoil(scene, steps, kind, rng):
    """What should be refused: the scene, and the number of steps that is told."""
    if kind == "one too many":
        return scene, steps + 1
    if kind == "one too few":
        return scene, steps - 1
    if kind == "other number":
        return scene, steps + int(rng.choice([-2, 2, 3]))
    if kind == "out of the picture":
        room = (scene.width - scene.pitch_px * steps) / 2
        centred = replace(scene, centre=(scene.width / 2, scene.centre[1]))
        out = room + rng.uniform(1.2, 4.0) * scene.pitch_px
        return shifted(centred, out * rng.choice([-1, 1])), steps
    if kind == "cut film":
        gone = int(rng.integers(1, 4))
        kept = scene.densities[gone:] if rng.random() < 0.5 else scene.densities[:-gone]
        return replace(scene, densities=kept), steps
    start, length = rng.uniform(0, steps - 3), rng.uniform(1.5, steps / 2)
    top = rng.choice([-0.2, rng.uniform(0.1, 0.5)])
    second = (start, top, start + length, 1.2, rng.uniform(-0.6, 0.6), rng.uniform(0.1, 0.6))
    return replace(scene, overlay=second), steps


SPOILT = ("one too many", "one too few", "other number", "out of the picture", "cut film", "two films")


def refusals(count, seed):
    """Outcomes by kind of fault."""
    outcomes = {kind: Counter() for kind in SPOILT}
    for index in range(count):
        rng = np.random.default_rng([seed, index])
        steps = COUNTS[(index // len(SPOILT)) % len(COUNTS)]
        kind = SPOILT[index % len(SPOILT)]
        scene, told = spoil(random_scene(rng, steps), steps, kind, rng)
        found = locate_tablet(draw_scan(scene, CURVES[index % len(CURVES)]), told)
        outcomes[kind][found.code if isinstance(found, Refusal) else "accepted"] += 1
    return outcomes
