"""Stocks and batches: who may enter them, what is refused, what the history keeps."""

from datetime import date

import pytest

from curves.models import Batch, FilmStock
from curves.services.films import FASTEST_BOX_SPEED, add_batch, add_stock, edit_stock
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed, NotFound
from labsite.jobs.models import Job
from labsite.jobs.runner import run_waiting_jobs
from tests.factories.rolls import make_accepted_roll, make_batch, make_read_roll, make_roll, make_standards

BOX = {"name": "Alder 100", "maker": "Fenwick Works", "box_speed": 100}


def described(stock, **changes):
    names = ("name", "maker", "box_speed", "formats", "sensitisation", "base_material", "notes")
    return {name: getattr(stock, name) for name in names} | changes


def test_a_member_enters_a_stock_and_the_history_says_so(owner):
    stock = add_stock(
        actor=owner,
        name="  Alder 100 ",
        maker="Fenwick Works",
        box_speed=100,
        formats=["35 mm", "120", " 35 mm ", ""],
        base_material="grey triacetate",
    )
    stock.refresh_from_db()
    assert stock.name == "Alder 100"
    assert stock.formats == ["35 mm", "120"], "trimmed, none twice, none empty"
    record = AuditRecord.objects.get(action="add stock")
    assert record.actor == owner
    assert record.after["box_speed"] == 100


@pytest.mark.parametrize("who", ["visitor", "stranger"])
def test_nobody_else_enters_stocks_or_batches(request, who, owner):
    person = request.getfixturevalue(who)
    stock = add_stock(actor=owner, **BOX)
    with pytest.raises(NotAllowed):
        add_stock(actor=person, **BOX | {"name": "Birch 200"})
    with pytest.raises(NotAllowed):
        edit_stock(actor=person, stock_id=stock.pk, **BOX)
    with pytest.raises(NotAllowed):
        add_batch(actor=person, stock_id=stock.pk, emulsion_number="0417")
    assert FilmStock.objects.count() == 1
    assert not Batch.objects.exists()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("name", "  ", "Give the stock's name."),
        ("name", "x" * 81, "at most 80 characters"),
        ("maker", "", "Give the maker"),
        ("box_speed", 0, "from 1 to"),
        ("box_speed", FASTEST_BOX_SPEED + 1, "from 1 to"),
        ("formats", ["x" * 41], "at most 40 letters"),
        ("sensitisation", "infrared", "Choose a sensitisation"),
        ("base_material", "x" * 81, "at most 80 characters"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(owner, field, value, words):
    with pytest.raises(InvalidInput) as refusal:
        add_stock(actor=owner, **BOX | {field: value})
    assert [problem["field"] for problem in refusal.value.problems] == [field]
    assert words in refusal.value.problems[0]["message"]
    assert not FilmStock.objects.exists()


def test_all_faults_are_told_at_once(owner):
    with pytest.raises(InvalidInput) as refusal:
        add_stock(actor=owner, name="", maker="", box_speed=0, base_material="x" * 81)
    assert {problem["field"] for problem in refusal.value.problems} == {
        "name",
        "maker",
        "box_speed",
        "base_material",
    }


def test_name_and_maker_together_are_unique_whatever_the_capitals(owner, labmate):
    stock = add_stock(actor=owner, **BOX)
    with pytest.raises(InvalidInput, match="already; use that entry") as refusal:
        add_stock(actor=labmate, **BOX | {"name": "ALDER 100"})
    assert refusal.value.field == "name"
    other = add_stock(actor=labmate, **BOX | {"maker": "Another Works"})
    with pytest.raises(InvalidInput, match="already"):
        edit_stock(actor=owner, stock_id=other.pk, **BOX)
    edit_stock(actor=owner, stock_id=stock.pk, **BOX | {"notes": "itself is no other"})


def test_an_edit_keeps_what_changed_and_nothing_else(owner, labmate):
    stock = add_stock(actor=owner, **BOX, formats=["120"])
    edit_stock(actor=labmate, stock_id=stock.pk, **described(stock))
    assert not AuditRecord.objects.filter(action="edit stock").exists(), "nothing changed"
    edit_stock(actor=labmate, stock_id=stock.pk, is_in_production=False, **described(stock, box_speed=125))
    record = AuditRecord.objects.get(action="edit stock")
    assert record.before == {"box_speed": 100, "is_in_production": True}
    assert record.after == {"box_speed": 125, "is_in_production": False}
    stock.refresh_from_db()
    assert (stock.box_speed, stock.formats) == (125, ["120"])


def test_there_must_be_a_stock_to_edit_or_to_add_a_batch_to(owner):
    with pytest.raises(NotFound):
        edit_stock(actor=owner, stock_id=999, **BOX)
    with pytest.raises(NotFound):
        add_batch(actor=owner, stock_id=999, emulsion_number="0417")


def test_a_corrected_box_speed_fits_undecided_rolls_again_and_leaves_accepted_results(owner, admin):
    standards, batch = make_standards(admin), make_batch(owner)
    accepted = make_accepted_roll(owner, admin, batch, standards, seed=1)
    draft = make_read_roll(owner, batch, standards, seed=2)
    make_roll(owner, batch, standards)
    edit_stock(actor=owner, stock_id=batch.stock_id, **described(batch.stock, notes="no new input"))
    assert not Job.objects.filter(state=Job.State.QUEUED).exists()
    edit_stock(actor=owner, stock_id=batch.stock_id, **described(batch.stock, box_speed=200))
    assert [job.subject for job in Job.objects.filter(state=Job.State.QUEUED)] == [{"roll_id": draft.pk}]
    run_waiting_jobs()
    for roll, box_speed in ((draft, 200), (accepted, 100)):
        roll.refresh_from_db()
        assert roll.current_analysis.detail["box_speed"] == box_speed


def test_a_batch_belongs_to_one_stock_and_its_number_stands_once_there(owner, labmate):
    stock = add_stock(actor=owner, **BOX)
    other = add_stock(actor=owner, **BOX | {"name": "Birch 200"})
    batch = add_batch(
        actor=labmate,
        stock_id=stock.pk,
        emulsion_number=" a417 ",
        expires_on=date(2027, 6, 30),
        storage="refrigerator, 5 °C",
    )
    batch.refresh_from_db()
    assert (batch.emulsion_number, batch.created_by) == ("a417", labmate)
    assert AuditRecord.objects.get(action="add batch").after["expires_on"] == "2027-06-30"
    with pytest.raises(InvalidInput, match="has a batch A417 already"):
        add_batch(actor=owner, stock_id=stock.pk, emulsion_number="A417")
    add_batch(actor=owner, stock_id=other.pk, emulsion_number="a417")
    for number, words in (("  ", "Give the emulsion number"), ("x" * 61, "at most 60 characters")):
        with pytest.raises(InvalidInput, match=words) as refusal:
            add_batch(actor=owner, stock_id=stock.pk, emulsion_number=number)
        assert refusal.value.field == "emulsion_number"
