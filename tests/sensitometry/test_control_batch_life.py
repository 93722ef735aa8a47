"""Life of a developer batch: trends and lives with honest intervals, and nothing beyond what was observed."""

import json

import numpy as np
import pytest

from curves.sensitometry.codes import REASONS
from curves.sensitometry.controlling.batch_life import batch_life
from curves.sensitometry.measures import SensitometryError

FILMS = 2.0 * np.arange(16)
LIMITS = (-0.09, 0.09)
NAN = float("nan")


def strips(rng, slope=-0.004, start=0.0, sd=0.012):
    """Contrast deviations of a batch whose contrast falls by 0.004 D a film: -0.09 D after 22.5 films."""
    return start + slope * FILMS + rng.normal(0, sd, FILMS.size)


def test_an_exact_line_is_read_exactly():
    life = batch_life(FILMS, -0.004 * FILMS, LIMITS)
    assert life.trend.value == pytest.approx(-0.004)
    assert life.films_to_limit.value == pytest.approx(22.5)
    assert (life.limit, life.observed) == (-0.09, (0.0, 30.0))
    assert life.start.value == pytest.approx(0.0, abs=1e-12)


def test_intervals_hold_the_truth():
    """1500 batches; 95 % nominal, standard error 0.6 points. An open end holds whatever lies beyond."""
    rng = np.random.default_rng(101)
    held = {"trend": [], "life": []}
    for _ in range(1500):
        life = batch_life(FILMS, strips(rng), LIMITS)
        held["trend"].append(life.trend.low <= -0.004 <= life.trend.high)
        found = life.films_to_limit
        if found.value is not None:
            held["life"].append(found.low <= 22.5 <= (found.high or np.inf))
    assert len(held["life"]) > 1400
    for name, each in held.items():
        assert 0.93 <= np.mean(each) <= 0.975, name


def test_rising_batches_meet_the_upper_limit():
    life = batch_life(FILMS, strips(np.random.default_rng(102), slope=0.004), LIMITS)
    assert life.limit == 0.09
    assert life.films_to_limit.value == pytest.approx(22.5, abs=4)


def test_nothing_is_said_beyond_what_was_observed():
    few = FILMS[:8]
    life = batch_life(few, -0.004 * few + np.random.default_rng(103).normal(0, 0.005, 8), LIMITS)
    assert life.trend.value is not None
    assert life.films_to_limit.reason == "NOT_MET"
    assert "14 films" in life.films_to_limit.note
    # Met near the last strip: the value stands, its upper end is open.
    near = FILMS[:13]
    late = batch_life(near, -0.004 * near + np.random.default_rng(104).normal(0, 0.012, 13), LIMITS)
    assert late.films_to_limit.high is None
    assert "open" in late.films_to_limit.note


def test_no_trend_and_past_the_limit():
    flat = batch_life(FILMS, 0.01 * (-1.0) ** np.arange(16), LIMITS)
    assert flat.films_to_limit.reason == "NO_TREND"
    assert flat.limit is None
    past = batch_life(FILMS, strips(np.random.default_rng(105), start=-0.2), LIMITS)
    assert past.films_to_limit.reason == "BELOW_RANGE"


def test_batches_share_a_trend_and_keep_their_starts():
    rng = np.random.default_rng(106)
    films, labels = np.tile(FILMS, 2), ["first"] * 16 + ["second"] * 16
    values = np.concatenate([strips(rng, start=0.03, sd=0.004), strips(rng, start=-0.03, sd=0.004)])
    life = batch_life(films, values, LIMITS, batch=labels)
    assert life.trend.value == pytest.approx(-0.004, abs=3e-4)
    assert life.start.value == pytest.approx(-0.03, abs=0.006)
    # The second batch starts 0.03 lower and lives 7.5 films less.
    assert life.films_to_limit.value == pytest.approx(15, abs=2)
    assert life.scatter == pytest.approx(0.004, rel=0.5)
    # Taken as one batch, the different starts would widen everything.
    assert batch_life(films, values, LIMITS).scatter > 4 * life.scatter


def test_films_and_age_are_told_apart_where_they_can_be():
    rng = np.random.default_rng(107)
    held = np.zeros(2)
    for _ in range(300):
        age = rng.uniform(0, 60, 16)
        values = strips(rng) - 0.001 * age
        life = batch_life(FILMS, values, LIMITS, others={"age_days": age})
        ends = (life.separate["films"], -0.004), (life.separate["age_days"], -0.001)
        held += [each.low <= truth <= each.high for each, truth in ends]
    assert held / 300 == pytest.approx([0.95, 0.95], abs=0.04)
    assert life.separate["age_days"].unit == "D per day"
    together = batch_life(FILMS, values, LIMITS, others={"age_days": 2 * FILMS, "replenisher_l": FILMS / 10})
    assert {each.reason for each in together.separate.values()} == {"ILL_DEFINED"}
    assert together.trend.value is not None
    unknown = batch_life(FILMS, values, LIMITS, others={"age_days": [NAN] * 16})
    assert unknown.separate["age_days"].reason == "ILL_DEFINED"
    nearly = batch_life(FILMS, values, LIMITS, others={"age_days": 2 * FILMS + rng.normal(0, 1, 16)})
    assert nearly.separate["films"].reason == "ILL_DEFINED"


@pytest.mark.parametrize(
    ("films", "values", "batch"),
    [
        ([], [], None),
        ([0, 5, 10, 15], [0, 0, 0, 0.01], None),
        ([5] * 8, [0.01] * 8, None),
        ([0, 5] * 4, [0.01] * 8, None),
        ([0, 5, 10, NAN, 20], [0, None, 0, 0, 0.01], None),
        ([0, 5, 10, 15, 20, 25], [0.0] * 6, list("abcdef")),
        ([0, 0, 0, 0, 9, 9, 9, 12, 12], [0.0] * 9, list("aaaabbbcc")),
    ],
)
def test_too_few_strips_are_withheld(films, values, batch):
    life = batch_life(films, values, LIMITS, batch=batch, others={"age_days": [1.0] * len(films)})
    measures = (life.trend, life.films_to_limit, life.start, *life.separate.values())
    assert {each.reason for each in measures} == {"TOO_FEW_STRIPS"}
    assert json.dumps(life.to_dict(), allow_nan=False)
    assert all(each.reason in REASONS for each in measures)


@pytest.mark.parametrize(
    "call",
    [
        lambda: batch_life([0, 1], [0.0], LIMITS),
        lambda: batch_life([0], [0.0], (0.01, 0.09)),
        lambda: batch_life([0], [0.0], (-0.09, NAN)),
        lambda: batch_life([0], [0.0], LIMITS, batch=[]),
        lambda: batch_life([0], [0.0], LIMITS, others={"luck": [1.0]}),
        lambda: batch_life([0], [0.0], LIMITS, others={"age_days": []}),
    ],
)
def test_misuse_is_told(call):
    with pytest.raises(SensitometryError):
        call()
