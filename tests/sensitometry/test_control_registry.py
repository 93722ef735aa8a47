"""Every measure of control and agreement, known or withheld, has its entry and reasons in the registry."""

import numpy as np
import pytest

from curves.sensitometry.agreeing.check_trend import check_trend
from curves.sensitometry.agreeing.difference_plot import difference_plot
from curves.sensitometry.agreeing.gauge_study import gauge_study
from curves.sensitometry.agreeing.instrument_correction import corrected_density, instrument_correction
from curves.sensitometry.agreeing.precision import repeatability_and_reproducibility
from curves.sensitometry.codes import REASONS
from curves.sensitometry.control_codes import CONTROL_REASONS
from curves.sensitometry.controlling.batch_life import batch_life
from curves.sensitometry.controlling.charts import individuals_charts
from curves.sensitometry.controlling.mean_charts import mean_range_charts
from curves.sensitometry.controlling.planning import Design, difference_error, rolls_needed, what_shrinks_most
from curves.sensitometry.controlling.strip_aims import set_aims, stated_aims
from curves.sensitometry.controlling.strip_batches import carry_over
from curves.sensitometry.controlling.strip_reading import classify_strip
from curves.sensitometry.controlling.variance_components import variance_components
from curves.sensitometry.measures import Measure
from curves.sensitometry.registry import CONTROL_MEASURES, MEASURES, METHOD_MEASURES
from tests.sensitometry.control_lab import TRUE_AIMS, nested_readings, read_strip, read_strips

CERTIFIED = {"zero": (0.0, 0.002), "mid": (1.2, 0.005), "high": (2.8, 0.008)}


def measures_in(result):
    """Every `Measure` in a result, however deep."""
    if isinstance(result, Measure):
        return [result]
    if isinstance(result, dict):
        parts = result.values()
    elif isinstance(result, list | tuple):
        parts = result
    elif hasattr(result, "__dataclass_fields__"):
        parts = [getattr(result, name) for name in result.__dataclass_fields__]
    else:
        return []
    return [measure for part in parts for measure in measures_in(part)]


def thin_and_plentiful():
    """Results of everything that control and agreement compute, from plenty of data and from none."""
    rng = np.random.default_rng(121)
    strips = read_strips(rng, 12, strip_batch="old", run="r")
    aims = set_aims(strips)
    new = read_strips(rng, 6, strip_batch="new", run="r")
    values, levels, stock = nested_readings(rng, members=6, runs=2, stocks=2)
    components = variance_components(values, levels, stock=stock)
    few = variance_components([0.6, 0.7], {"run": [1, 2]})
    patches = np.linspace(0.1, 3, 9)
    line = instrument_correction(patches + 0.01, patches + rng.normal(0, 0.004, 9))
    films = 2.0 * np.arange(12)
    days = 7.0 * np.arange(8)
    checks = {level: density + rng.normal(0, 0.005, 8) for level, (density, _) in CERTIFIED.items()}
    return [
        aims, set_aims(strips[:3]), stated_aims(TRUE_AIMS), carry_over(strips, new), carry_over([], []),
        carry_over(strips, new).applied_to(aims), carry_over(strips[:1], new).applied_to(aims),
        classify_strip(read_strip(rng, strip_batch="old"), aims, strips), classify_strip(strips[0], None),
        individuals_charts([0.6, 0.7, 0.65]), individuals_charts([0.6]), mean_range_charts([[0.6, 0.7]] * 3),
        repeatability_and_reproducibility(["a", "a", "b", "b"], [0.6, 0.61, 0.62, 0.6]),
        repeatability_and_reproducibility([], []), gauge_study(rng.normal(0.6, 0.1, (4, 3, 2))),
        gauge_study(rng.normal(0.6, 0.1, (4, 3, 2)), method="range"),
        difference_plot(patches, patches + 0.01), difference_plot([0.7] * 6, [0.7] * 6),
        difference_plot([], []),
        line, corrected_density(line, 1.0), corrected_density(line, 9.0), corrected_density(line, None),
        instrument_correction([], []), corrected_density(instrument_correction([], []), 1.0),
        check_trend(days, checks, CERTIFIED), check_trend([], {}, CERTIFIED), components, few,
        difference_error(components, Design()), what_shrinks_most(components, Design()),
        difference_error(few, Design()), rolls_needed(components, 0.1), rolls_needed(components, 1e-6),
        rolls_needed(few, 0.1),
        batch_life(films, -0.006 * films + rng.normal(0, 0.01, 12), (-0.09, 0.09)),
        batch_life(films, rng.normal(0, 0.01, 12), (-0.09, 0.09), others={"age_days": films}),
        batch_life(films, -0.002 * films, (-0.09, 0.09), others={"replenisher_l": rng.uniform(0, 1, 12)}),
        batch_life([], [], (-0.09, 0.09), others={"age_days": []}),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def measures():
    return measures_in(thin_and_plentiful())


def test_every_measure_has_its_entry_unit_and_reasons(measures):
    for measure in measures:
        definition = MEASURES[measure.name]
        assert measure.unit == definition.unit, measure
        assert measure.reason is None or measure.reason in definition.reasons, measure


def test_every_entry_is_computed_somewhere(measures):
    assert {measure.name for measure in measures} >= set(CONTROL_MEASURES)
    assert any(measure.value is None for measure in measures)


def test_entries_and_reasons_are_sentences():
    for name in CONTROL_MEASURES:
        definition = MEASURES[name]
        assert name in METHOD_MEASURES
        assert all(
            text.endswith(".") for text in (definition.formula, definition.source, definition.explanation)
        )
        assert set(definition.reasons) <= set(REASONS)
    for code, sentence in CONTROL_REASONS.items():
        assert REASONS[code] == sentence
        assert sentence[0].isupper()
        assert sentence.endswith(".")


def test_intervals_hold_their_values(measures):
    for measure in measures:
        if measure.value is not None:
            assert measure.low is None or measure.low <= measure.value + 1e-12, measure
            assert measure.high is None or measure.high >= measure.value - 1e-12, measure
