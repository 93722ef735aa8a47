"""Hostile input to control and agreement: a number, a known reason or a told mistake, no other error."""

import json

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curves.sensitometry.agreeing.check_trend import check_trend
from curves.sensitometry.agreeing.difference_plot import difference_plot
from curves.sensitometry.agreeing.gauge_study import gauge_study
from curves.sensitometry.agreeing.instrument_correction import corrected_density, instrument_correction
from curves.sensitometry.agreeing.precision import repeatability_and_reproducibility
from curves.sensitometry.controlling.batch_life import batch_life
from curves.sensitometry.controlling.charts import individuals_charts
from curves.sensitometry.controlling.control_strips import ControlStrip
from curves.sensitometry.controlling.mean_charts import mean_range_charts
from curves.sensitometry.controlling.memory_charts import cusum_charts, ewma_chart
from curves.sensitometry.controlling.strip_aims import set_aims, stated_aims
from curves.sensitometry.controlling.strip_batches import carry_over
from curves.sensitometry.controlling.strip_reading import classify_strip
from curves.sensitometry.controlling.variance_components import variance_components
from curves.sensitometry.measures import SensitometryError

ODD = [
    None,
    float("nan"),
    float("inf"),
    -float("inf"),
    0.0,
    -0.0,
    1e-300,
    1e300,
    -1e300,
    1e12,
    1e11,
    -1.0,
    0.25,
    1.6,
]
NUMBER = st.one_of(st.sampled_from(ODD), st.floats(-1, 4), st.floats(allow_nan=True, allow_infinity=True))
LABEL = st.sampled_from(["a", "b", "c", ""])
HOSTILE = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
CERTIFIED = {"zero": (0.0, 0.002), "mid": (1.2, 0.005), "high": (2.8, 0.008)}


def lists(count, longest=14):
    """So many lists of one length."""
    return st.integers(0, longest).flatmap(
        lambda n: st.tuples(*(st.lists(NUMBER, min_size=n, max_size=n) for _ in range(count)))
    )


def labels_for(values, labels):
    return [labels[i % len(labels)] for i in range(len(values))]


def told(call):
    """The result as JSON, or None where a mistake was told."""
    try:
        result = call()
    except SensitometryError as error:
        assert error.message.endswith(".")
        return None
    for part in result if isinstance(result, tuple) else (result,):
        json.dumps(part.to_dict(), allow_nan=False)
    return result


@HOSTILE
@given(lists(1), st.lists(LABEL, min_size=1, max_size=5), NUMBER, NUMBER)
def test_charts(values, labels, centre, spread):
    (values,) = values
    phase = labels_for(values, labels)
    told(lambda: individuals_charts(values, phase=phase, rules="nelson"))
    told(lambda: individuals_charts(values, phase=phase, limits_by_phase=False, least_sd=0.005))
    if centre is not None and spread is not None:
        told(lambda: individuals_charts(values, centre=centre, standard_deviation=spread))
        told(lambda: ewma_chart(values, centre=centre, standard_deviation=spread, phase=phase))
        told(lambda: cusum_charts(values, centre=centre, allowance=spread, decision=1.0, phase=phase))
    pairs = np.array([values, values[::-1]], dtype=float).T if values else np.zeros((0, 2))
    told(lambda: mean_range_charts(pairs, phase=phase))


@HOSTILE
@given(lists(4), st.lists(LABEL, min_size=1, max_size=3))
def test_strips(values, labels):
    batches = labels_for(values[0], labels)
    strips = [
        ControlStrip(*row, developer_batch=batch, run=batch)
        for row, batch in zip(zip(*values, strict=True), batches, strict=True)
    ]
    aims = told(lambda: set_aims(strips))
    for strip in strips:
        told(lambda: classify_strip(strip, aims, strips))  # noqa: B023
        told(lambda: classify_strip(strip, stated_aims({"contrast": 1.2}), strips))  # noqa: B023
    others = [ControlStrip(*row, strip_batch="new", run="a") for row in zip(*values, strict=True)]
    offset = told(lambda: carry_over(strips, others))
    if offset is not None and aims is not None and strips:
        told(lambda: offset.applied_to(aims))


@HOSTILE
@given(lists(2), st.lists(LABEL, min_size=1, max_size=6), NUMBER)
def test_instruments(values, labels, density):
    first, second = values
    told(lambda: repeatability_and_reproducibility(labels_for(first, labels), first))
    told(lambda: difference_plot(first, second))
    for known in ({}, {"reading_sd": 0.005, "reference_sd": 0.01}):
        correction = told(lambda: instrument_correction(first, second, **known))  # noqa: B023
        told(lambda: corrected_density(correction, density))  # noqa: B023
    if first:
        table = np.resize(np.array(first, dtype=float), (3, 2, 2))
        told(lambda: gauge_study(table))
        told(lambda: gauge_study(table, method="range"))


@HOSTILE
@given(lists(4))
def test_check_readings(values):
    days, *levels = values
    told(lambda: check_trend(days, dict(zip(CERTIFIED, levels, strict=True)), CERTIFIED))


@HOSTILE
@given(lists(3), st.lists(LABEL, min_size=1, max_size=6))
def test_batches_of_developer(values, labels):
    films, deviations, ages = values
    batch = labels_for(films, labels)
    told(lambda: batch_life(films, deviations, (-0.1, 0.1), batch=batch, others={"age_days": ages}))


@settings(HOSTILE, max_examples=30)
@given(lists(1), st.lists(LABEL, min_size=1, max_size=6), st.lists(LABEL, min_size=1, max_size=6))
def test_components(values, first, second):
    (values,) = values
    levels = {"run": labels_for(values, first), "roll": labels_for(values, second)}
    told(lambda: variance_components(values, levels))
    told(lambda: variance_components(values, levels, stock=labels_for(values, second[::-1])))
