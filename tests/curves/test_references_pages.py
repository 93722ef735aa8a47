"""The house reference and the overview on their pages."""

from datetime import date

import pytest
from django.urls import reverse

from curves.models import HouseReference, StockResult
from curves.services.references import appoint_reference
from curves.services.runs import record_run
from labsite.accounts.models import Lab
from tests.factories.standards import (
    PROCESS,
    draft_exposure,
    draft_process,
    draft_tablet,
    make_exposure,
    make_process,
)
from tests.factories.standing import result_row, stock_row


@pytest.fixture
def pair(admin):
    return make_process(admin), make_exposure(admin)


def address(name, pair):
    return reverse(name, args=[pair[0].pk, pair[1].pk])


def appoint(admin, stock, pair):
    return appoint_reference(
        actor=admin,
        stock_id=stock.pk,
        process_revision_id=pair[0].pk,
        exposure_revision_id=pair[1].pk,
    )


def test_an_admin_appoints_among_stocks_with_a_result(client_for, admin, pair):
    first, second = stock_row(admin, "Aldermoor 100"), stock_row(admin, "Brackenhill 125")
    stock_row(admin, "Unread 400")
    for stock in (first, second):
        result_row(stock, *pair)
    client = client_for(admin)
    page = client.get(address("reference", pair))
    assert "No reference is appointed" in page.text
    assert "Aldermoor 100 (1 accepted roll)" in page.text
    assert "Unread 400" not in page.text
    answer = client.post(
        address("reference_appoint", pair), {"stock_id": first.pk, "reason": "known best"}, follow=True
    )
    assert "Aldermoor 100 is the house reference now." in answer.text
    assert "known best" in answer.text
    client.post(address("reference_appoint", pair), {"stock_id": second.pk, "reason": ""})
    assert HouseReference.objects.get(ended_at__isnull=True).stock == second
    text = client.get(address("reference", pair)).text
    assert text.index("Brackenhill 125") < text.index("Aldermoor 100")
    answer = client.post(address("reference_appoint", pair), {"stock_id": second.pk, "reason": "again"})
    assert answer.status_code == 400


def test_a_reference_whose_result_went_away_is_told(client_for, admin, owner, pair):
    stock = stock_row(admin)
    result_row(stock, *pair)
    appoint(admin, stock, pair)
    StockResult.objects.all().delete()
    assert "has no accepted roll here any more" in client_for(owner).get(address("reference", pair)).text
    assert "has no accepted roll here any more" in client_for(owner).get(reverse("control")).text


def test_members_and_visitors_of_an_open_lab_read_and_do_not_appoint(client_for, admin, owner, visitor, pair):
    stock = stock_row(admin)
    result_row(stock, *pair)
    appoint(admin, stock, pair)
    assert client_for(visitor).get(reverse("reference_list")).status_code == 302
    Lab.objects.update_or_create(pk=1, defaults={"is_open_to_visitors": True})
    for person in (owner, visitor):
        client = client_for(person)
        assert "Aldermoor 100" in client.get(reverse("reference_list")).text
        text = client.get(address("reference", pair)).text
        assert "Appoint another" not in text
        assert (str(admin) in text) is (person is owner)
    assert client_for(owner).post(address("reference_appoint", pair), {}).status_code == 403
    assert client_for(owner).get(reverse("reference", args=[999, 999])).status_code == 404
    lines = client_for(visitor).get(reverse("reference_list"), {"export": "csv"}).text.splitlines()
    assert lines[1].startswith('"House process, revision 1"')


def test_the_overview_says_what_is_in_force_how_runs_went_and_what_is_due(client_for, admin, owner, pair):
    result_row(stock_row(admin), *pair)
    draft_process(admin, "Push process")
    draft_tablet(admin, "Tablet B")
    draft_exposure(admin, "Window", tablet=pair[1].tablet)
    for day, temperature_c in ((4, 25.0), (6, 20.0), (5, 20.0)):
        record_run(
            actor=owner,
            revision_id=pair[0].pk,
            ran_on=date(2026, 5, day),
            temperature_start_c=temperature_c,
            development_time_s=PROCESS["development_time_s"],
        )
    text = client_for(owner).get(reverse("control")).text
    for words in (
        "House process, revision 1",
        "Daylight contact, revision 1",
        "Push process, revision 1</a> is a draft",
        "Tablet B, calibration 1</a> is a draft",
        "Window, revision 1</a> is a draft",
        "Tablet B</a> has no calibration in force",
        "No reference is appointed",
        "out of control",
    ):
        assert words in text
    days = [text.index(f"2026-05-{day:02d}") for day in (6, 5, 4)]
    assert days == sorted(days), "the newest run comes first"


def test_the_overview_shows_visitors_no_drafts_and_no_runs(client_for, admin, visitor, pair):
    Lab.objects.update_or_create(pk=1, defaults={"is_open_to_visitors": True})
    draft_process(admin, "Push process")
    result_row(stock_row(admin), *pair)
    text = client_for(visitor).get(reverse("control")).text
    assert "House process, revision 1" in text
    for words in ("Push process", "Latest runs", "Instruments", "Due"):
        assert words not in text


def test_the_overview_asks_the_same_queries_however_much_there_is(
    client_for, admin, owner, pair, django_assert_max_num_queries
):
    for number in range(4):
        make_process(admin, f"Process {number}")
        draft_exposure(admin, f"Exposure {number}")
        other = (make_process(admin, f"Pair {number}"), pair[1])
        stock = stock_row(admin, f"Stock {number}")
        result_row(stock, *other)
        appoint(admin, stock, other)
    # Session, user, lab; results, references, both kinds of revision; in force and drafts of three kinds
    # with the steps of calibrations; runs and the last strips; tablets without a calibration; instruments'
    # checks.
    client = client_for(owner)
    with django_assert_max_num_queries(19):
        client.get(reverse("control"))
