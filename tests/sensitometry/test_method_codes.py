"""Hostile input to everything beside the curve: a finite number or a known reason, never an exception.

`SensitometryError` is for the caller's mistakes (lists of unequal length, impossible settings) and is allowed
where a function says so; anything else that is raised, or a reason without a sentence, fails.
"""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curves.sensitometry.codes import REASONS
from curves.sensitometry.colour_response import Patch, filter_factor, patch_shifts
from curves.sensitometry.comparing.equivalence import Margin, compare_films
from curves.sensitometry.comparing.resampling import resampled_films
from curves.sensitometry.densities import callier_factor, density_from_transmittance, mean_density
from curves.sensitometry.developing.development import (
    DevelopmentFamily,
    aim_contrast,
    speed_at_standard_contrast,
    time_for_contrast,
)
from curves.sensitometry.developing.development_rate import fit_time_contrast
from curves.sensitometry.developing.development_temperature import (
    fit_temperature_coefficient,
    time_at_temperature,
)
from curves.sensitometry.exposing.bracket import Bracket, match_bracket
from curves.sensitometry.exposing.reciprocity import (
    ReciprocityLaw,
    corrected_time,
    exposure_loss,
    fit_reciprocity,
)
from curves.sensitometry.exposing.shadow_match import match_shadows
from curves.sensitometry.measures import Measure, SensitometryError
from curves.sensitometry.method_codes import METHOD_REASONS
from curves.sensitometry.printing.paper import analyse_paper
from curves.sensitometry.printing.print_exposure import print_time_for_density_change, print_time_for_tone
from curves.sensitometry.printing.tone_reproduction import print_log_exposure_for_tone, reproduce_tones
from curves.sensitometry.printing.tone_separation import merging_tones
from curves.sensitometry.registry import MEASURES
from curves.sensitometry.registry.method_definitions import METHOD_DEFINITIONS
from curves.sensitometry.regression import deming_line, york_line
from curves.sensitometry.sampled_curve import SampledCurve

ODD = [
    float("nan"),
    float("inf"),
    -float("inf"),
    0.0,
    -0.0,
    1e-300,
    -1e300,
    1e300,
    1e12,
    -1.0,
    0.5,
    1.0,
    20.0,
]
NUMBER = st.one_of(st.sampled_from(ODD), st.floats(-5, 5), st.floats(allow_nan=True, allow_infinity=True))
HOSTILE = settings(deadline=None, max_examples=80, suppress_health_check=[HealthCheck.too_slow])
METHOD_MEASURES = {definition.name: definition for definition in METHOD_DEFINITIONS}
X = np.linspace(-2, 1, 31)
CURVE = SampledCurve.through(X, 0.1 + 2 / (1 + np.exp(-3 * X)), 0.01)


def lists(count):
    return st.integers(0, 12).flatmap(
        lambda n: st.tuples(*(st.lists(NUMBER, min_size=n, max_size=n) for _ in range(count)))
    )


def check(*results):
    """Every measure in a result is a number, or has a reason with a sentence that its registry names."""
    for result in results:
        if isinstance(result, Measure):
            assert result.value is not None or result.reason in {**REASONS, **METHOD_REASONS}
            if result.name != "x":
                definition = METHOD_MEASURES[result.name]
                # The line of two instruments has the unit of what they read.
                assert result.unit == definition.unit or result.name == "intercept", result
                assert result.reason is None or result.reason in definition.reasons, result
        elif isinstance(result, dict):
            check(*result.values())
        elif isinstance(result, list | tuple):
            check(*result)


def test_every_reason_is_a_sentence_and_none_hides_one_of_the_engines():
    assert all(REASONS.get(code, sentence) == sentence for code, sentence in METHOD_REASONS.items())
    for code, sentence in METHOD_REASONS.items():
        assert code == code.upper()
        assert sentence[0].isupper()
        assert sentence.endswith(".")


def test_every_measure_is_explained_and_every_reason_it_names_has_a_sentence():
    known = {**REASONS, **METHOD_REASONS}
    for name, definition in METHOD_MEASURES.items():
        assert name not in MEASURES or MEASURES[name] is definition
        assert definition.formula.endswith(".")
        assert definition.explanation.endswith(".")
        assert definition.source.endswith(".")
        assert set(definition.reasons) <= set(known), name


@HOSTILE
@given(lists(3), NUMBER)
def test_development(values, aim):
    times, contrasts, others = values
    family = DevelopmentFamily.of(times, contrasts, np.abs(others) if others else 0.01)
    law = fit_time_contrast(family)
    check(
        time_for_contrast(family, aim),
        law.contrast_limit,
        law.rate_per_min,
        law.time_for(aim),
        law.contrast_at(aim),
    )
    points = np.resize(np.asarray(others or [0.0]), family.time_min.size)
    check(speed_at_standard_contrast(family, points, 0.02))
    check(fit_temperature_coefficient(times, contrasts), aim_contrast(aim, 2.0, 0.4), aim_contrast(1.05, aim))


@HOSTILE
@given(NUMBER, NUMBER, NUMBER, NUMBER)
def test_single_numbers(a, b, c, d):
    check(
        time_at_temperature(a, b, c, known_at_c=d),
        time_at_temperature(8, 21, 2.5, coefficient_sd=abs(a) if np.isfinite(a) and abs(a) < 10 else 0.1),
        density_from_transmittance(a),
        callier_factor(a, b),
        print_time_for_density_change(a, b, callier_factor=c),
        print_time_for_tone(CURVE, a, b, c),
        filter_factor(CURVE, a, b, c),
        print_log_exposure_for_tone(CURVE, CURVE, a, b, c),
    )
    check(
        corrected_time(ReciprocityLaw("power", 1.3, 100, 0.1), a),
        exposure_loss(ReciprocityLaw("power", 1.3, 100, 0.1), a),
    )


@HOSTILE
@given(lists(2), NUMBER, NUMBER)
def test_brackets(values, wanted, index):
    check(match_bracket(Bracket.of(*values, density_sd=0.01), wanted, index))


@HOSTILE
@given(lists(2))
def test_lists_of_readings(values):
    first, second = values
    lines = deming_line(first, second), york_line(first, second, 0.1, 0.1)
    check(*(part for line in lines for part in (line.intercept, line.slope)))
    check(compare_films("x", first, second, Margin(0.1)).difference)
    check(compare_films("x", first, second, Margin(0.1, is_ratio=True), equal_variances=False).difference)
    check(mean_density(first), resampled_films("x", [[one] for one in first], seed=1))
    for form in ("power", "modified", "additive"):
        law = fit_reciprocity(form, first, second)
        if law is not None:
            check(corrected_time(law, 5.0), exposure_loss(law, 5.0))


@HOSTILE
@given(lists(2), NUMBER)
def test_curves(values, base):
    try:
        curve = SampledCurve.through(*values, 0.01)
    except SensitometryError as error:
        assert error.code == "TOO_FEW_POINTS"
        return
    check(analyse_paper(curve, base), print_time_for_tone(curve, 0.7, 0.5, 0.0))
    check(patch_shifts(curve, [Patch("a", 0.2, 0.5)], [Patch("g", 0.18, 0.6)]))
    based = SampledCurve(
        curve.log_exposure, curve.density, curve.gradient, curve.modes, 0.1, np.zeros(len(curve.modes))
    )
    check(match_shadows(based, based))
    tones = reproduce_tones(
        curve, CURVE, [-1.5, -1.0, -0.5, 0.0], highlight_log_exposure=0.0, print_log_exposure=0.5
    )
    check(merging_tones(tones))


@pytest.mark.parametrize("count", [10_000])
def test_ten_thousand_readings(count):
    rng = np.random.default_rng(3)
    x = np.sort(rng.uniform(0, 3, count))
    line = deming_line(x[:1000], x[:1000] + 0.01 * rng.standard_normal(1000))
    check(line.slope, mean_density(x), compare_films("x", x, x + 0.001, Margin(0.1)).difference)
    check(york_line(x, x + 0.01 * rng.standard_normal(count), 0.01, 0.01).slope)
    check(match_bracket(Bracket.of(100 + x, x, density_sd=0.01), 1.5, 100))
