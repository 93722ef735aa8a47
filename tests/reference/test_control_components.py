"""Variance components beside statsmodels' mixed model, exact sums of squares, and a direct likelihood."""

import numpy as np
import pandas
import pytest
from scipy.stats import nct, t
from statsmodels.regression.mixed_linear_model import MixedLM
from statsmodels.stats.power import TTestIndPower

from curves.sensitometry.controlling.nested_likelihood import NestedReadings, least_deviance
from curves.sensitometry.controlling.planning import _rolls
from curves.sensitometry.controlling.variance_components import variance_components
from tests.sensitometry.control_lab import COMPONENTS, nested_readings


def direct_deviance(values, fixed, paths, variances):
    """The restricted likelihood written out with the whole covariance matrix."""
    covariance = variances[0] * np.eye(len(values))
    for depth in range(len(paths), 0, -1):
        group = np.array([" ".join(map(str, labels)) for labels in zip(*paths[:depth], strict=True)])
        covariance += variances[len(paths) - depth + 1] * (group[:, None] == group)
    inverse = np.linalg.inv(covariance)
    information = fixed.T @ inverse @ fixed
    residual = values - fixed @ np.linalg.solve(information, fixed.T @ inverse @ values)
    logarithms = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1]
    return logarithms + residual @ inverse @ residual


def test_the_likelihood_is_that_of_the_whole_matrix():
    rng = np.random.default_rng(71)
    values, levels, stock = nested_readings(rng, members=3, runs=2, unbalanced=True, stocks=2)
    fixed = (np.array(stock)[:, None] == np.unique(stock)).astype(float)
    paths = list(levels.values())
    readings = NestedReadings.of(values, fixed, paths)
    for _ in range(5):
        variances = rng.uniform(0.1, 2, 5) * 1e-4
        expected = direct_deviance(values, fixed, paths, variances)
        assert readings.deviance(variances[None])[0] == pytest.approx(expected, rel=1e-9)


def test_slopes_are_those_of_finite_differences():
    rng = np.random.default_rng(72)
    values, levels, _ = nested_readings(rng, members=3, runs=2, unbalanced=True)
    readings = NestedReadings.of(values, np.ones((len(values), 1)), list(levels.values()))
    place = np.log(rng.uniform(0.1, 2, 5) * 1e-4)
    steps = 1e-5 * np.eye(5)
    rise = readings.deviance(np.exp(place + steps)) - readings.deviance(np.exp(place - steps))
    # Central differences keep some seven digits here.
    assert readings.slopes(place[None], np.arange(5))[0] == pytest.approx(rise / 2e-5, rel=1e-4, abs=1e-4)


def test_balanced_data_give_the_exact_sums_of_squares():
    """Where no component is zero, restricted likelihood and analysis of variance agree exactly."""
    rng = np.random.default_rng(73)
    table = (
        0.6
        + rng.normal(0, 0.03, (8, 1, 1))
        + rng.normal(0, 0.02, (8, 4, 1))
        + rng.normal(0, 0.008, (8, 4, 3))
    )
    within = table.var(axis=2, ddof=1).mean()
    middle = 3 * table.mean(axis=2).var(axis=1, ddof=1).mean()
    outer = 12 * table.mean(axis=(1, 2)).var(ddof=1)
    expected = [within, (middle - within) / 3, (outer - middle) / 12]
    assert min(expected) > 0
    run, roll, _ = np.meshgrid(range(8), range(4), range(3), indexing="ij")
    found = variance_components(table.ravel(), {"run": run.ravel(), "roll": roll.ravel()}).components
    for name, variance in zip(("reading", "roll", "run"), expected, strict=True):
        # Newton's steps end where the deviance gains less than 1e-7.
        assert found[name].value == pytest.approx(np.sqrt(variance), rel=2e-4)


def test_beside_statsmodels_mixed_model():
    """The same restricted likelihood by another program, on unbalanced data with two stocks."""
    rng = np.random.default_rng(74)
    values, levels, stock = nested_readings(rng, members=6, runs=3, unbalanced=True, stocks=2)
    frame = pandas.DataFrame({"value": 100 * values, "stock": stock, **levels})
    frame["run"] = frame["member"].astype(str) + frame["run"].astype(str)
    frame["roll"] = frame["run"] + " " + frame["roll"].astype(str)
    frame["strip"] = frame["roll"] + " " + frame["strip"].astype(str)
    parts = {name: f"0 + C({name})" for name in ("run", "roll", "strip")}
    model = MixedLM.from_formula(
        "value ~ 0 + C(stock)", groups="member", re_formula="1", vc_formula=parts, data=frame
    )
    theirs = model.fit(reml=True)
    ours = variance_components(values, levels, stock=stock)
    variances = dict(zip(model.exog_vc.names, theirs.vcomp, strict=True))
    variances["member"] = float(theirs.cov_re.iloc[0, 0])
    variances["reading"] = float(theirs.scale)
    fixed = (np.array(stock)[:, None] == np.unique(stock)).astype(float)
    readings = NestedReadings.of(values, fixed, list(levels.values()))
    order = ["reading", "strip", "roll", "run", "member"]
    at_theirs = readings.deviance(np.array([[variances[name] * 1e-4 for name in order]]))[0]
    _, at_ours = least_deviance(readings, np.full(5, np.var(values) / 5))
    assert at_ours <= at_theirs + 1e-6
    for name in order:
        # Their optimiser stops earlier; half a percent of a standard deviation is far within the interval.
        if ours.components[name].value is not None and variances[name] > 1e-3:
            assert 100 * ours.components[name].value == pytest.approx(np.sqrt(variances[name]), rel=5e-3)
    for place, name in enumerate(np.unique(stock)):
        assert 100 * ours.means[name].value == pytest.approx(theirs.fe_params.iloc[place], abs=2e-3)


@pytest.mark.parametrize(("error", "difference"), [(0.4, 1 / 3), (0.2, 1 / 3), (0.06, 0.03), (0.02, 0.03)])
def test_rolls_needed_beside_statsmodels_power(error, difference):
    """``error`` is of a difference of two single rolls: root two of a roll's standard deviation."""
    exact = TTestIndPower().solve_power(
        effect_size=difference / (error / np.sqrt(2)), power=0.9, alpha=0.05, ratio=1.0
    )
    found = _rolls(error, difference, 0.9, 0.05)
    assert found == max(2, int(np.ceil(exact - 1e-9)))
    # And by the noncentral t itself: enough with that many rolls, not with one fewer.
    for count, is_enough in ((found, True), (found - 1, False)):
        if count >= 2:
            shift, degrees = difference * np.sqrt(count) / error, 2 * (count - 1)
            critical = t.ppf(0.975, degrees)
            power = nct.sf(critical, degrees, shift) + nct.cdf(-critical, degrees, shift)
            assert bool(power >= 0.9) is is_enough


def test_the_simulated_components_are_the_ones_asked_for():
    rng = np.random.default_rng(75)
    values, _, _ = nested_readings(rng, members=4000, runs=1, rolls=1, strips=1, readings=1)
    assert values.std() == pytest.approx(np.sqrt(sum(sd**2 for sd in COMPONENTS.values())), rel=0.04)
