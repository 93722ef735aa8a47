"""Gauge study of the measurement systems manual: ten parts, three appraisers, three trials.

Readings and printed results from memory; they are reproduced to the digits given, by both methods. Package
beside: statsmodels' two-way analysis of variance.
"""

import json

import numpy as np
import pandas
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from curves.sensitometry.agreeing.gauge_study import gauge_study
from curves.sensitometry.measures import SensitometryError

#: Rows: appraiser and trial; columns: parts.
ROWS = [
    [0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36],
    [0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25],
    [0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31],
    [0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68],
    [0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62],
    [0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50],
    [0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49],
    [-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77],
    [-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16],
]
TABLE = np.array(ROWS).reshape(3, 3, 10).transpose(2, 0, 1)


def test_by_the_mean_range():
    found = gauge_study(TABLE, method="range", unit="mm")
    values = {name: each.value for name, each in found.components.items()}
    # The manual's factors have four decimals, hence half a unit in the fourth significant digit.
    assert values["repeatability"] == pytest.approx(0.20186, abs=2e-5)
    assert values["operators"] == pytest.approx(0.22967, abs=2e-5)
    assert values["gauge"] == pytest.approx(0.30577, abs=2e-5)
    assert values["parts"] == pytest.approx(1.10460, abs=1.5e-4)
    assert values["total"] == pytest.approx(1.14613, abs=1.5e-4)
    assert found.shares["gauge"] == pytest.approx(26.68, abs=6e-3)
    assert (found.method, found.distinct) == ("range", 5)
    assert found.components["gauge"].low is None


def test_by_analysis_of_variance():
    found = gauge_study(TABLE, unit="mm")
    assert found.interaction_f == pytest.approx(0.434, abs=5e-4)
    assert found.interaction_p == pytest.approx(0.974, abs=5e-4)
    assert found.method == "anova pooled"
    values = {name: each.value for name, each in found.components.items()}
    assert values["repeatability"] == pytest.approx(0.199933, abs=5.5e-7)
    assert values["operators"] == pytest.approx(0.226838, abs=5.5e-7)
    assert values["gauge"] == pytest.approx(0.302372, abs=6e-7)
    assert values["parts"] == pytest.approx(1.042327, abs=5.5e-7)
    assert found.shares["gauge"] == pytest.approx(27.86, abs=5e-3)
    assert found.distinct == 4


def test_beside_statsmodels_analysis_of_variance():
    parts, operators, _ = np.meshgrid(range(10), range(3), range(3), indexing="ij")
    frame = pandas.DataFrame({"part": parts.ravel(), "operator": operators.ravel(), "value": TABLE.ravel()})
    table = anova_lm(ols("value ~ C(part) * C(operator)", frame).fit())
    found = gauge_study(TABLE)
    assert found.interaction_f == pytest.approx(table["F"]["C(part):C(operator)"], rel=1e-8)
    assert found.interaction_p == pytest.approx(table["PR(>F)"]["C(part):C(operator)"], rel=1e-8)
    pooled = anova_lm(ols("value ~ C(part) + C(operator)", frame).fit())["mean_sq"]
    assert found.components["repeatability"].value == pytest.approx(np.sqrt(pooled["Residual"]), rel=1e-9)
    operator = (pooled["C(operator)"] - pooled["Residual"]) / 30
    assert found.components["operators"].value == pytest.approx(np.sqrt(operator), rel=1e-9)


def draw(rng, part, operator, interaction, error, shape=(10, 4, 3)):
    return (
        0.8
        + rng.normal(0, part, shape[0])[:, None, None]
        + rng.normal(0, operator, shape[1])[None, :, None]
        + rng.normal(0, interaction, shape[:2])[:, :, None]
        + rng.normal(0, error, shape)
    )


def test_a_real_interaction_is_kept_and_intervals_hold_the_truth():
    """500 studies with four operators; 95 % nominal, standard error 1 point."""
    rng = np.random.default_rng(51)
    truth = {"repeatability": 0.005, "operators": 0.01, "interaction": 0.01, "parts": 0.3}
    truth["gauge"] = float(np.sqrt(0.005**2 + 0.01**2 + 0.01**2))
    held = dict.fromkeys(truth, 0)
    for _ in range(500):
        found = gauge_study(draw(rng, 0.3, 0.01, 0.01, 0.005))
        assert found.method == "anova"
        for name, value in truth.items():
            held[name] += found.components[name].low <= value <= found.components[name].high
    assert all(0.92 <= count / 500 <= 0.985 for count in held.values()), held


def test_the_two_methods_agree_where_there_is_no_interaction():
    rng = np.random.default_rng(52)
    ratios = []
    for _ in range(200):
        table = draw(rng, 0.3, 0.02, 0.0, 0.01)
        first, second = (gauge_study(table, method=method).components for method in ("anova", "range"))
        ratios.append([second[name].value / first[name].value for name in ("repeatability", "gauge")])
    # The mean range is a little less efficient; on average both find the same.
    assert np.mean(ratios, axis=0) == pytest.approx([1, 1], abs=0.03)


@pytest.mark.parametrize(
    "readings",
    [[], [[0.1]], np.zeros((1, 2, 2)), np.full((2, 2, 2), np.nan), [[[1, 2], [3]]], "dark"],
)
def test_incomplete_studies_are_refused(readings):
    with pytest.raises(SensitometryError):
        gauge_study(readings)


def test_other_methods_are_refused_and_equal_readings_survive():
    with pytest.raises(SensitometryError):
        gauge_study(TABLE, method="luck")
    with pytest.raises(SensitometryError):
        gauge_study(np.zeros((30, 2, 2)), method="range")
    for method in ("anova", "range"):
        alike = gauge_study(np.full((3, 2, 2), 0.7), method=method)
        assert alike.distinct is None
        assert json.dumps(alike.to_dict(), allow_nan=False)
