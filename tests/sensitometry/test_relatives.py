"""Near relatives: all measures must pass, the nearest come first, the untestable last."""

import numpy as np
import pytest

from curves.sensitometry.comparing.equivalence import Margin, equivalence_from_summary, untestable
from curves.sensitometry.comparing.relatives import alpha_for_all_pairs, combine_results, rank_relatives
from curves.sensitometry.measures import Measure, SensitometryError, withheld

MARGINS = {"log_speed": Margin(0.05), "contrast_index": Margin(0.03)}


def stock(speed, contrast, sd=0.005):
    return {
        "log_speed": Measure("log_speed", speed, speed - 1.96 * sd, speed + 1.96 * sd),
        "contrast_index": Measure("contrast_index", contrast, contrast - 1.96 * sd, contrast + 1.96 * sd),
    }


def test_ranking_and_verdicts():
    others = {
        "far": stock(2.3, 0.60),
        "near": stock(2.01, 0.605),
        "same": stock(2.0, 0.60),
        "vague": stock(2.0, 0.60, sd=0.05),
        "silent": {**stock(2.0, 0.60), "log_speed": withheld("log_speed", "UNCALIBRATED")},
    }
    relations = rank_relatives(stock(2.0, 0.60), others, MARGINS)
    assert [relation.stock for relation in relations] == ["same", "near", "vague", "far", "silent"]
    verdicts = {relation.stock: relation.verdict for relation in relations}
    assert verdicts == {
        "same": "equivalent",
        "near": "equivalent",
        "vague": "not shown",
        "far": "different",
        "silent": "unknown",
    }
    assert relations[-1].closeness is None


def test_a_measure_that_one_stock_lacks_leaves_the_whole_unknown():
    lacking = {"log_speed": stock(2.0, 0.6)["log_speed"]}
    relation = rank_relatives(stock(2.0, 0.60), {"lacking": lacking}, MARGINS)[0]
    assert relation.verdict == "unknown"
    assert relation.results["contrast_index"].difference.reason == "MISSING_MEASURE"


def test_one_clear_difference_outweighs_an_unknown():
    results = {
        "a": equivalence_from_summary("a", 0.5, 0.01, 10, Margin(0.05)),
        "b": untestable("b", 0.05, "TOO_FEW_FILMS"),
    }
    relation = combine_results("x", results)
    assert relation.verdict == "different"
    assert relation.p_value is None


def test_the_union_keeps_its_level_without_correction():
    """At the margin in one measure and equal in the other: claimed in 5 % at most. 2,000 pairs of 5 films."""
    rng = np.random.default_rng(71)
    claims = 0
    for _ in range(2000):
        results = {}
        for name, truth in (("log_speed", 0.05), ("contrast_index", 0.0)):
            sample = rng.normal(truth, 0.008, 5)
            error = sample.std(ddof=1) / np.sqrt(5)
            results[name] = equivalence_from_summary(name, float(sample.mean()), error, 4, Margin(0.05))
        claims += combine_results("x", results).verdict == "equivalent"
    # Three standard errors of 5 % in 2,000 are 1.5 %.
    assert claims / 2000 <= 0.065


def test_p_value_and_closeness_are_the_worst_of_all():
    results = {
        name: equivalence_from_summary(name, difference, 0.01, 10, Margin(0.05))
        for name, difference in (("a", 0.0), ("b", 0.03))
    }
    relation = combine_results("x", results)
    assert relation.p_value == results["b"].p_value
    assert relation.closeness == results["b"].closeness


def test_mistakes_are_refused():
    with pytest.raises(SensitometryError):
        combine_results("x", {})
    with pytest.raises(SensitometryError):
        rank_relatives(stock(2, 0.6), {"a": stock(2, 0.6)}, {})
    with pytest.raises(SensitometryError):
        alpha_for_all_pairs(0.05, 1)
    assert rank_relatives(stock(2, 0.6), {}, MARGINS) == ()
