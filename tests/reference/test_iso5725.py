"""Precision of a method: ISO 5725-2, sulphur in coal (its Annex B), and critical values as tabulated.

Data and tables from memory; that the published standard deviations of 0.015 and 0.026 come out speaks for
the memory of the data. Package beside: statsmodels' analysis of variance.
"""

import numpy as np
import pandas
import pytest
from scipy.stats import f as f_distribution
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from curves.sensitometry.agreeing.mandel import h_indicator, k_indicator
from curves.sensitometry.agreeing.outlier_limits import (
    cochran_critical,
    grubbs_critical,
    grubbs_pair_critical,
    grubbs_pair_probability,
)
from curves.sensitometry.agreeing.outlier_tests import grubbs_tests
from curves.sensitometry.agreeing.precision import repeatability_and_reproducibility

COAL = {
    "1": [0.71, 0.71, 0.70, 0.71], "2": [0.69, 0.67, 0.68], "3": [0.66, 0.65, 0.69],
    "4": [0.67, 0.65, 0.66], "5": [0.70, 0.69, 0.66, 0.71, 0.69], "6": [0.73, 0.74, 0.73],
    "7": [0.71, 0.71, 0.69], "8": [0.70, 0.65, 0.68],
}  # fmt: skip
LABELS = [label for label, readings in COAL.items() for _ in readings]
VALUES = [value for readings in COAL.values() for value in readings]


def test_sulphur_in_coal():
    result = repeatability_and_reproducibility(LABELS, VALUES, unit="%")
    assert result.mean.value == pytest.approx(0.6904, abs=5e-5)
    assert result.repeatability_sd.value == pytest.approx(0.0151, abs=5.5e-5)
    assert result.reproducibility_sd.value == pytest.approx(0.0264, abs=5.5e-5)
    assert result.repeatability_limit.value == pytest.approx(2.8 * 0.0151, abs=2e-4)
    assert {test.verdict for test in result.tests} == {"correct"}
    assert [test.test for test in result.tests] == [
        "cochran", "grubbs_high", "grubbs_low", "grubbs_two_high", "grubbs_two_low",
    ]  # fmt: skip


def test_beside_statsmodels_analysis_of_variance():
    frame = pandas.DataFrame({"lab": LABELS, "value": VALUES})
    table = anova_lm(ols("value ~ C(lab)", frame).fit())
    within, between = table["mean_sq"]["Residual"], table["mean_sq"]["C(lab)"]
    sizes = np.array([len(each) for each in COAL.values()])
    typical = (sizes.sum() - (sizes**2).sum() / sizes.sum()) / (sizes.size - 1)
    result = repeatability_and_reproducibility(LABELS, VALUES, unit="%")
    assert result.repeatability_sd.value == pytest.approx(np.sqrt(within), rel=1e-9)
    assert result.between_sd.value == pytest.approx(np.sqrt((between - within) / typical), rel=1e-9)


# Columns: members, 1 % and 5 %, as tabulated (from memory).
COCHRAN_3 = [(3, 0.942, 0.871), (5, 0.788, 0.684), (8, 0.615, 0.516), (10, 0.536, 0.445), (20, 0.330, 0.270)]
GRUBBS = [(3, 1.155, 1.155), (5, 1.764, 1.715), (8, 2.274, 2.126), (10, 2.482, 2.290), (20, 3.001, 2.709)]
PAIRS = [
    (5, 0.0018, 0.0090),
    (6, 0.0116, 0.0349),
    (8, 0.0563, 0.1101),
    (10, 0.1150, 0.1864),
    (20, 0.3585, 0.4391),
]


@pytest.mark.parametrize(("members", "one", "five"), COCHRAN_3)
def test_cochrans_critical_values_for_three_readings(members, one, five):
    assert cochran_critical(members, 3, 0.01) == pytest.approx(one, abs=6e-4)
    assert cochran_critical(members, 3) == pytest.approx(five, abs=6e-4)


@pytest.mark.parametrize(("members", "one", "five"), GRUBBS)
def test_grubbs_critical_values(members, one, five):
    """The tables were computed by other means in their day; the last digit is not always ours."""
    assert grubbs_critical(members, 0.01) == pytest.approx(one, abs=1e-3)
    assert grubbs_critical(members) == pytest.approx(five, abs=1e-3)


@pytest.mark.parametrize(("members", "one", "five"), PAIRS)
def test_grubbs_critical_values_for_two_members(members, one, five):
    """The last digit is not always ours here either."""
    assert grubbs_pair_critical(members, 0.01) == pytest.approx(one, abs=1.5e-4)
    assert grubbs_pair_critical(members) == pytest.approx(five, abs=1.5e-4)


@pytest.mark.parametrize("members", [4, 8, 15, 40])
def test_the_chance_of_two_outliers_by_simulation(members):
    rng = np.random.default_rng(31)
    drawn = np.sort(rng.standard_normal((40_000, members)), axis=1)
    ratio = drawn[:, :-2].var(axis=1) * (members - 2) / (drawn.var(axis=1) * members)
    for share in (0.02, 0.2, 0.6):
        at = float(np.quantile(ratio, share))
        # The quantile's own standard error, three times over.
        error = 3 * np.sqrt(share * (1 - share) / 40_000)
        assert grubbs_pair_probability(members, at) == pytest.approx(share, abs=error + 0.004 * share)


def test_mandels_indicator_lines():
    """Eight members: h 1.75 and 2.06 at 5 and 1 %, k for three readings 1.67 at 5 % (from memory)."""
    assert [h_indicator(8, a) for a in (0.05, 0.01)] == pytest.approx([1.75, 2.06], abs=6e-3)
    assert k_indicator(8, 3, 0.05) == pytest.approx(1.67, abs=6e-3)
    greatest = f_distribution.ppf(0.99, 2, 14)
    assert k_indicator(8, 3, 0.01) ** 2 == pytest.approx(8 * greatest / (greatest + 7))


def test_one_member_that_is_far_off_is_named():
    tests = {test.test: test for test in grubbs_tests([0.70, 0.69, 0.71, 0.70, 0.95, 0.70, 0.69])}
    assert (tests["grubbs_high"].groups, tests["grubbs_high"].verdict) == ((4,), "outlier")
    assert tests["grubbs_low"].verdict == "correct"


def test_two_members_that_hide_each_other_are_named():
    means = [0.70, 0.69, 0.71, 0.70, 0.95, 0.94, 0.69, 0.70]
    tests = {test.test: test for test in grubbs_tests(means)}
    assert tests["grubbs_high"].verdict == "correct"
    assert (set(tests["grubbs_two_high"].groups), tests["grubbs_two_high"].verdict) == ({4, 5}, "outlier")
