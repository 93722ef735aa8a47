"""Void runs and findings on their pages and for scripts; what is due on the bench."""

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from curves.models import InstrumentFinding, Reading
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.instruments import make_instrument
from tests.factories.rolls import make_accepted_roll, make_batch, make_run, make_standards
from tests.factories.scripts import Script
from tests.factories.standards import make_process
from tests.factories.strips import make_strip_batch, read_as


def build_lab(owner, admin):
    """A stock with one accepted roll."""
    standards = make_standards(admin)
    run = make_run(owner, standards[0])
    batch = make_batch(owner)
    roll = make_accepted_roll(owner, admin, batch, standards, run=run)
    return {"run": run, "roll": roll, "stock": batch.stock}


def test_an_admin_sees_what_follows_before_and_after(client_for, admin, lab):
    client = client_for(admin)
    roll, run = lab["roll"], lab["run"]
    page = client.get(reverse("run_void", args=[run.pk]))
    assert roll.code in page.text
    assert "nothing else" in page.text
    assert client.post(reverse("run_void", args=[run.pk]), {"reason": ""}).status_code == 400
    answer = client.post(reverse("run_void", args=[run.pk]), {"reason": "wrong dilution"}, follow=True)
    assert "is being pooled anew" in answer.text
    run_waiting_jobs()
    page = client.get(reverse("run_effects", args=[run.pk]))
    assert "past version, marked" in page.text
    assert "held back: its run is void: wrong dilution" in page.text
    listed = client.get(reverse("run_effects", args=[run.pk]) + "?export=csv").text
    assert f"roll,{roll.code}" in listed
    assert "Nothing rests on it any more" in client.get(reverse("run", args=[run.pk])).text
    sheet = client.get(reverse("stock", args=[lab["stock"].pk]))
    assert "its run is void: wrong dilution" in sheet.text
    past = roll.current_analysis.pooled_in.get()
    marked = client.get(reverse("stock", args=[lab["stock"].pk]) + f"?result={past.pk}")
    assert "Rests on what counts no more" in marked.text


def test_a_finding_is_previewed_made_overridden_and_lifted(client_for, admin, lab):
    client, roll = client_for(admin), lab["roll"]
    instrument = make_instrument(admin)
    Reading.objects.filter(strip__roll=roll).update(instrument=instrument)
    today = timezone.localdate()
    days = {"first_on": str(today - timedelta(days=1)), "last_on": str(today)}
    address = reverse("finding_new", args=[instrument.pk])
    page = client.get(address, days)
    assert "45 readings that count were made with it" in page.text
    assert roll.code in page.text
    assert not InstrumentFinding.objects.exists()
    client.post(address, days | {"reason": "zero was off"})
    finding = InstrumentFinding.objects.get()
    run_waiting_jobs()
    page = client.get(reverse("roll", args=[roll.pk]))
    assert "were found wrong: zero was off" in page.text
    client.post(reverse("finding_override", args=[finding.pk, roll.pk]), {"reason": "read twice"})
    run_waiting_jobs()
    sheet = client.get(reverse("stock", args=[lab["stock"].pk]))
    assert f"{roll.code}: read twice" in sheet.text
    csv = client.get(reverse("stock_measures_csv", args=[lab["stock"].pk])).text
    assert "read twice" in csv.splitlines()[1]
    assert "read twice" in client.get(reverse("roll_measures_csv", args=[roll.pk])).text
    assert client.post(reverse("finding_lift", args=[finding.pk]), {"reason": ""}).status_code == 400
    client.post(reverse("finding_lift", args=[finding.pk]), {"reason": "it was right"})
    assert "Lifted by" in client.get(reverse("finding", args=[finding.pk])).text
    assert "were found wrong" not in client.get(reverse("roll", args=[roll.pk])).text


def test_scripts_void_and_find_and_see_the_overrides(admin, owner, lab):
    script, roll, run = Script(admin), lab["roll"], lab["run"]
    instrument = make_instrument(admin)
    Reading.objects.filter(strip__roll=roll).update(instrument=instrument)
    today = str(timezone.localdate())
    found = script.does(
        "POST", f"instruments/{instrument.pk}/findings/",
        {"first_on": today, "last_on": today, "reason": "zero was off"}, status=201,
    )  # fmt: skip
    assert [each["id"] for each in found["resting"]["rolls"]] == [roll.pk]
    held = script.does("POST", f"rolls/{roll.pk}/override-hold/", {"reason": "read twice"})
    assert held["is_held_back"] is False
    run_waiting_jobs()
    assert script.get("stock-results/")["results"][0]["overrides"] == [f"{roll.code}: read twice"]
    result = script.get(f"stock-results/{script.get('stock-results/')['results'][0]['id']}/")
    assert result["overrides"] == [f"{roll.code}: read twice"]
    script.does("POST", f"instrument-findings/{found['finding']['id']}/lift/", {"reason": "it was right"})
    effects = script.does("POST", f"process-runs/{run.pk}/void/", {"reason": "wrong dilution"})
    assert effects["is_void"] is True
    assert effects["resting"]["repooling"]
    script.refused("POST", f"process-runs/{run.pk}/void/", {"reason": "again"}, status=409)
    Script(owner).refused("POST", f"process-runs/{run.pk}/void/", {"reason": "mine"}, status=403)
    assert Script(owner).get(f"process-runs/{run.pk}/effects/")["void_reason"] == "wrong dilution"


def test_scripts_read_strips_and_charts(admin, owner, lab):
    batch = make_strip_batch(admin)
    script, run = Script(owner), lab["run"]
    answer = script.does(
        "POST", f"process-runs/{run.pk}/control-strips/", {"batch_id": batch.pk, "base_fog": 0.28}, status=201
    )
    assert answer["verdicts"][0]["reason"] == "NO_AIMS"
    script.refused("POST", f"process-runs/{run.pk}/control-strips/", {"batch_id": batch.pk}, status=400)
    chart = script.get("control-charts/", f"revision={run.revision_id}&quantity=base_fog")
    assert chart["charts"][0]["values"] == [0.28]
    strip = answer["strips"][0]["id"]
    assert script.does("POST", f"control-strips/{strip}/strike/", {"reason": "misread"})["verdicts"] == []


def test_what_is_due_is_told_on_the_bench_and_in_control(client_for, admin, owner):
    process = make_process(admin, developer_keeps_days=60, developer_films=16)
    batch = make_strip_batch(admin)
    today = timezone.localdate()
    client = client_for(owner)

    def told():
        return client.get(reverse("bench")).text, client.get(reverse("control")).text

    first = make_run(owner, process, ran_on=today - timedelta(days=70), developer_batch="H-12")
    read_as(owner, first, batch)
    for text in told():
        assert "Developer “H-12” is in use for 70 days; it keeps 60." in text
        assert "overdue" not in text
    for number in range(4):
        day = today - timedelta(days=4 - number)
        make_run(owner, process, ran_on=day, developer_batch="H-13", films_through=16)
    for text in told():
        assert "the last 4 runs went without one" in text
        assert "had 16 films through it before its last run; 16 are the most." in text
        assert "H-12” is in use" not in text
