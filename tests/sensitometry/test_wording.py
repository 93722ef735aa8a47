"""Differences in words: never more than the intervals support, every reason in plain words, said once."""

import pytest

from curves.sensitometry.comparing.wording import describe_comparison
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.registry import COMPARISON_MEASURES, MEASURES

SHIFT, CONTRAST = "speed_shift_stops", "contrast_ratio"


def told(verdict="real", **given):
    """The sentences for measures as given; whatever is not given shows no difference."""
    measures = {name: given.get(name) or alike(name) for name in COMPARISON_MEASURES}
    beyond = {name: (None if measures[name].value is None else name in given) for name in measures}
    verdicts = {name: verdict if name in given else "not distinguishable" for name in measures}
    return describe_comparison(measures, verdicts, beyond)


def alike(name):
    centre = 1.0 if name == CONTRAST else 0.0
    return Measure(name, centre, centre - 0.02, centre + 0.02, MEASURES[name].unit, None, "")


def found(name, value, low, high):
    return Measure(name, value, low, high, MEASURES[name].unit, None, "")


def test_a_faster_film_of_more_contrast():
    text = " ".join(
        s.text
        for s in told(**{SHIFT: found(SHIFT, 1.25, 1.0, 1.5), CONTRAST: found(CONTRAST, 1.1, 1.05, 1.15)})
    )
    assert "1.25 stops faster than the reference (+1.00 to +1.50 stops)." in text
    assert "10.0 % more contrast than the reference (+5.0 to +15.0 %)." in text


def test_a_slower_film_has_true_minus_signs():
    (speed, *_) = told(**{SHIFT: found(SHIFT, -0.5, -0.8, -0.2)})
    assert speed.text == "0.50 stop slower than the reference (−0.80 to −0.20 stops)."
    assert speed.measure_names == (SHIFT,)


def test_parts_of_the_shape_are_told_in_one_sentence():
    parts = {
        "toe_difference": found("toe_difference", -0.02, -0.03, -0.01),
        "middle_difference": found("middle_difference", -0.05, -0.06, -0.04),
        "highlight_difference": found("highlight_difference", 0.04, 0.03, 0.05),
    }
    (said,) = [each for each in told(**parts) if "matched" in each.text]
    assert said.text == (
        "With speed and contrast matched, the shadows are 0.020 D thinner (−0.030 to −0.010 D), the middle"
        " tones 0.050 D thinner (−0.060 to −0.040 D) and the highlights 0.040 D denser (+0.030 to +0.050 D)."
    )
    assert said.measure_names == tuple(parts)
    (one,) = [each for each in told(**dict(list(parts.items())[:1])) if "matched" in each.text]
    assert one.text.endswith("the shadows are 0.020 D thinner (−0.030 to −0.010 D).")


def test_no_claim_that_the_interval_does_not_support():
    text = " ".join(s.text for s in told())
    assert "faster" not in text and "slower" not in text and "more contrast" not in text
    assert "cannot be told apart" in text


def test_a_difference_within_the_lab_s_spread_is_said_to_be_that():
    (speed, *_) = told(verdict="within the lab's spread", **{SHIFT: found(SHIFT, -0.5, -0.8, -0.2)})
    assert speed.text.endswith("within the lab's spread from roll to roll.")


@pytest.mark.parametrize("count", [1, 2])
def test_an_unknown_spread_is_said_once_for_all_that_it_leaves_open(count):
    given = {SHIFT: found(SHIFT, -0.5, -0.8, -0.2), CONTRAST: found(CONTRAST, 1.1, 1.05, 1.15)}
    given = dict(list(given.items())[:count])
    sentences = told(verdict="unknown", **given)
    last = sentences[-1]
    assert last.measure_names == tuple(given)
    assert last.text.startswith(
        "Whether this difference is" if count == 1 else "Whether these differences are"
    )
    assert sum("not known yet" in sentence.text for sentence in sentences) == 1


def test_one_reason_for_all_is_said_once_in_plain_words():
    given = {name: withheld(name, "BELOW_RANGE", MEASURES[name].unit) for name in COMPARISON_MEASURES[:3]}
    sentences = told(**given)
    assert sentences[0].text.startswith("Speed, contrast and shape cannot be compared: the lowest step")
    assert not any("BELOW_RANGE" in sentence.text for sentence in sentences)


def test_different_reasons_are_said_apart():
    given = {SHIFT: withheld(SHIFT, "MIXED_EXPOSURE", "stop")}
    sentences = told(**given)
    assert sentences[0].text.startswith("Speed cannot be compared: one curve has absolute")
    assert "Contrast cannot be told apart" in sentences[1].text


def test_an_end_that_rounds_to_zero_has_no_sign():
    (speed, *_) = told(**{SHIFT: found(SHIFT, -0.1, -0.2, -0.0004)})
    assert speed.text.endswith("(−0.200 to 0.000 stops).")


def test_an_end_near_no_difference_shows_on_which_side_it_is():
    base = "base_difference"
    (*_, real) = told(**{base: found(base, 0.021, 0.004, 0.038)})
    assert real.text == "0.02 D more base plus fog than the reference (+0.004 to +0.038 D)."
    (*_, plain) = told(**{base: found(base, 0.03, 0.01, 0.05)})
    assert plain.text.endswith("(+0.01 to +0.05 D).")
    (*_, exact) = told(**{base: found(base, 0.02, 0.0, 0.04)})
    assert exact.text.endswith("(0.00 to +0.04 D).")
