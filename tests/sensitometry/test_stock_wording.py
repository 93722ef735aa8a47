"""Words about stocks: over synthetic stocks of known truth no clause is false, and none is left unsaid."""

from dataclasses import replace

import numpy as np
import pytest

from curves.sensitometry import MEASURES, Readings, analyse_many, compare_with_reference
from curves.sensitometry.comparing.stock_wording import CONTRAST, HIGHLIGHTS, SPEED, TOE, describe_stock
from curves.sensitometry.measures import Measure
from tests.figures.films import film, hopeless_film, soft_toe
from tests.sensitometry.truths import HARD, SMOOTH, draw_truth, readings_of

ZERO = 3.2  # the log exposure of the first step is -3.2 lux·s
KINDS = tuple(kind for kind in (*SMOOTH, *HARD) if kind not in ("solarised", "double"))
BOX_SPEEDS = (80.0, 200.0, 400.0)
STOP = np.log10(2.0)


def true_values(truth, box_speed) -> dict[str, float]:
    """What the measures are by the true curve."""
    start = truth.speed_point
    rise = truth.net(start + np.array([0.0, 0.4, 1.5, 1.8, 2.4]))
    return {
        SPEED: float(np.log2(0.8 / 10 ** (start - ZERO) / box_speed)),
        CONTRAST.name: float(rise[2] - rise[0]) / 1.5,
        TOE.name: float((rise[1] - rise[0]) / 0.4 / ((rise[2] - rise[0]) / 1.5)),
        HIGHLIGHTS.name: float(rise[4] - rise[3]) / 0.6,
    }


def false_clauses(analysis, truth, box_speed) -> list[str]:
    """The clauses that the truth gives the lie."""
    true = true_values(truth, box_speed)
    wrong = []
    for sentence in describe_stock(analysis):
        name = sentence.measure_names[0] if sentence.measure_names else ""
        if name not in true or sentence.text.startswith("Not known") or "open" in sentence.text:
            continue
        said = sentence.text.split("(")[0].split("stays")[0]
        if name == SPEED:
            is_true = is_true_of_speed(said, true[name])
        else:
            scale = next(each for each in (CONTRAST, TOE, HIGHLIGHTS) if each.name == name)
            is_true = scale.words[scale.place(true[name])] in claimed_words(scale, said)
        if not is_true:
            wrong.append(f"{truth.kind}: {sentence.text} truly {true[name]:.3f}")
    return wrong


def claimed_words(scale, said: str) -> list[str]:
    """The words that a clause leaves possible."""
    if scale is CONTRAST:
        return said.split(" is ")[1].strip().split(" to ")
    if scale is TOE:
        return said.split("The toe is ")[1].split(":")[0].split(" to ")
    return said.split("with ")[1].split(" contrast")[0].split(" to ")


def is_true_of_speed(said: str, true: float) -> bool:
    """Whether the claim holds; what is only probable, or cannot be told apart, claims nothing."""
    if "within a third" in said:
        return abs(true) < 1 / 3
    if "to a third of a stop, or" in said:
        return true > -1 / 3 if "or above" in said else true < 1 / 3
    if " is above" in said or " is below" in said:
        return (true > 0) is (" is above" in said)
    assert "is probably" in said or "cannot be told apart" in said, said
    return True


def made(count, seed):
    rng = np.random.default_rng(seed)
    truths = [draw_truth(KINDS[number % len(KINDS)], rng) for number in range(count)]
    boxes = [BOX_SPEEDS[number % len(BOX_SPEEDS)] for number in range(count)]
    readings = []
    for truth in truths:
        steps, density, base = readings_of(truth, rng, strips=1, unexposed=3)
        readings.append(Readings(steps - ZERO, density[0], base))
    return truths, boxes, analyse_many(readings, box_speeds=boxes)


@pytest.mark.parametrize("count", [40, pytest.param(200, marks=pytest.mark.full)])
def test_no_clause_is_false(count):
    wrong = []
    said = 0
    for truth, box, analysis in zip(*made(count, 20), strict=True):
        wrong += false_clauses(analysis, truth, box)
        said += len(describe_stock(analysis))
    assert not wrong, "\n".join(wrong)
    assert said >= 4 * count, "words that say nothing are not the way to say nothing false"


BOX = [
    # value, low, high; the interval that words are chosen by is 1.6 times as wide
    (0.05, -0.05, 0.15, "is within a third of a stop of the speed on the box: +0.05 stop [−0.05 to 0.15]."),
    (0.30, 0.28, 0.32, "is within a third of a stop of the speed on the box: +0.30 stop [0.28 to 0.32]."),
    (0.60, 0.30, 0.90, "is above the speed on the box: +0.60 stop [0.30 to 0.90]."),
    (-1.50, -1.80, -1.20, "is below the speed on the box: −1.50 stops [−1.80 to −1.20]."),
    (-0.01, -0.22, 0.20, "cannot be told apart from the speed on the box: −0.01 stop [−0.22 to 0.20]."),
    (-0.001, -0.25, 0.25, "cannot be told apart from the speed on the box: 0.00 stop [−0.25 to 0.25]."),
    (-0.30, -0.58, -0.02, "is probably below the speed on the box: −0.30 stop [−0.58 to −0.02]."),
    (0.50, 0.40, None, "is above the speed on the box: at least +0.50 stop."),
    (-0.90, None, -0.70, "is below the speed on the box: at most −0.90 stop."),
    (0.10, 0.00, None, "is at the speed on the box, to a third of a stop, or above it: at least +0.10 stop."),
    (-0.1, None, 0.0, "is at the speed on the box, to a third of a stop, or below it: at most −0.10 stop."),
]


@pytest.mark.parametrize(("value", "low", "high", "said"), BOX)
def test_speed_is_set_beside_the_box_no_closer_than_its_interval_bears(value, low, high, said):
    assert speed_said(value, low, high) == f"The exposure index {said}"


@pytest.mark.parametrize(
    ("value", "low", "high"), [(0.1, -0.9, 1.1), (0.5, None, None), (-0.5, -0.6, None), (0.5, None, 0.6)]
)
def test_speed_against_the_box_is_open_where_its_interval_is(value, low, high):
    assert speed_said(value, low, high).startswith("How speed stands to the speed on the box is open: ")


def speed_said(value, low, high) -> str:
    analysis = film(1)
    measures = analysis.measures | {SPEED: Measure(SPEED, value, low, high, "stop")}
    return describe_stock(replace(analysis, measures=measures))[0].text


@pytest.mark.parametrize("count", [40, pytest.param(200, marks=pytest.mark.full)])
def test_differences_that_are_claimed_have_the_sign_that_is_claimed(count):
    """Of claims by 95 % intervals on stocks of different truth fewer than 2.5 % may have the wrong sign."""
    truths, _, analyses = made(count, 21)
    spread = {"speed_stops": 0.0, "contrast_ratio": 0.0, "shape": 0.0, "base": 0.0}
    claims, wrong = 0, []
    for number in range(1, count):
        comparison = compare_with_reference(analyses[number], analyses[0], lab_spread=spread)
        true = {
            "speed_shift_stops": (truths[0].speed_point - truths[number].speed_point) / STOP,
            "contrast_ratio": np.log(truths[number].average_gradient(1.5) / truths[0].average_gradient(1.5)),
            "base_difference": truths[number].base - truths[0].base,
        }
        signs = {"faster": 1, "slower": -1, "more contrast": 1, "less contrast": -1}
        signs |= {"more base plus fog": 1, "less base plus fog": -1}
        for sentence in comparison.sentences:
            name = sentence.measure_names[0]
            if name not in true or comparison.verdicts[name] != "real":
                continue
            sign = next(sign for words, sign in signs.items() if words in sentence.text)
            claims += 1
            if sign * true[name] < 0:
                wrong.append(f"{sentence.text} truly {true[name]:+.3f}")
    assert claims > 1.5 * count
    assert len(wrong) <= 0.025 * claims, "\n".join(wrong)


def test_every_clause_rests_on_measures_of_the_registry():
    for number in range(5):
        for sentence in describe_stock(film(number)):
            assert set(sentence.measure_names) <= set(MEASURES), sentence.text
            assert "-" not in sentence.text.replace("blue-sensitive", ""), "true minus signs only"


def test_what_is_withheld_is_said_to_be_with_its_reason_once():
    texts = [sentence.text for sentence in describe_stock(film(1, has_base=False))]
    (unknown,) = (text for text in texts if text.startswith("Not known"))
    assert "No unexposed area was read" in unknown
    assert "contrast" in unknown and "the toe" in unknown
    for sentence in describe_stock(hopeless_film()):
        assert sentence.text.startswith("Not "), sentence.text


def test_what_nobody_measured_is_named_until_somebody_does():
    assert describe_stock(film(1))[-1].text == "Not measured here: colour response, grain and sharpness."
    pictures = {
        "rms_granularity": Measure("rms_granularity", 10.0, 9.6, 10.4, "1000 D"),
        "film_mtf50": Measure("film_mtf50", 50.0, 47.0, 53.0, "cycles/mm"),
    }
    assert describe_stock(film(1), pictures=pictures)[-1].text == "Not measured here: colour response."
    colours = {"Red": Measure("colour_shift", 0.4, 0.3, 0.5, "stop")}
    everything = describe_stock(film(1), pictures=pictures, colours=colours, light="daylight")
    assert not any(sentence.text.startswith("Not measured") for sentence in everything)


def test_a_toe_without_an_average_gradient_is_not_known_for_the_reason_of_the_gradient():
    # From the speed point on there is room for the toe's 0.4 but not for the average gradient's 1.5.
    exposures = np.arange(-3.6, -1.4, 0.1)
    (analysis,) = analyse_many([Readings(exposures, np.round(soft_toe(exposures), 3), [0.25, 0.25])])
    assert analysis.measures[TOE.name].value is not None
    assert analysis.measures[CONTRAST.name].value is None
    said = [sentence.text for sentence in describe_stock(analysis) if sentence.text.startswith("Not known")]
    assert not any("It is withheld" in text for text in said)
    assert any("contrast, the toe" in text for text in said)
