"""The engine's promises to its callers: names, plain JSON, determinism, batches equal to single rolls."""

import json

import numpy as np
import pytest

from curves.sensitometry import (
    FLAGS,
    MEASURES,
    REASONS,
    ROLL_MEASURES,
    Analysis,
    Readings,
    SensitometryError,
    analyse_many,
    analyse_readings,
    compare_with_reference,
    pool_analyses,
)
from tests.sensitometry.truths import SMOOTH, draw_truth, readings_of

STABLE_NAMES = {
    "base_plus_fog", "d_max", "speed_point_log_exposure", "delta_d_130", "iso_speed", "iso_speed_exact",
    "iso_degree", "delta_x_speed", "box_difference_stops", "average_gradient_150", "contrast_index", "gamma",
    "toe_length", "straight_part_start", "straight_part_end", "shoulder_onset", "useful_range",
    "highlight_gradient",
}  # fmt: skip


def rolls(count, seed, kinds=SMOOTH, **conditions):
    rng = np.random.default_rng(seed)
    made = []
    for number in range(count):
        truth = draw_truth(kinds[number % len(kinds)], rng)
        exposure, density, base = readings_of(truth, rng, **conditions)
        made.append(Readings(np.tile(exposure - 3.2, len(density)), density.ravel(), base))
    return made


def test_every_name_that_people_script_is_there():
    analysis = analyse_readings(rolls(1, 1)[0], box_speed=125)
    assert set(analysis.measures) >= STABLE_NAMES
    assert set(analysis.measures) == set(ROLL_MEASURES)
    for name, measure in analysis.measures.items():
        assert measure.unit == MEASURES[name].unit
        assert measure.reason is None or measure.reason in MEASURES[name].reasons


def test_codes_are_explained():
    for definition in MEASURES.values():
        assert set(definition.reasons) <= set(REASONS)
    assert all(text.endswith(".") for text in (*REASONS.values(), *FLAGS.values()))


def test_the_dictionary_is_plain_json_and_restores_exactly():
    analysis = analyse_readings(rolls(1, 2)[0], box_speed=400)
    stored = json.dumps(analysis.to_dict(), allow_nan=False)
    restored = Analysis.from_dict(json.loads(stored))
    assert json.dumps(restored.to_dict(), allow_nan=False) == stored
    assert len(analysis.curve.log_exposure) <= 200


def test_same_input_gives_the_same_bytes():
    first, second = (json.dumps(analyse_readings(rolls(1, 3)[0]).to_dict()) for _ in range(2))
    assert first == second


def test_batch_and_single_agree_to_the_digits_shown():
    made = rolls(40, 4)
    for together, alone in zip(analyse_many(made), map(analyse_readings, made), strict=True):
        assert [flag.code for flag in together.flags] == [flag.code for flag in alone.flags]
        for name, measure in together.measures.items():
            digits = MEASURES[name].decimals
            for field in ("value", "low", "high"):
                ours, theirs = getattr(measure, field), getattr(alone.measures[name], field)
                assert (ours is None) == (theirs is None), name
                # Ten times finer than what is shown: the sums are the same but for their order.
                assert ours is None or abs(ours - theirs) < 0.1 * 10.0**-digits, name


def test_stored_results_are_enough_to_compare():
    test, reference = analyse_many(rolls(2, 5))
    stored = [Analysis.from_dict(json.loads(json.dumps(each.to_dict()))) for each in (test, reference)]
    fresh, later = compare_with_reference(test, reference), compare_with_reference(*stored)
    assert json.dumps(fresh.to_dict()) == json.dumps(later.to_dict())


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (dict(log_exposure=[1, 2], density=[1]), "LENGTHS_DIFFER"),
        (dict(log_exposure=[1, 2], density=[1, 2], step=[1]), "LENGTHS_DIFFER"),
        (dict(log_exposure=[1, 2], density=["a", 2]), "NOT_NUMBERS"),
        (dict(log_exposure=[[1, 2]], density=[1, 2]), "NOT_A_LIST"),
        (dict(log_exposure=[1, 2], density=[1, 2], exposure="bright"), "UNKNOWN_EXPOSURE"),
        (dict(log_exposure=[1, 2], density=[1, 2], reading_sd=-1.0), "BAD_SD"),
        (dict(log_exposure=[1, 2], density=[1, 2], tablet_sd=float("nan")), "BAD_SD"),
    ],
)
def test_misuse_is_told(arguments, code):
    with pytest.raises(SensitometryError) as caught:
        Readings(**arguments)
    assert caught.value.code == code


def test_misuse_of_the_functions_is_told():
    roll = rolls(1, 6)[0]
    analysis = analyse_readings(roll)
    with pytest.raises(SensitometryError):
        analyse_readings(roll, box_speed=0)
    with pytest.raises(SensitometryError):
        analyse_many([roll], box_speeds=[])
    with pytest.raises(SensitometryError):
        pool_analyses([])
    with pytest.raises(SensitometryError):
        compare_with_reference(analysis, analysis, lab_spread={"luck": 1.0})
