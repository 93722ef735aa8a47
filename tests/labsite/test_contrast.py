"""Contrast of every pair of colours that the pages use, computed from tokens.css in each theme.

Formula and limits: Web Content Accessibility Guidelines 2.2, success criteria 1.4.3 (text 4.5:1) and
1.4.11 (edges of controls and parts of graphics 3:1).
"""

import re

import pytest

from tests.architecture.sources import ROOT

TOKENS = (ROOT / "labsite/static/css/tokens.css").read_text(encoding="utf-8")
THEMES = ("light", "dark", "safelight")
TEXT, GRAPHIC = 4.5, 3.0

GROUNDS = ("surround", "paper", "well", "sunk")
TEXT_PAIRS = [
    *((ink, ground) for ink in ("ink", "ink-soft", "accent", "accent-deep", "alarm") for ground in GROUNDS),
    ("ink", "accent-wash"),
    ("ink-soft", "accent-wash"),
    ("accent", "accent-wash"),
    ("ink", "alarm-wash"),
    ("alarm", "alarm-wash"),
    ("on-accent", "accent"),
    ("on-accent", "accent-deep"),
    ("on-alarm", "alarm"),
    ("on-rail", "rail"),
    ("on-rail-soft", "rail"),
    ("well", "ink"),
]
GRAPHIC_PAIRS = [
    *(("line-strong", ground) for ground in GROUNDS),
    *((f"curve-{name}", "well") for name in ("reference", "1", "2", "3", "4", "unlit")),
    ("plot-axis", "well"),
]


def colours(theme):
    """Name -> hex of a theme, out of the file's light-dark() pairs and the safelight theme's own."""
    base = TOKENS.split('[data-theme="safelight"]')[0]
    found = {}
    for name, value in re.findall(r"--([\w-]+):\s*(light-dark\([^)]*\)|#[0-9a-f]{6})\s*;", base):
        pair = re.findall(r"#[0-9a-f]{6}", value)
        found[name] = pair[0] if theme == "light" else pair[-1]
    if theme == "safelight":
        own = TOKENS.split('[data-theme="safelight"]')[1].split("}")[0]
        found |= dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})\s*;", own))
    return found


def channels(colour):
    return [int(colour[at : at + 2], 16) for at in (1, 3, 5)]


def luminance(colour):
    shares = [part / 255 for part in channels(colour)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in shares]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_known_ends():
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    # The guidelines' often quoted lightest grey that still reaches 4.5:1 on white.
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(
    ("pairs", "least"), [(TEXT_PAIRS, TEXT), (GRAPHIC_PAIRS, GRAPHIC)], ids=["text", "graphic"]
)
def test_pairs_reach_their_contrast(theme, pairs, least):
    known = colours(theme)
    short = {
        f"{ink} on {ground}": round(contrast(known[ink], known[ground]), 2)
        for ink, ground in pairs
        if contrast(known[ink], known[ground]) < least
    }
    assert short == {}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_surfaces_and_writing_have_no_colour(theme):
    known = colours(theme)
    neutral = [*GROUNDS, "rail", "ink", "ink-soft", "on-rail", "on-rail-soft", "line", "line-strong"]
    neutral += ["curve-reference", "curve-unlit", "plot-grid", "plot-axis"]
    assert {name: known[name] for name in neutral if len(set(channels(known[name]))) > 1} == {}


def test_safelight_sends_out_red_only_and_leaves_nothing_to_the_other_themes():
    known = colours("safelight")
    assert {name: value for name, value in known.items() if channels(value)[1:] != [0, 0]} == {}
    assert set(colours("dark")) == set(known)
