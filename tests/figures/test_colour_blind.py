"""Curves are told apart without colour: in simulated deuteranopia, and in grey on paper."""

from itertools import combinations

import numpy as np
import pytest

from curves.figures.styles import DASHES, HUES, LIT_LIMIT, MARKERS, line_style

# G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, IEEE Transactions on Visualization and Computer
# Graphics 15, 1291 (2009), severity 1.0: on linear sRGB (from memory; rows sum to 1, as greys stay).
DEUTERANOPIA = np.array(
    [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ]
)
PROTANOPIA = np.array(
    [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ]
)
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # WCAG 2.2, relative luminance
# sRGB to CIE XYZ, IEC 61966-2-1.
XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]],
)
WHITE = XYZ.sum(axis=1)
JUST_TOLD = 10.0  # CIELAB distance that lines on a page are told apart by; house choice


def linear(hue: str) -> np.ndarray:
    value = np.array([int(hue[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(colour: np.ndarray) -> np.ndarray:
    share = np.clip(XYZ @ np.clip(colour, 0, 1), 0, None) / WHITE
    root = np.where(share > (6 / 29) ** 3, np.cbrt(share), share / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def test_the_simulation_leaves_greys_alone():
    for matrix in (DEUTERANOPIA, PROTANOPIA):
        assert np.allclose(matrix.sum(axis=1), 1.0, atol=1e-5)


@pytest.mark.parametrize("matrix", [DEUTERANOPIA, PROTANOPIA], ids=["deuteranopia", "protanopia"])
def test_every_two_lit_curves_differ_in_simulated_colour_or_in_their_dash(matrix):
    """And where colours are close, dash and marker both differ."""
    for first, second in combinations([line_style(place) for place in range(LIT_LIMIT)], 2):
        ours, theirs = (lab(matrix @ linear(style.hue)) for style in (first, second))
        apart = float(np.linalg.norm(ours - theirs))
        is_dash_apart = first.dash != second.dash and first.marker != second.marker
        assert apart >= JUST_TOLD or is_dash_apart, (first, second, apart)


def test_the_four_hues_are_apart_even_when_simulated():
    for first, second in combinations(HUES, 2):
        apart = np.linalg.norm(lab(DEUTERANOPIA @ linear(first)) - lab(DEUTERANOPIA @ linear(second)))
        assert apart >= JUST_TOLD, (first, second)


def test_in_grey_on_paper_every_lit_curve_stands_out_and_no_two_share_dash_and_marker():
    styles = [line_style(place) for place in range(LIT_LIMIT)]
    for style in styles:
        luminance = float(LUMINANCE @ linear(style.hue))
        # WCAG 2.2, 1.4.11: at least 3 to 1 for what is not text; 0.05 as rounded for the lightest hue.
        assert 1.05 / (luminance + 0.05) >= 2.95, style
    for first, second in combinations(styles, 2):
        assert first.dash != second.dash and first.marker != second.marker, (first, second)


def test_styles_repeat_only_after_fifty_six_stocks():
    looks = [(style.hue, style.dash, style.marker) for style in (line_style(place) for place in range(56))]
    assert len(set(looks)) == 56
    assert len(set(DASHES)) == len(DASHES) and len(set(MARKERS)) == len(MARKERS)
