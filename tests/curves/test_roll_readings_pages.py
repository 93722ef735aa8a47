"""The readings grid and the upload of files: nothing typed is lost, nothing is stored unseen."""

import pytest
from django.urls import reverse

from curves.models import Reading, Roll, StagedImport
from curves.pages.rolls.step_rows import step_rows
from curves.sensitometry import Analysis as EngineAnalysis
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.curves.roll_forms import grid_post, text, told, upload
from tests.factories.instruments import make_instrument
from tests.factories.rolls import (
    make_batch,
    make_read_roll,
    make_roll,
    make_standards,
)


@pytest.fixture
def standards(admin):
    return make_standards(admin)


@pytest.fixture
def batch(owner):
    return make_batch(owner)


@pytest.fixture
def planned(owner, batch, standards):
    return make_roll(owner, batch, standards)


# --- The grid


def test_the_grid_shows_steps_tablet_densities_and_exposures(client_for, owner, planned):
    page = client_for(owner).get(reverse("roll_readings", args=[planned.pk, 1]))
    rows = page.context["rows"]
    assert [row["row"].name for row in rows] == ["unexposed", *(str(step) for step in range(1, 22))]
    # 0.9 where the tablet is clear, less its density of 0.05 at the first step.
    assert (rows[1]["row"].log_exposure, rows[1]["row"].tablet_density) == (0.85, 0.05)
    assert 'data-direction="falling"' in page.content.decode()


def test_every_bad_cell_is_marked_and_nothing_typed_is_lost(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    typed = {"d-1-1": "1,9o", "d-2-1": "0,52", "d-3-1": "7", "d-unexposed-1": "nan", "reason": ""}
    page = client_for(owner).post(url, typed)
    assert page.status_code == 400
    cells = {cell["name"]: cell for row in page.context["rows"] for cell in row["cells"]}
    assert {name for name, cell in cells.items() if cell["error"]} == {"d-1-1", "d-3-1", "d-unexposed-1"}
    assert {name: cells[name]["value"] for name in typed if name in cells} == {
        name: value for name, value in typed.items() if name in cells
    }
    assert page.content.decode().count('aria-invalid="true"') == 3
    assert not Reading.objects.exists()


def test_decimal_commas_and_points_are_read_and_thousands_are_not_guessed(client_for, owner, planned):
    client, url = client_for(owner), reverse("roll_readings", args=[planned.pk, 1])
    assert client.post(url, {"d-1-1": "1,91", "d-2-1": "1,234"}).status_code == 302
    assert Reading.objects.get(step=2).density == 1.234
    page = client.post(url, {"d-3-1": "1.10", "d-4-1": "1,234"})
    assert page.status_code == 400
    assert "thousands" in text(page)


def test_a_cell_that_the_tablet_does_not_have(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    page = client_for(owner).post(url, {"d-40-1": "1.2"})
    assert page.status_code == 400
    assert "The tablet has no step 40; it has 1 to 21." in text(page)


def test_a_falling_step_is_saved_and_told(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    page = client_for(owner).post(url, grid_post(planned, d_10_1="0.30", d_10_2="0.31"), follow=True)
    warnings = [message for message in told(page) if "step 10 has more exposure than step 11" in message]
    assert len(warnings) == 1
    assert Reading.objects.filter(step=10).count() == 2
    run_waiting_jobs()
    roll = Roll.objects.get()
    rows = step_rows(EngineAnalysis.from_dict(roll.current_analysis.as_dict()))
    assert any(row.remarks for row in rows if row.step == 10)


def test_a_correction_keeps_the_old_value_with_its_reason(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    client, url = client_for(owner), reverse("roll_readings", args=[roll.pk, 1])
    typed = grid_post(roll, d_5_1="0.77")
    old = Reading.objects.get(step=5, replicate=1)
    page = client.post(url, typed | {"reason": "digits swapped"}, follow=True)
    assert f"<del>{old.density:.2f}</del> <ins>0.77</ins>" in text(page)
    assert "Digits swapped" in text(page)
    assert Reading.objects.filter(is_current=False).count() == 1, "no other cell was touched"


def test_saving_what_stands_already_changes_nothing(client_for, owner, batch, standards):
    roll = make_read_roll(owner, batch, standards)
    url = reverse("roll_readings", args=[roll.pk, 1])
    page = client_for(owner).post(url, grid_post(roll), follow=True)
    assert told(page) == ["No reading was changed."]
    assert Job.objects.filter(kind="fit_roll").count() == 1


def test_what_was_typed_over_readings_that_changed_meanwhile_is_not_stored_blindly(
    client_for, owner, planned
):
    client, url = client_for(owner), reverse("roll_readings", args=[planned.pk, 1])
    version = client.get(url).context["grid"].version
    client.post(url, {"d-1-1": "1.90", "version": version})
    page = client.post(url, {"d-1-1": "1.80", "version": version})
    assert page.status_code == 400
    assert "changed in another window" in text(page)
    assert 'value="1.80"' in page.content.decode()
    again = page.context["form"]["version"].value()
    assert client.post(url, {"d-1-1": "1.80", "version": again}).status_code == 302
    assert Reading.objects.get(is_current=True).density == 1.80


def test_saved_readings_keep_their_instrument_unless_asked(client_for, owner, admin, planned):
    first = make_instrument(admin)
    second = make_instrument(admin, name="Second densitometer")
    client, url = client_for(owner), reverse("roll_readings", args=[planned.pk, 1])
    client.post(url, {"d-1-1": "1.90", "instrument_id": first.pk})
    client.post(url, {"d-1-1": "1.90", "d-2-1": "1.80", "instrument_id": second.pk})
    by = {r.step: r.instrument for r in Reading.objects.filter(is_current=True)}
    assert by == {1: first, 2: second}
    client.post(url, {"d-1-1": "1.90", "d-2-1": "1.80", "instrument_id": second.pk, "is_for_all": "on"})
    assert {r.instrument for r in Reading.objects.filter(is_current=True)} == {second}


def test_without_script_a_column_can_be_added_and_nothing_typed_is_lost(client_for, owner, planned):
    url = reverse("roll_readings", args=[planned.pk, 1])
    page = client_for(owner).post(url, {"d-1-1": "1.9", "d-1-2": "x", "add_replicate": "1"})
    assert page.status_code == 200
    assert list(page.context["replicates"]) == [1, 2, 3]
    values = [cell["value"] for cell in page.context["rows"][1]["cells"]]
    assert values == ["1.9", "x", ""]
    assert not Reading.objects.exists()


def test_the_instrument_last_used_is_proposed(client_for, owner, admin, batch, standards, planned):
    instrument = make_instrument(admin)
    client = client_for(owner)
    client.post(
        reverse("roll_readings", args=[planned.pk, 1]), {"d-1-1": "1.9", "instrument_id": instrument.pk}
    )
    other = make_roll(owner, batch, standards)
    page = client.get(reverse("roll_readings", args=[other.pk, 1]))
    assert page.context["form"]["instrument_id"].value() == instrument.pk


def test_more_strips(client_for, owner, planned):
    client = client_for(owner)
    for _ in range(9):
        page = client.post(reverse("roll_strips", args=[planned.pk]), follow=True)
    assert planned.strips.count() == 9
    assert any("at most nine strips" in message for message in told(page))
    assert client.get(reverse("roll_readings", args=[planned.pk, 9])).status_code == 200
    assert client.get(reverse("roll_readings", args=[planned.pk, 10])).status_code == 404


# --- Files


def test_a_faulty_file_lists_row_column_value_and_advice(client_for, owner, planned):
    page = upload(client_for(owner), planned, "step,density\n1,1.9\n2,1.8x\n99,1.2\n")
    assert page.status_code == 400
    faults = page.context["faults"]
    assert [(f["row"], f["column"], f["value"]) for f in faults] == [
        (3, "density", "1.8x"),
        (4, "step", "99"),
    ]
    assert "<code>1.8x</code>" in text(page)
    assert not StagedImport.objects.exists()


def test_no_file_at_all(client_for, owner, planned):
    page = client_for(owner).post(reverse("roll_import", args=[planned.pk, 1]), {})
    assert page.status_code == 400
    assert "file" in page.context["form"].errors


def test_a_file_is_previewed_then_stored(client_for, owner, planned):
    client = client_for(owner)
    lines = "".join(f"{step},{2 - 0.08 * step:.2f}\n" for step in range(1, 22))
    preview = upload(client, planned, "step,density\n" + lines)
    staged = StagedImport.objects.get()
    assert preview.redirect_chain == [(reverse("import", args=[staged.pk]), 302)]
    assert "<strong>21</strong> new readings" in text(preview)
    assert not Reading.objects.exists()
    version = {"version": preview.context["shown"].grid.version}
    stored = client.post(reverse("import_store", args=[staged.pk]), version, follow=True)
    assert Reading.objects.count() == 21
    assert stored.redirect_chain == [(reverse("roll", args=[planned.pk]), 302)]
    again = client.post(reverse("import_store", args=[staged.pk]), version, follow=True)
    assert any("stored already" in message for message in told(again))
    assert Reading.objects.count() == 21


def test_a_stale_preview_is_shown_again(client_for, owner, planned):
    client = client_for(owner)
    preview = upload(client, planned, "step,density\n1,1.9\n2,1.8\n")
    staged = preview.context["shown"].staged
    client.post(reverse("roll_readings", args=[planned.pk, 1]), {"d-1-1": "1.5"})
    version = {"version": preview.context["shown"].grid.version}
    page = client.post(reverse("import_store", args=[staged.pk]), version, follow=True)
    assert any("changed meanwhile" in message for message in told(page))
    assert '<del><span class="visually-hidden">instead of </span>1.50</del> <ins>1.90</ins>' in text(page)


def test_a_preview_can_be_discarded(client_for, owner, planned):
    client = client_for(owner)
    staged = upload(client, planned, "step,density\n1,1.9\n2,1.8\n").context["shown"].staged
    client.post(reverse("import_discard", args=[staged.pk]))
    assert client.get(reverse("import", args=[staged.pk])).status_code == 404
    assert not Reading.objects.exists()


def test_a_name_with_markup_is_shown_as_text(client_for, owner, planned):
    page = upload(client_for(owner), planned, "step,density\n1,1.9\n2,1.8\n", name="<b>x.csv")
    assert "&lt;b&gt;x.csv" in text(page) and "<b>x" not in text(page)
