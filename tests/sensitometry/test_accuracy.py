"""How close the engine comes to known stocks, how honest its intervals are, and what it finds by itself.

The ordinary run uses a few hundred curves with fixed seeds; its bounds are the goals plus what so few curves
may miss them by (2.5 standard errors of a root mean square or a share). The full run uses enough curves to
hold the goals themselves.
"""

from functools import cache

import numpy as np
import pytest

from curves.sensitometry import Readings, analyse_many
from tests.sensitometry.accuracy import JUDGED, STOP, run_study, spline_speed_errors
from tests.sensitometry.truths import HARD, SMOOTH, draw_truth, readings_of

OTHER_THAN_OWN = ("normal", "parabolic")
FAMILIES = ("soft", *OTHER_THAN_OWN)
FEW, MANY = 24, 250
SPEED_GOALS = {"arc-g": 0.19, "arc-up": 0.21, "double": 0.16, "solarised": 0.11, "truncated": 0.18}

counts = pytest.mark.parametrize("count", [FEW, pytest.param(MANY, marks=pytest.mark.full)])
levels = pytest.mark.parametrize("sd", [0.01, 0.015, 0.02])


@cache
def study(count, sd=0.015):
    return run_study(SMOOTH + HARD, count, seed=int(1e5 * sd) + count, sd=sd)


def allowed(goal, curves, count):
    """The goal; with few curves, the goal and 2.5 standard errors of a root mean square."""
    return goal if count == MANY else goal * (1.0 + 2.5 / np.sqrt(2.0 * curves))


def least_share(goal, curves, count):
    return goal if count == MANY else goal - 2.5 * np.sqrt(goal * (1.0 - goal) / curves)


@counts
def test_accuracy_on_stocks_that_are_not_the_models_own(count):
    found = study(count)
    curves = int(found.of(*OTHER_THAN_OWN).sum())
    assert found.rms("speed", *OTHER_THAN_OWN) <= allowed(0.11, curves, count)
    assert abs(found.bias("speed", *OTHER_THAN_OWN)) <= 0.03
    assert found.rms("gradient", *OTHER_THAN_OWN) <= allowed(0.022, curves, count)
    assert found.rms("index", *OTHER_THAN_OWN) <= allowed(0.016, curves, count)
    assert found.share_withheld("speed", *OTHER_THAN_OWN) == 0.0


@counts
def test_lower_error_than_a_monotone_cubic_through_the_same_points(count):
    kinds = [kind for kind in SMOOTH if kind.startswith(OTHER_THAN_OWN)]
    ours = run_study(kinds, count, seed=77)
    spline = np.sqrt(np.nanmean(spline_speed_errors(kinds, count, seed=77) ** 2))
    # A quarter lower is the goal. Same readings for both, so the ratio needs no allowance.
    assert ours.rms("speed", "") <= 0.75 * spline


@counts
@pytest.mark.parametrize("kind", SPEED_GOALS)
def test_accuracy_on_hard_kinds(kind, count):
    found = study(count)
    curves = int((found.of(kind) & ~found.withheld["speed"]).sum())
    assert found.rms("speed", kind) <= allowed(SPEED_GOALS[kind], curves, count)


@counts
def test_an_ill_defined_contrast_index_is_withheld_or_says_so(count):
    """Arcs that turn over early: the two marks meet the curve at a glancing angle."""
    found = study(count)
    is_arc = found.of("arc-s")
    assert found.share_withheld("index", "arc-s") >= 0.15
    wide = np.nanmedian(found.widths["index"][is_arc])
    usual = np.nanmedian(found.widths["index"][found.of(*FAMILIES)])
    assert wide > 2.5 * usual


@counts
@levels
@pytest.mark.parametrize("family", FAMILIES)
def test_intervals_hold_the_truth_in_each_family(family, sd, count):
    found = study(count, sd)
    curves = int(found.of(family).sum())
    for judged in JUDGED:
        share = found.coverage(judged, family)
        assert share >= least_share(0.92, curves, count), judged
        assert count != MANY or share <= 0.98, judged


@counts
@levels
@pytest.mark.parametrize("kind", HARD)
def test_intervals_hold_the_truth_on_hard_kinds(kind, sd, count):
    found = study(count, sd)
    for judged in JUDGED:
        curves = int(np.isfinite(found.covered[judged][found.of(kind)]).sum())
        if curves >= 8:
            assert found.coverage(judged, kind) >= least_share(0.88, curves, count), judged


@counts
def test_intervals_are_not_wide_for_nothing(count):
    """On smooth kinds the interval is about four standard errors: no bought coverage."""
    found = study(count)
    is_smooth = found.of(*FAMILIES)
    width = np.sqrt(np.mean(found.widths["speed"][is_smooth] ** 2)) / STOP
    assert width < 1.3 * 3.92 * found.rms("speed", *FAMILIES)


@counts
def test_three_strips_and_three_unexposed_readings(count):
    kinds = [kind for kind in SMOOTH if kind.startswith(OTHER_THAN_OWN)]
    found = run_study(kinds, count, seed=501, strips=3, unexposed=3)
    curves = len(found.kinds)
    assert found.rms("speed", "") <= allowed(0.07, curves, count)
    assert found.rms("gradient", "") <= allowed(0.014, curves, count)
    assert found.coverage("speed", "") >= least_share(0.92, curves, count)


def shift_one_step(density, rng):
    density[0, rng.integers(density.shape[1])] += 0.2 * rng.choice([-1, 1])


def outliers(analysis):
    return sum(flag.code == "OUTLIER" for flag in analysis.flags)


@counts
def test_one_reading_far_off_is_found_and_does_no_harm(count):
    found = run_study(SMOOTH, count, seed=601, spoil=shift_one_step)
    curves = len(found.kinds)
    assert found.rms("speed", "") <= allowed(0.125, curves, count)
    is_found = [outliers(analysis) > 0 for analysis in found.analyses]
    assert np.mean(is_found) >= least_share(0.99, curves, count)


@counts
def test_few_false_alarms(count):
    found = study(count)
    pairs = zip(found.analyses, found.of(*FAMILIES), strict=True)
    false = [outliers(analysis) for analysis, is_smooth in pairs if is_smooth]
    limit = 0.02 if count == MANY else 0.02 + 2.5 * np.sqrt(0.02 / len(false))
    assert np.mean(false) <= limit


def test_without_noise_the_error_is_that_of_the_form_alone():
    found = run_study(SMOOTH, 8, seed=701, sd=0.0, rounding=0)
    gradients = np.array([truth.average_gradient(1.3) for truth in found.truths])
    indices = np.array([truth.contrast_index for truth in found.truths])
    assert found.worst("speed", "") <= 0.02
    assert np.abs(found.errors["gradient"] * gradients).max() <= 0.004
    assert np.abs(found.errors["index"] * indices).max() <= 0.004


def test_solarised_curves_are_cut_and_flagged():
    found = study(FEW)
    analyses = [analysis for analysis, ok in zip(found.analyses, found.of("solarised"), strict=True) if ok]
    # A single low step at the end is told as a slip or a fall: more steps would be needed to tell.
    told = [any(flag.code in ("SOLARISED", "OUTLIER") for flag in analysis.flags) for analysis in analyses]
    # The rest fall by less than three times the reading noise within the last two steps.
    assert np.mean(told) >= 0.65
    for analysis in analyses:
        is_cut = any(flag.code == "SOLARISED" for flag in analysis.flags)
        assert not is_cut or analysis.curve.log_exposure[-1] < 3.0


def test_a_tablet_of_uncertain_calibration_widens_the_intervals_to_fit():
    """Tablet error 0.02, the same for all three strips: when told, the intervals hold."""
    rng = np.random.default_rng(801)
    truths, told = [], []
    for number in range(240):
        truth = draw_truth(SMOOTH[number % len(SMOOTH)], rng)
        steps = 0.15 * np.arange(21)
        true_steps = steps + 0.02 * rng.standard_normal(21)
        _, density, base = readings_of(truth, rng, steps=true_steps, sd=0.01, strips=3, unexposed=3)
        arguments = {"log_exposure": np.tile(steps, 3), "density": density.ravel(), "unexposed": base}
        truths.append(truth.speed_point)
        told.append(Readings(**arguments, tablet_sd=0.02))
    places = [analysis.measures["speed_point_log_exposure"] for analysis in analyse_many(told)]
    inside = [place.low <= truth <= place.high for place, truth in zip(places, truths, strict=True)]
    # 240 curves: one standard error of the share is 1.4 %.
    assert 0.92 - 0.035 <= np.mean(inside) <= 1.0
    errors = np.array([place.value for place in places]) - truths
    assert np.sqrt(np.mean(errors**2)) / STOP <= 0.125


def test_strips_exposed_unequally_are_told_apart_from_noise():
    rng = np.random.default_rng(901)
    readings, shifts, truths = [], [], []
    for number in range(150):
        truth = draw_truth(SMOOTH[number % len(SMOOTH)], rng)
        steps = 0.15 * np.arange(21)
        moved = 0.06 * rng.standard_normal(4)
        density = np.array([readings_of(truth, rng, steps=steps + move)[1][0] for move in moved])
        base = readings_of(truth, rng, unexposed=4)[2]
        strip = np.repeat(np.arange(4), 21)
        readings.append(Readings(np.tile(steps, 4), density.ravel(), base, strip=strip))
        shifts.append(moved)
        truths.append(truth.speed_point)
    analyses = analyse_many(readings)
    spread = np.array([analysis.measures["between_strip_stops"].value for analysis in analyses])
    # The estimate's mean square is that of the shifts, 0.06 in log exposure = 0.20 stop.
    assert np.sqrt(np.mean(spread**2)) == pytest.approx(0.06 / STOP, rel=0.1)
    noise = np.array([analysis.measures["reading_noise"].value for analysis in analyses])
    assert np.median(noise) == pytest.approx(0.0153, abs=0.002)
    places = [analysis.measures["speed_point_log_exposure"] for analysis in analyses]
    inside = [place.low <= truth <= place.high for place, truth in zip(places, truths, strict=True)]
    # With four strips their spread is itself uncertain, so nominal cover is not quite reached.
    assert np.mean(inside) >= 0.85
