"""Words about colours: over synthetic stocks of known truth no claim is false, and claims are made."""

import numpy as np
import pytest

from curves.sensitometry import MEASURES, Readings, analyse_many
from curves.sensitometry.colour_response import Patch, patch_shifts
from curves.sensitometry.comparing.colour_spread import (
    ColourComparison,
    RollColours,
    compare_colours,
    estimate_colour_spread,
    pool_colours,
)
from curves.sensitometry.comparing.colour_wording import describe_colour_differences, describe_colours
from curves.sensitometry.comparing.comparison import ALIKE, REAL, UNKNOWN, VERDICTS, WITHIN_SPREAD
from curves.sensitometry.measures import Measure, withheld
from curves.sensitometry.sampled_curve import SampledCurve
from tests.sensitometry.truths import SMOOTH, draw_truth, readings_of

#: Luminance factors of coloured patches, and of greys that the same frame shows.
COLOURED = {"Red": 0.12, "Orange": 0.3, "Yellow": 0.55, "Green": 0.2, "Blue": 0.08, "Violet": 0.1}
GREYS = {"White": 0.88, "Middle grey": 0.18}
READING_SD = 0.015  # as of the strips; readings are rounded to 0.01
WHITE_ABOVE_SPEED = 1.45  # log exposure of a perfect white above the speed point
STOP = np.log10(2.0)


def shift(value, low=None, high=None, name="colour_shift"):
    return Measure(name, value, low, high, "stop")


def compared(verdict=UNKNOWN, name="Red", value=0.42, low=0.30, high=0.54):
    """One patch's difference with its verdict."""
    measure = shift(value, low, high, "colour_shift_difference")
    return ColourComparison({name: measure}, {name: verdict})


def together(*parts):
    """Several of them as one comparison."""
    return ColourComparison(
        {name: measure for each in parts for name, measure in each.measures.items()},
        {name: verdict for each in parts for name, verdict in each.verdicts.items()},
    )


def made(count, seed, rolls=1, roll_sd=0.0):
    """Stocks' true shifts [stop], a third of them none at all, and what readings of their rolls give."""
    rng = np.random.default_rng(seed)
    truths = [draw_truth(SMOOTH[number % len(SMOOTH)], rng) for number in range(count)]
    readings = []
    for truth in (truth for truth in truths for _ in range(rolls)):
        steps, density, base = readings_of(truth, rng, strips=2, unexposed=3)
        readings.append(Readings(steps, density.mean(axis=0), base))
    analyses = iter(analyse_many(readings))
    for number, truth in enumerate(truths):
        true = {name: float(rng.choice([0.0, rng.normal(0, 0.6), rng.normal(0, 0.2)])) for name in COLOURED}
        yield (
            true,
            [
                _roll(str(number), truth, next(analyses), _moved(true, roll_sd, rng), rng)
                for _ in range(rolls)
            ],
        )


def _moved(true, roll_sd, rng):
    """The shifts of one roll: some of the spread is the light's, of all patches together."""
    light = roll_sd * rng.normal(0, 0.5)
    return {
        name: value + (light if name in ("Blue", "Violet") else -light) + rng.normal(0, roll_sd * 0.75**0.5)
        for name, value in true.items()
    }


def _roll(stock, truth, analysis, true, rng):
    white = truth.speed_point + WHITE_ABOVE_SPEED
    found = {
        name: white + np.log10(luminance) + true.get(name, 0.0) * STOP
        for name, luminance in (COLOURED | GREYS).items()
    }
    read = {
        name: round(float(truth.density(np.array([place]))[0] + rng.normal(0, READING_SD)), 2)
        for name, place in found.items()
    }
    patches, greys = (
        [Patch(name, luminance, read[name], READING_SD) for name, luminance in group.items()]
        for group in (COLOURED, GREYS)
    )
    shifts = patch_shifts(SampledCurve.of(analysis.curve), patches, greys)
    return RollColours(stock, shifts, {name: each.standard_error for name, each in shifts.items()})


def claims(sentences) -> list[tuple[str, str]]:
    """Every patch that is said to be lighter or darker, and which of them; not what may be rolls' spread."""
    found = []
    for clause in (clause for sentence in sentences for clause in sentence.text.split(";")):
        said = clause.split(" than ")[0]
        if (" lighter" not in said and " darker" not in said) or WITHIN_SPREAD in clause:
            continue
        for part, side in sides_of(said):
            found += [(name, side) for name in COLOURED if f"{name} (" in part]
    return found


def sides_of(said: str):
    lighter, found, rest = said.partition(" lighter")
    yield from [(lighter, "lighter")] if found else []
    yield from [((rest if found else lighter), "darker")] if " darker" in said else []


COUNTS = pytest.mark.parametrize("count", [40, pytest.param(200, marks=pytest.mark.full)])


def false_and_true_claims(stocks):
    """Claims that the truth does not bear, and how many were made in all."""
    spread = estimate_colour_spread([roll for _, rolls in stocks for roll in rolls])
    pooled = [(true, pool_colours(rolls, spread)) for true, rolls in stocks]
    true_base, base = pooled[0]
    wrong, claimed = [], 0
    for true, own in pooled:
        against = {name: true[name] - true_base[name] for name in true}
        differences = describe_colour_differences(compare_colours(own, base, spread), "daylight")
        for truth, sentences in ((true, describe_colours(own.shifts, "daylight")), (against, differences)):
            for name, side in claims(sentences):
                claimed += 1
                if truth[name] * (1 if side == "lighter" else -1) <= 0:
                    wrong.append(f"{name} {side}, truly {truth[name]:+.3f}: {sentences[0].text}")
    return wrong, claimed


@COUNTS
def test_no_patch_is_called_lighter_or_darker_that_is_not(count):
    wrong, claimed = false_and_true_claims(list(made(count, 61)))
    assert not wrong, "\n".join(wrong)
    # Of six patches four have a shift, half of them a small one, and the darkest lie in the toe.
    assert claimed >= 2 * count, "words that say nothing are not the way to say nothing false"


@COUNTS
def test_no_patch_is_called_so_of_a_stock_whose_rolls_differ(count):
    """Rolls differ by a quarter of a stop, more than reading does: two of each stock tell by how much."""
    wrong, claimed = false_and_true_claims(list(made(count, 62, rolls=2, roll_sd=0.25)))
    assert not wrong, "\n".join(wrong)
    assert claimed >= count / 2


def test_lighter_and_darker_patches_stand_with_their_numbers():
    shifts = {
        "Red": shift(0.42, 0.30, 0.54),
        "Blue": shift(-1.2, -1.4, -1.0),
        "Green": shift(0.05, -0.1, 0.2),
    }
    (said,) = describe_colours(shifts, "daylight")
    assert said.text == (
        "By daylight, Red (+0.42 stop [0.30 to 0.54]) is rendered lighter, "
        "Blue (−1.20 stops [−1.40 to −1.00]) darker than a grey of equal luminance; "
        "Green cannot surely be told from grey."
    )
    assert said.measure_names == ("colour_shift",)


def test_a_difference_is_said_to_be_open_as_rolls_of_one_stock_may_differ():
    claim, is_open = describe_colour_differences(compared(), "tungsten")
    assert claim.text == "By tungsten, Red (+0.42 stop [0.30 to 0.54]) reads lighter than on the reference."
    assert is_open.text.startswith("Whether this is real is open: beyond reading error")


def test_a_difference_is_claimed_where_it_is_real_and_else_only_read():
    (said,) = describe_colour_differences(
        together(
            compared(REAL),
            compared(REAL, "Blue", -0.9, -1.1, -0.7),
            compared(WITHIN_SPREAD, "Green", 0.2, -0.1, 0.5),
            compared(WITHIN_SPREAD, "Yellow", 0.3, 0.0, 0.6),
            compared(ALIKE, "Skin", 0.02, -0.2, 0.24),
        ),
        "daylight",
    )
    assert said.text == (
        "By daylight, Red (+0.42 stop [0.30 to 0.54]) is lighter, Blue (−0.90 stop [−1.10 to −0.70]) darker"
        " than on the reference; Yellow (+0.30 stop [0.00 to 0.60]) and Green (+0.20 stop [−0.10 to 0.50])"
        " read lighter than on the reference, but within the lab's spread;"
        " Skin cannot surely be told apart from the reference’s."
    )


def test_what_rests_on_one_roll_is_said_of_that_roll():
    (said,) = describe_colours({"Red": shift(0.42, 0.30, 0.54)}, "daylight", is_one_roll=True)
    assert said.text.startswith("By daylight, on the one roll that was read, Red (+0.42 stop")


def test_no_patch_is_claimed_where_none_stands_out():
    (said,) = describe_colour_differences(compared(ALIKE, "Red", 0.1, -0.1, 0.3), "daylight")
    assert said.text == "By daylight, no patch can surely be told apart from the reference’s."
    (said,) = describe_colours({"Red": shift(0.9)}, "daylight")
    assert said.text == "By daylight, no patch can surely be told from grey.", "a number without an interval"


def test_one_of_many_has_to_stand_out_further():
    """At 1.7 times its 95 % interval a lone patch is told, one of twelve is not: chance would do that."""
    lone = {"Red": shift(0.17, 0.07, 0.27)}
    many = lone | {f"Patch {number}": shift(0.0, -0.1, 0.1) for number in range(11)}
    assert "Red (" in describe_colours(lone, "daylight")[0].text
    assert "no patch" in describe_colours(many, "daylight")[0].text


def test_many_patches_are_counted_and_the_greatest_named():
    shifts = {f"Patch {number}": shift(0.1 * number, 0.1 * number - 0.02, 0.1 * number + 0.02)
              for number in range(1, 7)}  # fmt: skip
    (said,) = describe_colours(shifts, "daylight")
    assert "Patch 6 (" in said.text and "Patch 4 (" in said.text and "Patch 3 (" not in said.text
    assert "and 3 others are rendered lighter" in said.text


def test_beside_a_table_the_words_name_patches_and_leave_numbers_and_reasons_to_it():
    toe = withheld("colour_shift_difference", "IN_TOE", "stop")
    with_toe = together(compared(), ColourComparison({"Blue": toe}, {"Blue": UNKNOWN}))
    (claim,) = describe_colour_differences(with_toe, "daylight", is_beside_table=True)
    assert claim.text == (
        "By daylight, Red reads lighter than on the reference; whether that is real is open."
    )
    own = {"Red": shift(-0.42, -0.54, -0.30), "Blue": withheld("colour_shift", "IN_TOE", "stop")}
    (claim,) = describe_colours(own, "daylight", is_beside_table=True)
    assert claim.text == "By daylight, Red is rendered darker than a grey of equal luminance."


def test_what_is_withheld_is_said_with_its_reason_once():
    shifts = {name: withheld("colour_shift", "IN_TOE", "stop") for name in ("Red", "Orange")}
    (said,) = describe_colours(shifts, "daylight")
    assert said.text.startswith("Not known: the rendering of Red and Orange. The patch lies in the toe")
    assert (
        describe_colours({}, "daylight")
        == ()
        == describe_colour_differences(ColourComparison({}, {}), "daylight")
    )


def test_every_clause_rests_on_measures_of_the_registry():
    sentences = (
        *describe_colours({"Red": shift(0.4, 0.3, 0.5)}, "daylight"),
        *(
            text
            for verdict in VERDICTS
            for text in describe_colour_differences(compared(verdict), "daylight")
        ),
    )
    assert all(name in MEASURES for sentence in sentences for name in sentence.measure_names)
