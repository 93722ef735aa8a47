"""Control charts: what they hold, of how many strips, and that they say what verdicts said."""

from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curves.models import ChartNote, ControlStrip, ProcessRun
from curves.queries.control_charts import control_charts
from curves.services.chart_notes import add_chart_note
from labsite.common.errors import InvalidInput, NotAllowed, NotFound
from tests.factories.standards import make_process
from tests.factories.strips import AS_USUAL, make_aims, make_strip_batch, make_strip_runs, next_run, read_as

KINDS = ("individuals", "means", "ewma", "cusum")


@pytest.fixture
def process(admin):
    return make_process(admin)


@pytest.fixture
def batch(admin):
    return make_strip_batch(admin)


def many_strips(owner, process, batch, count):
    """Bare rows, as they would stand after years."""
    rng = np.random.default_rng(11)
    runs = ProcessRun.objects.bulk_create(
        ProcessRun(
            revision=process, operator=owner, ran_on=date(2010, 1, 1) + timedelta(days=number),
            temperature_start_c=20.0, development_time_s=510, developer_batch=f"H-{number // 20}",
        )
        for number in range(count)
    )  # fmt: skip
    ControlStrip.objects.bulk_create(
        ControlStrip(
            run=run, batch=batch, replicate=1, read_by=owner,
            **{place: round(value + rng.normal(0, 0.01), 3) for place, value in AS_USUAL.items()},
        )
        for run in runs
    )  # fmt: skip
    if connection.vendor == "postgresql":  # which plans for the few rows that it knows of
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def test_the_chart_says_of_each_run_what_its_verdict_said(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    for number, off in enumerate([0.0, 0.05, 0.0, -0.08, 0.0]):
        run = next_run(owner, process, ran_on=date(2026, 4, 20) + timedelta(days=number))
        read_as(owner, run, batch, off={"speed_step": off, "high_step": off})
    view = control_charts(owner, revision_id=process.pk, quantity="speed_step")
    assert view.charts[0].values.size == 15
    broken = {signal.index for signal in view.charts[0].signals}
    judged = {place for place, each in enumerate(view.points) if each.state == "out_of_control"}
    assert broken == judged == {11, 13}


def test_without_aims_limits_come_from_moving_ranges_and_others_are_withheld(owner, process, batch):
    make_strip_runs(owner, process, batch, count=12)
    view = control_charts(owner, revision_id=process.pk, quantity="base_fog")
    values = view.charts[0].values
    # NIST/SEMATECH e-Handbook, 6.3.2.2: mean moving range over 1.128, and not below the reading's 0.005.
    sd = max(np.abs(np.diff(values)).mean() / 1.128379, 0.005)
    assert view.charts[0].action_high[0] == pytest.approx(values.mean() + 3 * sd)
    for kind in ("ewma", "cusum"):
        withheld = control_charts(owner, revision_id=process.pk, quantity="base_fog", kind=kind)
        assert withheld.charts == ()
        assert "12 of 12 strips have no aim" in withheld.withheld


def test_another_developer_batch_and_other_aims_begin_a_phase(admin, owner, process, batch):
    make_strip_runs(owner, process, batch, count=3, developer_batch="H-11", ran_on=date(2026, 2, 1))
    make_aims(admin, owner, process, batch)
    view = control_charts(owner, revision_id=process.pk)
    assert [phase.label for phase in view.charts[0].phases] == list(
        dict.fromkeys(each.phase for each in view.points)
    )
    assert {each.phase for each in view.points} == {"H-11", "H-12"}
    stops = [phase.stop for phase in view.charts[0].phases]
    assert stops[-1] == len(view.points)
    assert [phase.start for phase in view.charts[0].phases] == [0, *stops[:-1]]


def test_replicates_make_a_chart_of_means_and_ranges(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    assert "No run has two strips" in control_charts(owner, revision_id=process.pk, kind="means").withheld
    run = next_run(owner, process)
    read_as(owner, run, batch)
    read_as(owner, run, batch, off={"speed_step": 0.02})
    view = control_charts(owner, revision_id=process.pk, kind="means")
    means, ranges = view.charts
    assert means.values[-1] == pytest.approx(0.40)
    assert ranges.values[-1] == pytest.approx(0.02)


def test_memory_charts_find_a_small_shift_that_single_runs_do_not(admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    for number in range(20):
        run = next_run(owner, process, ran_on=date(2026, 4, 20) + timedelta(days=number))
        read_as(owner, run, batch, off={"base_fog": 0.012 if number % 2 else 0.008})
    single = control_charts(owner, revision_id=process.pk, quantity="base_fog", rules="action")
    assert not single.charts[0].signals
    sums = control_charts(owner, revision_id=process.pk, quantity="base_fog", kind="cusum")
    assert sums.charts[0].signals
    assert not sums.charts[1].signals


@pytest.mark.parametrize("kind", KINDS)
def test_thousands_of_strips_take_the_same_few_queries(owner, process, batch, kind):
    many_strips(owner, process, batch, 40)
    with CaptureQueriesContext(connection) as few:
        control_charts(owner, revision_id=process.pk, kind=kind)
    many_strips(owner, process, batch, 5000)
    with CaptureQueriesContext(connection) as many:
        view = control_charts(owner, revision_id=process.pk, kind=kind)
    assert len(view.points) == 5040
    assert len(many) == len(few) <= 6


def test_the_page_shows_chart_table_rules_and_file(client_for, admin, owner, process, batch):
    make_aims(admin, owner, process, batch)
    run = next_run(owner, process)
    read_as(owner, run, batch, off={"speed_step": 0.2, "high_step": 0.2})
    client = client_for(owner)
    address = f"{reverse('control_charts')}?revision={process.pk}&quantity=speed_step&rules=nelson"
    page = client.get(address)
    assert "Nelson’s eight rules" in page.text or "Nelson&#x27;s eight rules" in page.text
    assert 'id="chart-individuals"' in page.text
    assert 'id="chart-moving_range"' in page.text
    assert "One point lies beyond three standard deviations." in page.text
    lines = client.get(address + "&export=csv").text.splitlines()
    assert lines[0].startswith("place,run,day,strips,developer batch,replicates,phase,speed_step [D]")
    assert len(lines) == 12
    assert "One point lies beyond" in lines[-1]
    for wrong in ("quantity=x", "kind=x", "rules=x", "revision=x", "revision=999"):
        assert client.get(f"{reverse('control_charts')}?{wrong}").status_code == 404


def test_a_note_is_shown_at_its_day(client_for, owner, process, batch):
    make_strip_runs(owner, process, batch, count=3)
    client = client_for(owner)
    address = f"{reverse('control_chart_note')}?revision={process.pk}"
    typed = {"noted_on": "2026-03-03", "kind": "thermometer", "text": "0.1 °C low"}
    answer = client.post(address, typed, follow=True)
    assert "0.1 °C low" in answer.text
    assert ChartNote.objects.get().author == owner
    assert client.post(address, typed | {"noted_on": "2126-03-03"}).status_code == 400
    assert client.post(address, typed | {"text": " "}).status_code == 400


def test_who_may_note_and_look(owner, visitor, process):
    given = {"process_revision_id": process.pk, "noted_on": date(2026, 3, 3), "text": "x"}
    with pytest.raises(NotAllowed):
        add_chart_note(actor=visitor, **given)
    with pytest.raises(NotFound):
        add_chart_note(actor=owner, **given | {"process_revision_id": None})
    with pytest.raises(InvalidInput):
        add_chart_note(actor=owner, **given | {"kind": "gossip"})
    with pytest.raises(NotAllowed):
        control_charts(visitor)
