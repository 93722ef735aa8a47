"""Curves are told apart by hue, dash and marker, alike on page and paper, for any number of stocks."""

import re
from pathlib import Path

import pytest

from curves.figures.styles import DASHES, HUES, LIT_LIMIT, line_style

STATIC = Path(__file__).parents[2] / "labsite" / "static"
GROUNDS = {"light": "#ffffff", "dark": "#1b1b1b"}


def luminance(colour):
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first, second):
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("ground", GROUNDS.values(), ids=GROUNDS)
@pytest.mark.parametrize("hue", HUES)
def test_every_hue_reaches_three_to_one_in_both_themes(hue, ground):
    """3:1 is what WCAG 2.2 (1.4.11) asks of graphics."""
    assert contrast(hue, ground) >= 3.0


def test_a_style_depends_on_the_place_alone():
    assert line_style(3, "stock-9") == line_style(3, "stock-9")
    assert line_style(3).hue == line_style(3, "other").hue
    with pytest.raises(ValueError, match="from 0"):
        line_style(-1)


def test_the_first_curves_differ_in_dash_and_marker_and_neighbours_in_hue():
    styles = [line_style(n) for n in range(LIT_LIMIT)]
    assert len({style.dash for style in styles}) == LIT_LIMIT
    assert len({style.marker for style in styles}) == LIT_LIMIT
    assert len({style.hue for style in styles}) == len(HUES)


def test_fifty_stocks_have_fifty_looks():
    looks = {(style.hue, style.dash, style.marker) for style in map(line_style, range(56))}
    assert len(looks) == 56


def test_the_page_draws_the_same_hues_and_dashes():
    """The page's script and stylesheet state them once more; they must not drift apart."""
    script = (STATIC / "js" / "plot-theme.js").read_text()
    dashes = re.search(r"const DASHES = \[(.*?)\];", script, re.DOTALL).group(1)
    assert tuple(re.findall(r'"([^"]+)"', dashes)) == DASHES
    tokens = (STATIC / "css" / "tokens.css").read_text()
    assert tuple(re.findall(r"--curve-[1-4]: (#[0-9a-f]{6});", tokens)[: len(HUES)]) == HUES
