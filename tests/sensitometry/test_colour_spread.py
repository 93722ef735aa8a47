"""The spread in colour from roll to roll: found again, taken into intervals, and no false 'real' by it."""

import json
import math

import numpy as np
import pytest

from curves.sensitometry.comparing.colour_spread import (
    ColourSpread,
    RollColours,
    compare_colours,
    estimate_colour_spread,
    pool_colours,
)
from curves.sensitometry.comparing.comparison import ALIKE, REAL, UNKNOWN, WITHIN_SPREAD
from curves.sensitometry.comparing.word_scales import reach_of_many
from curves.sensitometry.intervals import Z95, measure_with_error
from curves.sensitometry.measures import Measure, withheld

PATCHES = ("Red", "Orange", "Yellow", "Green", "Blue", "Violet")
ERROR, OF_GREYS = 0.06, 0.035  # stop: of a shift in all, and the part that a roll's greys give to all patches
#: How much of the spread each patch has where it is the light's cast: most at the ends, a mean square of one.
CAST = np.array([1.6, 0.9, 0.2, -0.2, -0.6, -1.4])
NONE = estimate_colour_spread([])


def shift(value, error=ERROR):
    return measure_with_error("colour_shift", value, error, "stop")


def roll(stock, error=ERROR, own=None, **values):
    """A roll whose patches have these shifts [stop]."""
    shifts = {patch: shift(value, error) for patch, value in values.items()}
    return RollColours(stock, shifts, dict.fromkeys(shifts, error if own is None else own))


def rolls_of(counts, sd, rng, *, kind="apart", truths=None, stated=ERROR):
    """Rolls of a lab, a stock a count; ``kind`` says how the spread lies over the patches of a roll."""
    found = []
    for stock, count in enumerate(counts):
        truth = np.zeros(len(PATCHES)) if truths is None else truths[stock]
        for _ in range(count):
            if kind == "apart":
                between = sd * rng.normal(size=len(PATCHES))
            else:
                between = sd * rng.normal() * (np.sign(CAST) if kind == "together" else CAST)
            read = rng.normal(0, math.sqrt(ERROR**2 - OF_GREYS**2), len(PATCHES)) - rng.normal(0, OF_GREYS)
            values = dict(zip(PATCHES, (truth + between + read).tolist(), strict=True))
            found.append(roll(f"stock {stock}", stated, **values))
    return found


def of_stock(rolls, number, spread):
    return pool_colours([each for each in rolls if each.stock == f"stock {number}"], spread)


# --- The estimate


def test_squares_within_stocks_by_hand():
    """SS = 0.02 + 0.08 + 0.02 of four degrees, so 0.03; a reading's 0.01 off. Chi-square as tabulated."""
    values = {"A": (0.0, 0.2), "B": (0.1, 0.3, 0.5), "C": (1.0, 1.2), "alone": (9.0,)}
    rolls = [roll(stock, 0.1, Red=value) for stock, own in values.items() for value in own]
    found = estimate_colour_spread(rolls)
    assert found.sd.value == pytest.approx(math.sqrt(0.02)) and found.sd.unit == "stop"
    assert found.sd.low == pytest.approx(math.sqrt(max(4 * 0.03 / 11.1433 - 0.01, 0)), rel=1e-4)
    assert found.sd.high == pytest.approx(math.sqrt(4 * 0.03 / 0.484419 - 0.01), rel=1e-4)
    # Student's t of four degrees is 2.776445.
    assert found.roll_sd == pytest.approx(math.sqrt(0.03 * (2.776445 / Z95) ** 2 - 0.01), rel=1e-6)
    assert (found.degrees_of_freedom, found.roll_count, found.stock_count) == (4, 7, 3)
    assert json.dumps(found.to_dict(), allow_nan=False)


def test_fewer_than_four_degrees_withhold_it_and_say_why():
    rolls = [roll(stock, Red=value) for stock in "AB" for value in (0.0, 0.2)]
    found = estimate_colour_spread(rolls)
    assert found.roll_sd is None and found.sd.reason == "TOO_FEW_GROUPS"
    assert found.sd.note == "rolls beyond each stock’s first count as 2, at least 4 are needed"


def test_patches_of_one_roll_are_no_better_known_than_one_of_them():
    """Twelve differences of patches, but of two rolls: one degree of freedom, however many patches."""
    pair = [roll("A", **dict.fromkeys("pqrstuvwxyz", value)) for value in (0.0, 0.3)]
    assert estimate_colour_spread(pair).degrees_of_freedom == 1
    # A stock of one patch adds to the degrees little more than to the squares: (4 + 6)² / (4 + 36).
    lone = [roll("B", p=value) for value in (0.0, 0.1, 0.2, 0.3, 0.4)]
    six = [roll("A", **dict.fromkeys("pqrstu", value)) for value in (0.0, 0.3)]
    assert estimate_colour_spread([*lone, *six]).degrees_of_freedom == round(100 / 40)


def test_patches_that_two_rolls_tell_do_not_stand_in_for_the_others_of_theirs():
    """Ten patches of two rolls and one of nine: (8 + 10)² / (8 + 2 · 10 + 10²), not the nine's eight."""
    pair = [roll("A", **dict.fromkeys("abcdefghij", value), p=value) for value in (0.0, 0.3)]
    others = [roll("A", p=value / 10) for value in range(7)]
    assert estimate_colour_spread([*pair, *others]).degrees_of_freedom == round(18**2 / 128)
    # Where errors are a roll's own the interval has to hold the truth of such rolls as often as of others.
    rng, held = np.random.default_rng(11), 0
    for _ in range(400):
        found = [(stock, n, 0.1 * rng.normal()) for stock in "AB" for n in range(9 if stock == "A" else 5)]
        rolls = [roll(s, 0.001, **dict.fromkeys("pqrstu" if n < 2 else "p", x)) for s, n, x in found]
        told = estimate_colour_spread(rolls).sd
        held += told.low <= 0.1 <= told.high
    assert held / 400 > 0.92


def test_no_more_than_was_seen_is_taken_off():
    """Readings stated worse than they are: no spread is seen, but an upper end is told all the same."""
    rolls = rolls_of((4, 4, 4), 0.0, np.random.default_rng(3), stated=0.2)
    found = estimate_colour_spread(rolls)
    assert found.sd.value == found.sd.low == 0.0
    assert 0 < found.sd.high < 3 * ERROR and found.roll_sd > 0


def test_what_all_rolls_share_is_not_taken_off():
    """An error that every roll has alike adds nothing to what they differ by."""
    values = (0.0, 0.2, 0.4, 0.1, 0.3)
    shared = [roll("A", 0.1, own=0.0, Red=value) for value in values]
    assert estimate_colour_spread(shared).sd.value == pytest.approx(np.std(values, ddof=1))


def test_shifts_of_one_amount_and_the_order_of_rolls_do_not_matter():
    rng = np.random.default_rng(4)
    rolls = rolls_of((3, 3, 2), 0.05, rng)
    moved = [
        roll(each.stock, **{patch: shift.value + 7 for patch, shift in each.shifts.items()}) for each in rolls
    ]
    assert estimate_colour_spread(moved[::-1]).sd.value == pytest.approx(
        estimate_colour_spread(rolls).sd.value, rel=1e-9
    )


@pytest.mark.parametrize("kind", ["apart", "together", "cast"])
@pytest.mark.parametrize("sd", [0.0, 0.05, 0.15])
def test_intervals_hold_the_truth_and_few_stocks_have_a_false_real(sd, kind):
    """150 labs of six equal stocks: no difference is true, so of 750 stocks 5 % may have a 'real' patch.

    The standard error of a share of 5 % is 0.8 points. Patches that err together are the least that the
    degrees of freedom are counted by; of others the intervals are wider than they need be.
    """
    rng = np.random.default_rng(17)
    held, false, own, squares = [], [], [], []
    for _ in range(150):
        rolls = rolls_of((4, 3, 2, 2, 1, 1), sd, rng, kind=kind)
        spread = estimate_colour_spread(rolls)
        held.append(spread.sd.low <= sd <= spread.sd.high)
        squares.append(spread.sd.value**2)
        base = of_stock(rolls, 0, spread)
        for number in range(1, 6):
            test = of_stock(rolls, number, spread)
            own += [each.low <= 0 <= each.high for each in test.shifts.values()]
            false.append(REAL in compare_colours(test, base, spread).verdicts.values())
    assert np.mean(held) >= 0.95 - 3 * 0.018
    assert np.mean(false) <= 0.05
    assert np.mean(own) >= 0.95 - 0.02
    # What is seen where there is none is a small part of the reading error; else it is unbiased.
    assert np.sqrt(np.mean(squares)) == pytest.approx(max(sd, 0.02), rel=0.1, abs=0.012)


def test_true_differences_are_called_real():
    """A third of a stop between stocks of two rolls each is real in most labs; half a stop in nearly all."""
    rng = np.random.default_rng(18)
    share = {}
    for size in (0.35, 0.5):
        truths = [np.zeros(6), np.array([size, 0, 0, 0, -size, 0]), *[np.zeros(6)] * 3]
        found = []
        for _ in range(100):
            rolls = rolls_of((3, 3, 3, 3, 2), 0.05, rng, truths=truths)
            spread = estimate_colour_spread(rolls)
            verdicts = compare_colours(
                of_stock(rolls, 1, spread), of_stock(rolls, 0, spread), spread
            ).verdicts
            found += [verdicts["Red"] == REAL, verdicts["Blue"] == REAL]
        share[size] = np.mean(found)
    assert share[0.35] > 0.6 and share[0.5] > 0.95, share


# --- A stock's rolls together


def known_spread(sd):
    return ColourSpread(Measure("variance_component", sd, sd / 2, 2 * sd, "stop"), sd, 8, 12, 4)


def test_one_roll_has_the_labs_spread_in_its_interval_where_it_is_known():
    pooled = pool_colours([roll("A", 0.03, Red=0.4)], known_spread(0.04))
    assert pooled.read["Red"].standard_error == pytest.approx(0.03, rel=1e-5)
    assert pooled.shifts["Red"].standard_error == pytest.approx(0.05, rel=1e-5)
    assert not pooled.is_one_roll


def test_one_roll_is_said_to_be_one_where_the_spread_is_not_known():
    pooled = pool_colours([roll("A", 0.03, Red=0.4)], NONE)
    assert pooled.is_one_roll and pooled.shifts["Red"].standard_error == pytest.approx(0.03, rel=1e-5)
    assert "how far rolls of one stock differ is not known" in pooled.shifts["Red"].note


def test_several_rolls_average_reading_and_spread_but_not_what_they_share():
    """Own error 0.03 and spread 0.04 over four rolls: 0.025; the 0.01 that all share stays."""
    rolls = [roll("A", math.hypot(0.03, 0.01), own=0.03, Red=value) for value in (0.1, 0.3, 0.2, 0.2)]
    pooled = pool_colours(rolls, known_spread(0.04)).shifts["Red"]
    assert pooled.value == pytest.approx(0.2)
    assert pooled.standard_error == pytest.approx(math.hypot(0.025, 0.01), rel=1e-4)
    assert pooled.note.startswith("mean of 4 rolls")


def test_rolls_that_differ_widen_their_mean_even_where_the_labs_spread_is_not_known():
    near = pool_colours([roll("A", 0.03, Red=value) for value in (0.30, 0.31)], NONE)
    far = pool_colours([roll("A", 0.03, Red=value) for value in (0.0, 0.6)], NONE)
    assert far.shifts["Red"].standard_error > 2.5 * near.shifts["Red"].standard_error
    assert far.shifts["Red"].low < 0.05 and not far.is_one_roll


def test_a_patch_that_some_rolls_cannot_tell_rests_on_the_others():
    toe = RollColours("A", {"Red": withheld("colour_shift", "IN_TOE", "stop")}, {"Red": None})
    pooled = pool_colours([toe, roll("A", Red=0.2, Blue=0.1)], known_spread(0.04))
    assert pooled.shifts["Red"].value == 0.2 and "one roll" in pooled.shifts["Red"].note
    assert pool_colours([toe, toe], known_spread(0.04)).shifts["Red"].reason == "IN_TOE"


# --- Verdicts


def verdict_of(difference, sd=0.1, error=0.03):
    spread = NONE if sd is None else known_spread(sd)
    test, base = (pool_colours([roll("A", error, Red=v)], spread) for v in (difference, 0.0))
    return compare_colours(test, base, spread).verdicts["Red"]


def test_three_answers_and_not_distinguishable():
    """Reading 0.03 a side: beyond 1.6 · 1.96 · 0.042 = 0.13; with a spread of 0.1 a side beyond 0.46."""
    assert verdict_of(0.10) == ALIKE and verdict_of(-0.15) == WITHIN_SPREAD
    assert verdict_of(0.44) == WITHIN_SPREAD and verdict_of(0.49) == REAL == verdict_of(-0.49)
    assert verdict_of(0.49, None) == UNKNOWN and verdict_of(0.10, None) == ALIKE


def test_one_of_many_patches_has_to_stand_out_further():
    spread = known_spread(0.1)
    others = {f"patch {number}": 0.0 for number in range(11)}
    test, base = (pool_colours([roll("A", 0.03, Red=v, **others)], spread) for v in (0.49, 0.0))
    assert verdict_of(0.49) == REAL
    assert compare_colours(test, base, spread).verdicts["Red"] == WITHIN_SPREAD
    assert reach_of_many(test.shifts.values()) > reach_of_many([shift(0.49)]) == pytest.approx(1.6)


def test_patches_that_cannot_be_compared_have_no_verdict():
    spread = known_spread(0.04)
    base = pool_colours([roll("A", Red=0.0, Green=0.0)], spread)
    test = pool_colours([roll("B", Red=1.0, Blue=1.0)], spread)
    found = compare_colours(test, base, spread)
    assert found.verdicts == {"Red": REAL, "Blue": UNKNOWN, "Green": UNKNOWN}
    assert found.measures["Blue"].reason == "MISSING_MEASURE"


# --- Thin and odd data


def test_thin_and_odd_data():
    bare = RollColours("A", {"Red": Measure("colour_shift", 0.2, unit="stop")}, {"Red": None})
    toe = RollColours("A", {"Red": withheld("colour_shift", "IN_TOE", "stop")}, {"Red": None})
    empty = RollColours("A", {}, {})
    for rolls in ([], [empty] * 9, [toe] * 9, [bare], [roll(str(n), Red=0.1) for n in range(9)]):
        found = estimate_colour_spread(rolls)
        assert (found.roll_sd, found.degrees_of_freedom) == (None, 0)
        assert found.sd.reason == "TOO_FEW_GROUPS"
    assert (
        pool_colours([empty], NONE).shifts
        == {}
        == compare_colours(pool_colours([empty], NONE), pool_colours([], NONE), NONE).measures
    )
    alike = estimate_colour_spread([roll("A", Red=0.3)] * 9)
    assert alike.roll_sd is None and alike.sd.reason == "NO_INTERVAL"
    # Without a known error all that rolls differ by is their spread, and the mean has no interval.
    odd = [
        RollColours("A", {"Red": Measure("colour_shift", v, unit="stop")}, {"Red": None}) for v in range(6)
    ]
    assert estimate_colour_spread(odd).sd.value == pytest.approx(np.std(range(6), ddof=1))
    assert pool_colours(odd, known_spread(0.1)).shifts["Red"].low is None
    wild = [roll("A", Red=value) for value in (-1e9, 1e9, 0.0, 1e-9, 5.0)]
    assert math.isfinite(estimate_colour_spread(wild).sd.high)
