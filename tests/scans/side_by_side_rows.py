"""Frames of the target on invented films, drawn once a run, with the rows of scans that show them."""

from functools import cache

import numpy as np

from scans.imaging.hand_placed import place_areas
from scans.imaging.homography import carried
from scans.imaging.synthetic_scene import FilmLook, ScanLook, Shot, draw_scene, scene_homography
from scans.imaging.target_layout import HOUSE_TARGET
from scans.models import Scan, Shows
from tests.scans.viewing_rows import cut_here, make_scan

PPI = 600.0
SHOTS = {
    "straight": (ScanLook(ppi=PPI), Shot(), 1),
    "turned": (ScanLook(ppi=PPI, angle_deg=2.0, margin_mm=1.0), Shot(mm_per_unit=0.1), 2),
    "mirrored": (ScanLook(ppi=PPI, is_mirrored=True, angle_deg=-1.5), Shot(), 3),
    "fine": (ScanLook(ppi=2 * PPI), Shot(), 4),
}


def curve(log_exposure):
    """A negative's curve: base 0.25 D, a straight part of contrast 0.6."""
    return 0.25 + 0.6 * np.clip(np.asarray(log_exposure, float) + 1.6, 0, 3)


@cache
def frame_samples(name):
    """Pixels of a frame."""
    scan, shot, seed = SHOTS[name]
    film = FilmLook(curve, rms_granularity=8.0)
    return draw_scene(film, scan, seed, shot=shot).samples


def make_frame(member, name, **fields) -> Scan:
    """A frame with its tiles, and the target placed where it is known to be."""
    scan_look, shot, _ = SHOTS[name]
    scan = make_scan(member, frame_samples(name), shows=fields.pop("shows", Shows.FRAME), **fields)
    scan.file.resolution_x_ppi = scan.file.resolution_y_ppi = scan_look.ppi
    scan.file.save()
    outline = carried(scene_homography(shot, scan_look, HOUSE_TARGET), HOUSE_TARGET.corners)
    scan.placements.create(
        number=1,
        origin="found",
        layout="target",
        outline=outline.round(3).tolist(),
        areas=[
            {"label": area.label, "corners": np.round(area.corners, 2).tolist()}
            for area in place_areas(HOUSE_TARGET, outline)
        ],
    )
    cut_here(scan)
    return scan
