"""Differences from the reference and pooled rolls: known stocks with known spread from roll to roll."""

import json
import re

import numpy as np
import pytest

from curves.sensitometry import (
    COMPARISON_MEASURES,
    VERDICTS,
    Readings,
    SensitometryError,
    analyse_many,
    compare_with_reference,
    pool_analyses,
)
from tests.sensitometry.truths import draw_truth, readings_of

STOP = np.log10(2.0)
# Spread from roll to roll of the simulated lab: exposure 0.17 stop, contrast 4 %.
EXPOSURE_SD, CONTRAST_SD = 0.05, 0.04


class StretchedTruth:
    """A roll of a stock: the stock's curve with this roll's exposure error and contrast."""

    def __init__(self, truth, shift, stretch):
        self._truth, self._shift, self._stretch = truth, shift, stretch
        self.base = truth.base

    def density(self, log_exposure):
        return self.base + self._stretch * self._truth.net(np.asarray(log_exposure) + self._shift)


def rolls_of(truth, count, rng, *, spread=1.0, sd=0.01):
    made = []
    for _ in range(count):
        shift = spread * EXPOSURE_SD * rng.standard_normal()
        roll = StretchedTruth(truth, shift, 1.0 + spread * CONTRAST_SD * rng.standard_normal())
        exposure, density, base = readings_of(roll, rng, sd=sd, unexposed=3)
        made.append(Readings(exposure - 3.2, density[0], base))
    return made


def shifted_readings(readings, shift):
    return Readings(readings.log_exposure + shift, readings.density, readings.unexposed)


def truths(count, seed, kinds=("normal-short-out", "parabolic-long-out", "normal-long-in", "soft-short-in")):
    rng = np.random.default_rng(seed)
    return rng, [draw_truth(kinds[number % len(kinds)], rng) for number in range(count)]


def test_a_film_against_itself_shows_nothing():
    rng, (truth,) = truths(1, 1)
    analysis = analyse_many(rolls_of(truth, 1, rng))[0]
    comparison = compare_with_reference(analysis, analysis)
    assert set(comparison.measures) == set(COMPARISON_MEASURES)
    assert comparison.measures["speed_shift_stops"].value == 0.0
    assert comparison.measures["contrast_ratio"].value == 1.0
    assert comparison.measures["shape_difference"].value == 0.0
    assert set(comparison.verdicts.values()) == {"not distinguishable"}
    assert np.abs(comparison.difference["difference"]).max() == 0.0
    json.dumps(comparison.to_dict(), allow_nan=False)


def test_sign_of_each_difference():
    """Half a stop less exposure for the same density, a tenth more contrast, 0.05 D more base."""
    rng, (truth,) = truths(1, 2)
    fast = StretchedTruth(truth, 0.5 * STOP, 1.1)
    fast.base = truth.base + 0.05
    readings = []
    for film in (fast, truth):
        exposure, density, base = readings_of(film, rng, sd=0.002, rounding=0, unexposed=4)
        readings.append(Readings(exposure, density[0], base))
    comparison = compare_with_reference(*analyse_many(readings))
    measures = comparison.measures
    # 1.1 times the contrast lifts the toe too: the speed gained is somewhat more than half a stop.
    assert 0.5 < measures["speed_shift_stops"].value < 0.75
    assert measures["base_difference"].value == pytest.approx(0.05, abs=0.006)
    assert measures["contrast_ratio"].value == pytest.approx(1.1, abs=0.06)
    texts = " ".join(sentence.text for sentence in comparison.sentences)
    assert "stop faster than" in texts and "more contrast than" in texts


def test_moving_both_films_changes_nothing_and_moving_one_moves_the_speed():
    rng, stocks = truths(2, 3)
    first, second = (rolls_of(truth, 1, rng)[0] for truth in stocks)
    moved = [shifted_readings(each, 0.25) for each in (first, second)]
    plain, both, one = (
        compare_with_reference(*analyse_many(pair)) for pair in ((first, second), moved, (moved[0], second))
    )
    for name in COMPARISON_MEASURES:
        assert both.measures[name].value == pytest.approx(plain.measures[name].value, abs=2e-4)
    shift = one.measures["speed_shift_stops"].value - plain.measures["speed_shift_stops"].value
    assert shift == pytest.approx(-0.25 / STOP, abs=2e-4)
    ratios = [each.measures["contrast_ratio"].value for each in (one, plain)]
    assert ratios[0] == pytest.approx(ratios[1], abs=2e-4)


def test_intervals_of_single_rolls_hold_the_truth_without_spread():
    """No spread from roll to roll: reading error alone must explain what is found."""
    rng, stocks = truths(160, 4)
    analyses = analyse_many([rolls_of(truth, 1, rng, spread=0.0)[0] for truth in stocks])
    inside, toe_inside = [], []
    for k in range(0, len(stocks), 2):
        found = compare_with_reference(analyses[k], analyses[k + 1]).measures
        true_shift = (stocks[k + 1].speed_point - stocks[k].speed_point) / STOP
        inside.append(found["speed_shift_stops"].low <= true_shift <= found["speed_shift_stops"].high)
        ratio = stocks[k].average_gradient(1.5) / stocks[k + 1].average_gradient(1.5)
        toe_inside.append(found["contrast_ratio"].low <= ratio <= found["contrast_ratio"].high)
    # 80 pairs: one standard error of a 95 % share is 2.4 %.
    assert np.mean(inside) >= 0.89
    assert np.mean(toe_inside) >= 0.89


def test_a_rebadged_stock_is_rarely_called_different():
    rng, stocks = truths(60, 5)
    lab = {"speed_stops": EXPOSURE_SD / STOP, "contrast_ratio": CONTRAST_SD, "shape": 0.004, "base": 0.003}
    rolls = [roll for truth in stocks for roll in rolls_of(truth, 2, rng)]
    analyses = analyse_many(rolls)
    pairs = zip(analyses[::2], analyses[1::2], strict=True)
    comparisons = [compare_with_reference(*pair, lab_spread=lab) for pair in pairs]
    for name in ("speed_shift_stops", "contrast_ratio", "shape_difference", "base_difference"):
        false = np.mean([comparison.verdicts[name] == "real" for comparison in comparisons])
        # 5 % by design; 60 pairs have a standard error of 2.8 %.
        assert false <= 0.05 + 2.5 * 0.028, name


def test_a_real_difference_is_found():
    rng, stocks = truths(40, 6)
    lab = {"speed_stops": EXPOSURE_SD / STOP, "contrast_ratio": CONTRAST_SD}
    found = []
    for truth in stocks:
        test = [shifted_readings(roll, -0.30) for roll in rolls_of(truth, 3, rng)]
        pooled = [pool_analyses(analyse_many(rolls)) for rolls in (test, rolls_of(truth, 3, rng))]
        found.append(compare_with_reference(*pooled, lab_spread=lab).verdicts["speed_shift_stops"] == "real")
    # One stop against a standard error of about 0.17 stop is six of them.
    assert np.mean(found) >= 0.95


def test_pooled_intervals_hold_the_stocks_own_numbers():
    """Three rolls with real spread: the pooled interval is for the stock, not for these rolls."""
    rng, stocks = truths(120, 7)
    analyses = analyse_many([roll for truth in stocks for roll in rolls_of(truth, 3, rng)])
    place_inside, index_inside, errors = [], [], []
    for k, truth in enumerate(stocks):
        pooled = pool_analyses(analyses[3 * k : 3 * k + 3])
        place, index = (pooled.measures[name] for name in ("speed_point_log_exposure", "contrast_index"))
        place_inside.append(place.low <= truth.speed_point - 3.2 <= place.high)
        errors.append(place.value - truth.speed_point + 3.2)
        if index.value is not None:
            index_inside.append(index.low <= truth.contrast_index <= index.high)
    # 120 stocks: one standard error of a 95 % share is 2.0 %; three rolls leave their spread uncertain.
    assert np.mean(place_inside) >= 0.88
    assert np.mean(index_inside) >= 0.88
    # Spread 0.05 and reading 0.02 in log exposure over three rolls: 0.031.
    assert np.sqrt(np.mean(np.square(errors))) < 0.042


def test_pooling_says_how_many_rolls_stand_behind_it():
    rng, (truth,) = truths(1, 8)
    analyses = analyse_many(rolls_of(truth, 5, rng))
    codes = {count: {flag.code for flag in pool_analyses(analyses[:count]).flags} for count in (1, 2, 5)}
    assert "SINGLE_ROLL" in codes[1]
    assert "FEW_ROLLS" in codes[2]
    assert not codes[5] & {"SINGLE_ROLL", "FEW_ROLLS"}
    pooled = pool_analyses(analyses)
    assert pooled.roll_count == 5
    assert set(pooled.between_roll) == {"speed_point_log_exposure", "average_gradient_ratio", "base_plus_fog"}
    few, many = (each.measures["speed_point_log_exposure"] for each in (pool_analyses(analyses[:2]), pooled))
    assert many.high - many.low < few.high - few.low
    assert pooled.to_dict() == type(pooled).from_dict(json.loads(json.dumps(pooled.to_dict()))).to_dict()


def test_rolls_that_differ_are_told():
    rng, (truth,) = truths(1, 9)
    rolls = rolls_of(truth, 3, rng, spread=0.0)
    rolls[0] = shifted_readings(rolls[0], 0.3)
    assert "ROLLS_DIFFER" in {flag.code for flag in pool_analyses(analyse_many(rolls)).flags}


def test_an_uncertain_tablet_is_not_averaged_away():
    rng, (truth,) = truths(1, 10)
    plain = rolls_of(truth, 6, rng, spread=0.0, sd=0.003)
    unsure = [Readings(r.log_exposure, r.density, r.unexposed, tablet_sd=0.03) for r in plain]
    widths = []
    for readings in (plain, unsure):
        measure = pool_analyses(analyse_many(readings)).measures["contrast_index"]
        widths.append(measure.high - measure.low)
    single = analyse_many(unsure[:1])[0].measures["contrast_index"]
    assert widths[1] > 1.3 * widths[0]
    assert widths[1] > 0.5 * (single.high - single.low)


def test_what_is_not_known_is_called_unknown():
    rng, stocks = truths(2, 11)
    fast, plain = (rolls_of(stocks[0], 1, rng)[0] for _ in range(2))
    far = analyse_many([shifted_readings(fast, -0.6), plain])
    comparison = compare_with_reference(*far)
    assert comparison.verdicts["speed_shift_stops"] == "unknown"
    assert comparison.is_beyond_reading["speed_shift_stops"] is True
    assert comparison.sentences[0].text.startswith("Reads ")
    assert "speed_shift_stops" in comparison.sentences[-1].measure_names
    assert "not known yet" in comparison.sentences[-1].text
    wide = compare_with_reference(*far, lab_spread={"speed_stops": 5.0})
    assert wide.verdicts["speed_shift_stops"] == "within the lab's spread"
    narrow = compare_with_reference(*far, lab_spread={"speed_stops": 0.1})
    assert narrow.verdicts["speed_shift_stops"] == "real"
    assert set(comparison.verdicts.values()) <= set(VERDICTS)


def test_under_different_standards_there_is_no_verdict_however_well_rolls_are_known():
    rng, (truth,) = truths(1, 11)
    rolls = analyse_many(
        rolls_of(truth, 4, rng) + [shifted_readings(r, -0.6) for r in rolls_of(truth, 4, rng)]
    )
    test, reference = pool_analyses(rolls[4:]), pool_analyses(rolls[:4])
    assert compare_with_reference(test, reference).verdicts["speed_shift_stops"] == "real"
    unlike = compare_with_reference(test, reference, is_like_with_like=False)
    assert set(unlike.verdicts.values()) == {"unknown"}
    assert unlike.sentences[0].text.startswith("Reads ")
    assert "not exposed and processed under the same standards" in unlike.sentences[-1].text
    assert "not known yet" not in " ".join(sentence.text for sentence in unlike.sentences)


def test_absolute_and_relative_exposure_are_not_mixed():
    rng, (truth,) = truths(1, 12)
    roll = rolls_of(truth, 1, rng)[0]
    relative = Readings(roll.log_exposure, roll.density, roll.unexposed, exposure="relative")
    first, second = analyse_many([roll, relative])
    comparison = compare_with_reference(first, second)
    assert comparison.measures["speed_shift_stops"].reason == "MIXED_EXPOSURE"
    assert comparison.measures["contrast_ratio"].value is not None
    assert comparison.difference["difference"].size == 0
    assert comparison.difference["aligned_difference"].size > 0
    with pytest.raises(SensitometryError):
        pool_analyses([first, second])
    both = compare_with_reference(second, second)
    assert both.measures["speed_shift_stops"].value == 0.0


def test_no_sentence_claims_more_than_its_verdict():
    rng, stocks = truths(30, 13)
    analyses = analyse_many([roll for truth in stocks for roll in rolls_of(truth, 1, rng)])
    lab = {"speed_stops": 0.2, "contrast_ratio": 0.04}
    seen = set()
    for pair in zip(analyses[::2], analyses[1::2], strict=True):
        comparison = compare_with_reference(*pair, lab_spread=lab)
        for sentence in comparison.sentences:
            verdict = comparison.verdicts[sentence.measure_names[0]]
            seen.add(verdict)
            # "0.40 stop faster ...", "the shadows are ... denser" claim; "Reads ...", "cannot ..." do not.
            is_claim = re.match(r"\d", sentence.text) or re.search(r" (are|differ by) ", sentence.text)
            if not sentence.text.startswith("Whether"):
                assert bool(is_claim) == (verdict == "real"), sentence
    assert seen == set(VERDICTS)
