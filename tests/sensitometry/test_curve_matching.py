"""Curves laid together: what is drawn and what is subtracted are the same thing, with an honest band."""

import numpy as np
import pytest

from curves.sensitometry import SensitometryError, analyse_many, compare_with_reference
from curves.sensitometry.comparing.curve_matching import (
    ALIGNMENTS,
    SHADOW_DENSITY,
    matched_difference,
    place_curve,
)
from curves.sensitometry.readings import Readings
from tests.figures.films import film, hopeless_film
from tests.sensitometry.truths import draw_truth, readings_of


def drawn(analysis, reference, align_by, density):
    placing, reason = place_curve(analysis, reference, align_by=align_by, density=density)
    assert reason is None
    curve = analysis.curve
    return placing.exposures(curve.log_exposure), placing.densities(curve.density)


@pytest.mark.parametrize("density", ["gross", "net"])
@pytest.mark.parametrize("align_by", ALIGNMENTS)
def test_a_difference_is_the_gap_between_the_two_drawn_curves(align_by, density):
    test, reference = film(4), film(0)
    difference = matched_difference(test, reference, align_by=align_by, density=density)
    grid = difference["log_exposure"]
    ours, theirs = (
        np.interp(grid, *drawn(analysis, reference, align_by, density)) for analysis in (test, reference)
    )
    # 2e-4: the base that a figure takes off is stored to five digits, and both are read between samples.
    assert np.allclose(ours - theirs, difference["difference"], atol=2e-4)
    assert np.all(difference["low"] <= difference["difference"] + 1e-5)


def test_each_alignment_lays_together_what_it_says():
    test, reference = film(4), film(0)
    for align_by, distance, net in (
        ("speed_point", 0.0, 0.10),
        ("shadow_density", 0.0, SHADOW_DENSITY),
        ("contrast", 0.0, 0.10),
    ):
        for analysis in (test, reference):
            height = np.interp(distance, *drawn(analysis, reference, align_by, "net"))
            assert height == pytest.approx(net, abs=2e-3), align_by
    matched = [
        np.interp(1.5, *drawn(analysis, reference, "contrast", "net")) for analysis in (test, reference)
    ]
    assert matched[0] == pytest.approx(matched[1], abs=1e-3), "equal rise over 1.50"


def test_the_reference_is_never_stretched():
    placing, _ = place_curve(film(0), film(0), align_by="contrast", density="net")
    assert placing.stretch == 1.0


def test_what_contrast_matching_leaves_is_the_shape_difference():
    comparison = compare_with_reference(film(4), film(0))
    left = matched_difference(film(4), film(0), align_by="contrast", density="net")
    inside = (left["log_exposure"] >= 0.5) & (left["log_exposure"] <= 1.5)
    ratio = comparison.measures["contrast_ratio"].value
    # The measure is in densities of the test film, the figure in those of the reference; 2e-3, as the two
    # means are taken over different grids.
    assert left["difference"][inside].mean() * ratio == pytest.approx(
        comparison.measures["middle_difference"].value, abs=2e-3
    )


@pytest.mark.parametrize(
    ("analysis", "align_by", "density", "reason"),
    [
        (hopeless_film(), "exposure", "gross", "TOO_FEW_POINTS"),
        (film(2, has_base=False), "exposure", "net", "NO_BASE_FOG"),
        (film(2, has_base=False), "speed_point", "gross", "NO_BASE_FOG"),
    ],
)
def test_what_cannot_be_laid_there_says_why(analysis, align_by, density, reason):
    assert place_curve(analysis, film(0), align_by=align_by, density=density) == (None, reason)
    assert not matched_difference(analysis, film(0), align_by=align_by, density=density)["difference"].size


def test_without_a_reference_there_is_no_contrast_to_match():
    assert place_curve(film(1), None, align_by="contrast") == (None, "NO_REFERENCE")
    assert place_curve(film(1), None, align_by="speed_point")[1] is None


def test_an_unknown_option_is_refused():
    with pytest.raises(SensitometryError, match="exposure, speed_point"):
        place_curve(film(0), None, align_by="luck")


@pytest.mark.parametrize("align_by", ALIGNMENTS)
def test_the_band_holds_the_true_difference_about_as_often_as_it_says(align_by):
    """40 pairs of films of known truth; a pointwise 95 % band holds the truth at 88 % of points at least."""
    rng = np.random.default_rng(5)
    truths = [draw_truth("soft-long-out", rng) for _ in range(40)]
    readings = []
    for truth in truths:
        for _ in range(2):
            steps, density, base = readings_of(truth, rng, strips=1, unexposed=3)
            readings.append(Readings(steps, density[0], base))
    analyses = analyse_many(readings)
    inside = []
    for first, second in zip(analyses[::2], analyses[1::2], strict=True):
        found = matched_difference(first, second, align_by=align_by, density="net")
        inside.append(np.mean((found["low"] <= 0) & (found["high"] >= 0)))
    # Two rolls of one truth differ by reading error alone. Three standard errors of 95 % in 40 pairs of
    # curves whose points hang together are about 7 %.
    assert np.mean(inside) >= 0.88, np.mean(inside)
