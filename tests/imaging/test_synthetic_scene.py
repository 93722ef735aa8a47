"""A drawn scene has the densities, the grain and the sharpness that it was told, where it was told."""

from dataclasses import replace

import numpy as np
import pytest

from scans.imaging.density import read_areas
from scans.imaging.grain import measure_patch
from scans.imaging.hand_placed import place_areas
from scans.imaging.homography import carried
from scans.imaging.locate_target import located_at
from scans.imaging.measures import ImagingError
from scans.imaging.register import region_box
from scans.imaging.scanner_limits import ScannerLimits
from scans.imaging.sharpness import measure_edge
from scans.imaging.synthetic_scene import (
    CLEAR,
    DARK,
    SCENE_REGIONS,
    FilmLook,
    ScanLook,
    Shot,
    draw_crop,
    draw_scene,
    scene_homography,
)
from scans.imaging.target_layout import HOUSE_TARGET
from tests.imaging.target_studies import negative_curve

CURVE = negative_curve()
PLAIN = FilmLook(CURVE, rms_granularity=0.0)
FLARELESS = Shot(flare=0.0)


def transmittance(samples, flare=0.001):
    """The drawing's own terms undone."""
    return (np.asarray(samples, float) - DARK) / CLEAR * (1 + flare) - flare


def as_seen(reflectance_density, shot):
    """Log exposure of a tone in the middle of the frame."""
    light = (10.0 ** -np.asarray(reflectance_density) + shot.flare) / (1 + shot.flare)
    return shot.log_exposure + np.log10(light)


@pytest.mark.parametrize("stops", [-2, 0, 2])
def test_every_known_patch_has_the_films_density(stops):
    shot = Shot(log_exposure=0.6 + 0.301 * stops, angle_deg=2.0, keystone=(0.03, 0.02))
    scan = ScanLook(angle_deg=-1.0)
    picture = draw_scene(PLAIN, scan, 1, shot=shot)
    areas = place_areas(HOUSE_TARGET, carried(scene_homography(shot, scan), HOUSE_TARGET.corners))
    for patch, reading in zip(HOUSE_TARGET.patches, read_areas(picture, areas), strict=True):
        tone = patch.reflectance_density
        tone = PLAIN.colours[patch.label] if tone is None else tone
        expected = float(CURVE(as_seen(tone, shot)))
        # Noise: at 1.6 D 1400 levels have a noise of 15, over a thousand pixels and more.
        assert -np.log10(transmittance(reading.level)) == pytest.approx(expected, abs=0.003), patch.label


def test_light_falls_off_as_told():
    shot = Shot(light=(0.2, 0.0), falloff=0.3, flare=0.0)
    film = replace(PLAIN, curve=lambda x: 1.0 - x)
    picture = draw_scene(film, ScanLook(ppi=600), 1, shot=shot)
    matrix = scene_homography(shot, ScanLook(ppi=600))
    for x in (8.0, 292.0):  # the sheet's own tone at its left and right rim
        (column, row), (centre_x, centre_y) = carried(matrix, [(x, 101.0), (150.0, 100.0)])
        window = picture.samples[int(row) - 3 : int(row) + 4, int(column) - 6 : int(column) + 7]
        mm_x, mm_y = (np.array([column, row]) - (centre_x, centre_y)) * 25.4 / 600
        light = (1 + 0.2 * mm_x / 36) * (1 - 0.3 * (mm_x**2 + mm_y**2) / (18**2 + 12**2))
        expected = 10.0 ** (0.6 - 0.08) * light / 10
        assert transmittance(window).mean() == pytest.approx(expected, rel=0.005)


def test_grain_is_as_told_and_grows_with_the_root_of_density():
    scan = ScanLook(ppi=4000, blur_px=0.6)
    blur_um = 0.6 * 6.35
    for region, shift in (("even tone", 0.0), ("even tone", 0.8), ("grey card", -0.3)):
        shot = Shot(log_exposure=0.6 + shift)
        film = FilmLook(CURVE, rms_granularity=12.0)
        light = transmittance(draw_crop(film, scan, 11, region, shot=shot).samples)
        mean = float(light.mean())
        noise = np.sqrt(64 + (DARK + CLEAR * mean) / 8) / CLEAR
        limits = ScannerLimits.gaussian(blur_um, noise, mean)
        found = measure_patch(light, (4000, 4000), limits)
        # Three millimetres at 4000 pixels an inch are read to 1 % in the root mean square; three of those.
        assert found.rms_granularity.value == pytest.approx(12 * np.sqrt(-np.log10(mean)), rel=0.035)


@pytest.mark.parametrize("spread", ["gaussian", "exponential"])
@pytest.mark.parametrize("mtf50", [25.0, 45.0])
def test_the_edge_has_the_transfer_of_film_and_scanner(spread, mtf50):
    """A film whose transmittance is in proportion to exposure hands the spread on unchanged."""
    film = FilmLook(lambda x: 0.6 - x, 0.0, mtf50_cycles_mm=mtf50, spread=spread)
    scan = ScanLook(ppi=4000, blur_px=0.5, noise=0.2, flare=0.0)
    picture = draw_crop(film, scan, 3, "edge", shot=FLARELESS)
    found = measure_edge(transmittance(picture.samples, 0.0), (4000, 4000))
    scanner = np.exp(-2 * (np.pi * 0.5 * 6.35 * found.frequency / 1000) ** 2)
    expected = film.transfer(found.frequency) * scanner
    seen = found.frequency < 60
    # Drawn with four samples a pixel and measured with four bins: 0.02; the exponential's tails reach beyond
    # the window that the edge is read over.
    tolerance = 0.02 if spread == "gaussian" else 0.03
    np.testing.assert_allclose(found.mtf[seen], expected[seen], atol=tolerance)
    assert 3 < abs(found.angle_degrees) < 15


def test_regions_show_what_they_are_named_for():
    picture = draw_scene(PLAIN, ScanLook(), 2)
    located = located_at(scene_homography(Shot(), ScanLook()), is_negative=True)
    tones, spreads = {}, {}
    for name in SCENE_REGIONS:
        x, y, width, height = (round(v) for v in region_box(located, name))
        inner = picture.samples[y + 20 : y + height - 20, x + 20 : x + width - 20]
        density = -np.log10(transmittance(inner))
        tones[name], spreads[name] = density.mean(), density.std()
    assert set(SCENE_REGIONS) == {
        "shadow detail",
        "highlight",
        "fine texture",
        "even tone",
        "edge",
        "grey card",
    }
    # On a negative: shadows thin, highlights dense.
    assert tones["shadow detail"] < tones["grey card"] < tones["even tone"] < tones["highlight"]
    assert max(spreads["even tone"], spreads["grey card"]) < 0.005
    assert min(spreads["shadow detail"], spreads["highlight"]) > 0.02
    assert spreads["fine texture"] > 0.08


def test_finer_scans_keep_more_of_the_fine_texture():
    spreads = [
        np.std(np.log10(transmittance(draw_crop(PLAIN, ScanLook(ppi=ppi), 2, "fine texture").samples)))
        for ppi in (600, 1200, 4000)
    ]
    assert spreads[0] < 0.9 * spreads[1] < spreads[2]


def test_a_window_is_part_of_the_whole():
    scan = ScanLook(ppi=700, noise=0.0, angle_deg=2.0)
    whole = draw_scene(PLAIN, scan, 1).samples
    part = draw_scene(PLAIN, scan, 1, window_px=(300, 200, 400, 250)).samples
    # The part is sampled four times a pixel, the whole twice: they differ at hard edges alone.
    difference = np.abs(part.astype(int) - whole[200:450, 300:700])
    assert np.median(difference) < 20
    assert np.percentile(difference / part, 90) < 0.05


def test_the_same_seed_gives_the_same_scene_and_another_another():
    film, scan = FilmLook(CURVE), ScanLook(ppi=400)
    one, same, other = (draw_scene(film, scan, seed).samples for seed in (1, 1, 2))
    np.testing.assert_array_equal(one, same)
    assert np.mean(one != other) > 0.9


def test_beyond_the_frame_the_film_had_no_exposure():
    scan = ScanLook(ppi=500, margin_mm=1.0)
    picture = draw_scene(PLAIN, scan, 1)
    assert (picture.width, picture.height) == (748, 512)
    rim = transmittance(picture.samples[:10, :])
    assert -np.log10(rim.mean()) == pytest.approx(0.2, abs=0.005)
    assert picture.resolution_ppi == (500.0, 500.0)


def test_what_cannot_be_drawn_is_a_mistake():
    scan = ScanLook(ppi=200)
    for film, code in (
        (replace(PLAIN, spread="square"), "UNKNOWN_SPREAD"),
        (replace(PLAIN, curve=lambda x: x * np.nan), "BAD_CURVE"),
        (replace(PLAIN, curve=lambda x: 1.0), "BAD_CURVE"),
    ):
        with pytest.raises(ImagingError) as refused:
            draw_scene(film, scan, 1)
        assert refused.value.code == code
    with pytest.raises(ImagingError, match="no region"):
        draw_crop(PLAIN, scan, 1, "sky")
