"""Words about stocks: over synthetic stocks of known truth no clause is false, and none is left unsaid."""

import numpy as np
import pytest

from curves.sensitometry import MEASURES, Readings, analyse_many, compare_with_reference
from curves.sensitometry.comparing.stock_wording import CONTRAST, HIGHLIGHTS, SPEED, TOE, describe_stock
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
        SPEED.name: float(np.log2(0.8 / 10 ** (start - ZERO) / box_speed)),
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
        scale = next((each for each in (SPEED, CONTRAST, TOE, HIGHLIGHTS) if each.name == name), None)
        if scale is None or sentence.text.startswith("Not known") or "open" in sentence.text:
            continue
        word = scale.words[scale.place(true[name])]
        said = sentence.text.split("(")[0].split("stays")[0]
        if scale is SPEED:
            words = {"below": "below", "above": "above"}
            is_true = words.get(word, "") in said or (word.startswith("within") and (
                "within a third" in said or "at the speed" in said))  # fmt: skip
            is_true = is_true and not (word == "below" and "or above" in said)
        elif scale is CONTRAST:
            claimed = said.split(" is ")[1].strip().split(" to ")
            is_true = word in claimed
        elif scale is TOE:
            is_true = word in said.split("The toe is ")[1].split(":")[0].split(" to ")
        else:
            is_true = word in said.split("with ")[1].split(" contrast")[0].split(" to ")
        if not is_true:
            wrong.append(f"{truth.kind}: {sentence.text} truly {true[name]:.3f}, {word}")
    return wrong


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
    assert describe_stock(film(1), measured=frozenset({"grain", "sharpness"}))[-1].text == (
        "Not measured here: colour response."
    )
    everything = describe_stock(film(1), measured=frozenset({"colour", "grain", "sharpness"}))
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
